# A cashier's session without a machine, from a script.

ledger=$work/till.ledger

# The same answer to every check, then the choice: more answers than checks are asked do no harm to the advice, since the
# choice is looked up in what was offered.
choice_of() { # choice_of TEXT: the number before TEXT in the last advice
    sed -n "s/^  \([0-9]\)  $1.*/\1/p" "$work/out" | tail -n 1
}

# case_play ANSWER TEXT LINE... : answers every check with ANSWER, then takes the choice that begins with TEXT, then
# types the LINEs.
case_play() {
    answer=$1
    text=$2
    shift 2
    printf '50\n' >"$work/lines"
    for round in 1 2 3 4 5 6 7 8 9 10 11 12; do
        run till --tools magnifier,uv <"$work/lines"
        if grep -q '^Advice: ' "$work/out"; then
            break
        fi
        echo "$answer" >>"$work/lines"
    done
    choice=$(choice_of "$text")
    echo "$choice" >>"$work/lines"
    for line in "$@"; do
        echo "$line" >>"$work/lines"
    done
    run till --tools magnifier,uv --ledger "$ledger" --staff A7 --sale 1001 --lane front <"$work/lines"
}

run till </dev/null
ends 0 "nothing typed"
says 'Good-bye' "nothing typed: a short goodbye"
run till <&-
ends 0 "closed standard input"

case_play 1 "taken as payment"
ends 0 "every check as it should be"
says '^Check 1 of at most' "checks are numbered"
says '^Ended: taken as payment' "the note is taken"
says '^  record  *[1-9][0-9]*$' "the record's number is shown"
says '^  case  *[0-9a-f-]\{36\}$' "the case's id is shown"
says '^  hash  *[0-9a-f]\{64\}$' "the record's hash is shown"

case_play 2 "not taken"
ends 0 "checks not as they should be"
says '^Ended: not taken' "the note is not taken"
says_not 'counterfeit\|forged\|fake' "nothing is called by that word"
says '^  say ' "there are words for the customer"

case_play 3 "not taken"
ends 0 "cannot tell"
says '^Ended: not taken' "in doubt the note is not taken"

case_play 2 "set aside" E-17
if [ -n "$choice" ]; then
    ends 0 "set aside"
    says '^Ended: set aside' "set aside is recorded"
    says 'Number of the envelope' "the envelope's number is asked"
fi

case_play 2 "not taken"
choice=t
sed -i.old '$d' "$work/lines"
printf 't\n\n' >>"$work/lines"
run till --tools magnifier,uv --ledger "$ledger" <"$work/lines"
ends 0 "taking against the advice without a supervisor"
says_not '^Ended: taken' "does not take the note"
sed -i.old '$d' "$work/lines"
printf 'S1\nknown customer brought it from the bank\n' >>"$work/lines"
run till --tools magnifier,uv --ledger "$ledger" <"$work/lines"
ends 0 "taking against the advice with a supervisor"
says '^Ended: taken' "takes the note"

printf '50\nx\n\n9\n?\n1 2\nb\n1\nb\n2\nq\n' >"$work/lines"
run till --ledger "$ledger" <"$work/lines"
ends 0 "wrong keys"
[ "$(grep -c 'Please type 1, 2 or 3' "$work/out")" -eq 4 ]
report $? "each wrong key gets one friendly line"
says 'There is no check before' "no way back from the first check"
says '^Back to: ' "the way back shows the check before"
says '^Ended: no decision' "q stops without a decision"

printf '50\ns\nX04940051213\ns\n\nn\n' >"$work/lines"
run till --ledger "$ledger" <"$work/lines"
ends 0 "serial number, then not taken"
says 'only that the number was read well' "the serial number's caution"
says '^Ended: not taken' "n ends without taking"
run till --ledger "$ledger" <"$work/lines"
says 'was refused before' "a serial number that was refused is known again"

printf '50\n1\n' >"$work/lines"
run till --ledger "$ledger" <"$work/lines"
ends 0 "the lines end in the middle of a case"
says 'closed without a decision' "the case is closed without a decision"

printf '50' >"$work/lines"
run till <"$work/lines"
ends 0 "a last line without its end"
says '^Check 1' "is a line all the same"

printf '7\n0\n-5\n50.001\n1e2\n50,0x\n99999999999999999999\nhello\nhelp\nreport\nquit\n50\n' >"$work/lines"
run till <"$work/lines"
ends 0 "values that are none"
says_not '^Check' "open no case"
[ "$(grep -c 'Please type the value' "$work/out")" -eq 7 ]
report $? "each gets one friendly line"
says 'No ledger is open' "report without a ledger says so"
[ "$(wc -l <"$work/err")" -eq 1 ]
report $? "a value without a note is told in one line"

awk 'BEGIN { for (i = 0; i < 100000; i++) printf "5"; print ""; print "quit" }' >"$work/lines"
run till <"$work/lines"
ends 0 "a line of 100,000 characters"
[ "$(grep -c 'Please type the value' "$work/out")" -eq 1 ]
report $? "is one wrong line"

printf '50.00\nn\n20\nn\nreport\n' >"$work/lines"
run till --ledger "$ledger" <"$work/lines"
ends 0 "several cases in a row"
[ "$(grep -c '^Ended: not taken' "$work/out")" -eq 2 ]
report $? "each has its end"
run till --count 1 --ledger "$ledger" <"$work/lines"
[ "$(grep -c '^Ended: not taken' "$work/out")" -eq 1 ]
report $? "--count 1 ends after one"

run till --json --ledger "$ledger" <"$work/lines"
ends 0 "as JSON"
[ "$(grep -c -v '^{.*}$' "$work/out")" -eq 0 ]
report $? "only JSON on standard output"
says '"counterfoil.case/1"' "cases as JSON"
says '^{"record":[0-9]*,"time_utc_ms":[0-9]*,"case":"' "records as JSON"

run till --seconds 1 --ledger "$work/folder/none" </dev/null
ends 2 "a ledger that cannot be made"
