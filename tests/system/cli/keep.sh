# Kept notes, open cases, sales, staff and rules at the command line.

ledger=$work/keep.ledger

kill_after_answers() { # a session that is killed while a case is open
    mkfifo "$work/typed"
    "$tool" till --ledger "$ledger" --lane 1 --sale S-1 <"$work/typed" >"$work/out" 2>"$work/err" &
    session=$!
    exec 9>"$work/typed"
    printf '50\n3\n' >&9
    tries=0
    until "$tool" cases --open --ledger "$ledger" 2>/dev/null | grep -q '"sale":"S-1"' &&
        grep -q '^Advice' "$work/out" || [ $tries -ge 100 ]; do
        tries=$((tries + 1))
        "$tool" --version >/dev/null
    done
    kill -9 "$session"
    wait "$session" 2>/dev/null
    exec 9>&-
    rm -f "$work/typed"
}
kill_after_answers
run tender S-1 --ledger "$ledger"
ends 1 "a sale with an open case"
says 'still being looked at' "is told so"
run tender S-2 --ledger "$ledger" --json
ends 0 "another sale is free"
says '"verdict":"free"' "and says so as JSON"
run cases --open --ledger "$ledger" --lane 1
ends 0 "open cases of the lane"
says '"sale":"S-1"' "the killed session's case is among them"
run till --resume --ledger "$ledger" --lane 1 <<'L'
n
quit
L
ends 0 "the case is taken up again"
says 'Could not be told' "with the answer that was given"
says '^Ended: not taken' "and is ended"
run cases --open --ledger "$ledger"
says_not 'case_id' "no case is open any more"
run tender S-1 --ledger "$ledger" --json
ends 1 "the sale has a refused note"
says '"verdict":"refused_note"' "and says so"
says '"refused_minor":5000' "with its value"
misuse "resume without a ledger" till --resume

run custody find --ledger "$ledger" --staff 07 --value 20 --place 'safe, shelf 2' --json
ends 0 "a note found in the till"
case_id=$(sed 's/.*"case":"\([^"]*\)".*/\1/' "$work/out")
run held --ledger "$ledger"
ends 0 "held notes"
says "$case_id.*found" "list it"
run reconcile --ledger "$ledger"
ends 1 "it is in no envelope"
run custody give-back "$case_id" --ledger "$ledger" --staff 07 --why asked
ends 1 "what was taken once is not handed back"
[ "$(wc -l <"$work/err")" -eq 1 ]
report $? "which is told in one line"
run custody seal "$case_id" --ledger "$ledger" --staff 07 --envelope 'E 7'
ends 0 "it is sealed"
run reconcile --ledger "$ledger" 'E 7'
ends 0 "the count agrees"
says '"agrees":true' "and says so"
run reconcile --ledger "$ledger" 'E 8'
ends 1 "another envelope does not"
says '"not_in_the_ledger":\["E 8"\]' "which is named"

run rule two_persons yes --ledger "$ledger" --staff 01
ends 0 "the store asks for two persons"
run rule --ledger "$ledger"
says 'two_persons' "the rule is listed"
run custody hand-over "$case_id" --ledger "$ledger" --staff 07 --holder police --receipt 'R 1'
ends 1 "one person is not enough"
run custody hand-over "$case_id" --ledger "$ledger" --staff 07 --second 07 --holder police --receipt 'R 1'
ends 1 "nor the same person twice"

echo '7391' | "$tool" staff 01 supervisor --ledger "$ledger" >"$work/out" 2>"$work/err"
code=$?
ends 0 "the first staff code"
printf '7391\n5555\n' | "$tool" staff 07 cashier --ledger "$ledger" --staff 01 --pin >"$work/out" 2>"$work/err"
code=$?
ends 0 "a cashier's, made by the supervisor"
run staff --ledger "$ledger"
ends 0 "staff codes"
says 'supervisor' "with their roles"
says_not 'argon' "and no PIN"
run custody hand-over "$case_id" --ledger "$ledger" --staff 01 --second 07 --holder police --receipt 'R 1'
ends 1 "now names are not enough"
printf '7391\n5555\n' >"$work/pins"
run custody hand-over "$case_id" --ledger "$ledger" --staff 01 --second 07 --pin --holder police --receipt 'R 1' \
    <"$work/pins"
ends 0 "two PINs are"
run custody genuine "$case_id" --ledger "$ledger" --staff 07 --pin <<'L'
5555
L
ends 1 "a cashier does not end a custody"
run cases "$case_id" --ledger "$ledger"
ends 0 "the entries of the case"
[ "$(grep -c 'counterfoil.custody/1' "$work/out")" -eq 3 ]
report $? "are its three steps"
run verify --ledger "$ledger"
ends 0 "the record is whole"

chmod 644 "$ledger"
run rule two_persons no --ledger "$ledger" --staff 01
ends 1 "a ledger that others may read is not written"
grep -q 'chmod 600' "$work/err"
report $? "and the line says what to do"
run verify --ledger "$ledger"
ends 0 "but it is read"

misuse "an unknown step" custody eat x --ledger "$ledger" --staff 07
misuse "an unknown holder" custody hand-over x --ledger "$ledger" --staff 07 --holder bar
misuse "a value that is none" custody find --ledger "$ledger" --staff 07 --value much
misuse "a role that is none" staff 09 boss --ledger "$ledger"
misuse "a code without a role" staff 09 --ledger "$ledger"
misuse "a rule without a value" rule two_persons --ledger "$ledger"
misuse "cases without a wish" cases --ledger "$ledger"
