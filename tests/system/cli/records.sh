# Report, verify and entry, on the ledger that the till's script has made.

today=$(date -u +%Y-%m-%d)
run verify --ledger "$ledger"
ends 0 "an intact ledger"
says '^entries [1-9]' "verify counts the entries"
says '^head    [0-9a-f]\{64\}$' "verify shows the head"
run verify --ledger "$ledger" --json
ends 0 "verify as JSON"
says '^{"intact":true,"entries":[0-9]*,"first_bad":0,"head":"[0-9a-f]\{64\}","text":"' "members of verify's JSON"

run report --ledger "$ledger"
ends 0 "report"
[ -s "$work/out" ]
report $? "the report is not empty"
cp "$work/out" "$work/whole"
run report --ledger "$ledger" --json
ends 0 "report as JSON"
says '"counterfoil.report/1"' "the report's schema"
run report --ledger "$ledger" --format json
ends 0 "report by --format json"
says '"counterfoil.report/1"' "the same"
run report --ledger "$ledger" --format csv
ends 0 "report as a table"
says 'span,from,lane,currency,value_minor,series,outcome,reason,channel,insertions,first_insertions,of,rate,lower,upper' "its heading"
run report --ledger "$ledger" --store "no such store"
ends 1 "report of another store"
run report --ledger "$ledger" --format pdf
ends 2 "a format that does not exist"
run report --ledger "$ledger" --format csv --json
ends 2 "two formats"
run report --ledger "$ledger" --from "$today" --to 9999-12-31 --json
ends 0 "report of a period"
run report --ledger "$ledger" --to 2020-02-29 --json
ends 0 "report of an empty period"
run report --ledger "$ledger" --lane nosuch
ends 0 "report of a lane without entries"

run entry --ledger "$ledger" 1
ends 0 "first entry"
says '"counterfoil.entry/1"' "the entry's schema"
run entry --ledger "$ledger" 0
ends 0 "newest entry"
run entry --ledger "$ledger" 999999
ends 1 "an entry that is not there"
[ "$(wc -l <"$work/err")" -eq 1 ]
report $? "is told in one line"

echo "this is no ledger, only some text that is longer than a header of a hundred bytes would be, to be sure of it" \
    >"$work/text"
run verify --ledger "$work/text"
[ "$code" -ne 0 ] && [ "$(wc -l <"$work/err")" -eq 1 ]
report $? "a file that is no ledger is told in one line"

run report --ledger "$work/hand.ledger" --format html
ends 0 "the report as a page"
says '^<!doctype html>$' "is a page"
says '<p class="verdict">' "that begins with a verdict"
