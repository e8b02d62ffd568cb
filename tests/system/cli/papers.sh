# Papers at the command line.

ledger=$work/papers.ledger
run till --ledger "$ledger" --lane 3 --sale S-9 --staff 07 --jurisdiction DE --currency EUR <<'L'
50
2
2
E 5
quit
L
ends 0 "a note is kept"
run held --ledger "$ledger"
case_id=$(sed -n 's/.*"case_id":"\([^"]*\)".*/\1/p' "$work/out")
for format in 42 48; do
    for language in en de fr it es hi; do
        run paper receipt --ledger "$ledger" --case "$case_id" --language $language --format $format
        ends 0 "receipt in $language, $format places"
        says "$case_id" "names the record"
    done
done
run paper label --ledger "$ledger" --case "$case_id" --shop 'Corner shop'
ends 0 "label"
says '^Envelope: E 5$' "names the envelope"
says '^Corner shop$' "and the shop"
run paper hand-over --ledger "$ledger" --offset +05:30
ends 0 "hand-over list"
says '+05:30' "in local time"
run paper hand-over --ledger "$ledger" --month 2001-02
ends 0 "hand-over list of a month without notes"
says '^From: 2001-02-01 00:00 +00:00$' "which begins"
says '^To: 2001-02-28 23:59 +00:00$' "and ends"
run paper period --ledger "$ledger" --from 2001-02-01 --to 2001-02-03 --offset -03:00
says '^From: 2001-02-01 00:00 -03:00$' "a day begins"
says '^To: 2001-02-03 23:59 -03:00$' "and ends in local time"
run paper period --ledger "$ledger" --jurisdiction IN --format html
ends 0 "list of a period"
says '^</html>$' "as a page"
run paper receipt --ledger "$ledger" --case none
ends 2 "no such case"
run custody hand-over "$case_id" --ledger "$ledger" --staff 01 --holder bank --receipt R-1
run paper label --ledger "$ledger" --case "$case_id"
ends 1 "no label for a note that is away"
misuse "an unknown paper" paper bill --ledger "$ledger"
misuse "an unknown format" paper period --ledger "$ledger" --format 80
misuse "an offset that is none" paper period --ledger "$ledger" --offset 5
misuse "a month that is none" paper period --ledger "$ledger" --month 2001-13
misuse "a month and a day" paper period --ledger "$ledger" --month 2001-12 --from 2001-12-01
misuse "a receipt without a case" paper receipt --ledger "$ledger"
