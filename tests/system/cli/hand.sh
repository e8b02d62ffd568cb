# A lane without a machine: its name, its record, its figures, and values as people type them.

ledger=$work/hand.ledger

printf '50,00\nn\n50.00\nn\n50,0\nn\n50\nn\nquit\n' >"$work/lines"
run till --ledger "$ledger" --lane counter <"$work/lines"
ends 0 "a value with a comma, a point, one decimal, none"
[ "$(grep -c '^EUR 50.00. Stay friendly' "$work/out")" -eq 4 ]
report $? "each is fifty"
[ "$(grep -c '^Ended: not taken' "$work/out")" -eq 4 ]
report $? "two cases and more, one after the other"

printf '1,000\n50,000\n50,001\n1,000,000\n50,\n,50\n50,0,0\n50.0,0\n50,00.00\n0,00\n50 ,00\n' >"$work/lines"
run till --ledger "$ledger" --lane counter <"$work/lines"
ends 0 "commas that leave a doubt"
says_not '^Check' "open no case"
[ "$(grep -c 'can be read in two ways' "$work/out")" -eq 3 ]
report $? "a comma before three figures is explained"
[ "$(grep -c 'Please type the value of a note' "$work/out")" -eq 8 ]
report $? "the others get the usual line"

run till --ledger "$ledger" --lane counter <<'L'
500,00
n
9,00
9
report
L
ends 0 "a value that no note has"
[ "$(grep -c 'no guidance for this note' "$work/err")" -eq 2 ]
report $? "is told in one line, comma or not"
says '^Ended: not taken' "a large value with a comma opens its case"
misuse "a currency without a pack" till --currency ZZZ
misuse "a port without an adapter" till --port tcp:127.0.0.1:1
misuse "an adapter without a port" till --adapter cctalk

run report --ledger "$ledger" --lane counter
ends 0 "the figures of the lane"
says 'counter' "name it"
run report --ledger "$ledger" --lane counter --json
says '"cases":{"count":5' "count its cases"
says '"put_in":0' "and no presentation: there was no machine"
run verify --ledger "$ledger"
ends 0 "the record is whole"

printf '?\nfound\nquit\n' >"$work/lines"
run till --jurisdiction LU --language de <"$work/lines"
ends 0 "a note found in the till"
says 'später in der Kasse gefunden' "what to do with it"
