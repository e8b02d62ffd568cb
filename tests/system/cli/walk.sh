# A kept note from the till to the bank, in two currencies: every paper, personal data written, shown and erased, and the
# record is whole at the end.

walk() { # walk CURRENCY VALUE JURISDICTION SERIAL: each in a ledger of its own
    ledger=$work/walk-$1.ledger
    run till --ledger "$ledger" --lane 3 --sale S-1 --staff 02 --currency "$1" --jurisdiction "$3" <<L
$2
2
s
$4
2

quit
L
    ends 0 "$1: a note is set aside"
    says '^Ended: set aside' "$1: and that is recorded"
    run tender S-1 --ledger "$ledger"
    ends 1 "$1: its sale waits for another payment"
    run held --ledger "$ledger"
    case_id=$(sed -n 's/.*"case_id":"\([^"]*\)".*/\1/p' "$work/out")
    echo 7391 | "$tool" staff 01 supervisor --ledger "$ledger" >"$work/out" 2>"$work/err"
    code=$?
    ends 0 "$1: a supervisor's code"
    printf '7391\n7392\n' | "$tool" staff 02 cashier --ledger "$ledger" --staff 01 --pin >"$work/out" 2>"$work/err"
    code=$?
    ends 0 "$1: a cashier's code"
    run paper receipt --ledger "$ledger" --case "$case_id"
    ends 0 "$1: the customer's receipt"
    says "^Serial number: $4\$" "$1: with the serial number"
    says_not 'zqx' "$1: without the customer's name"
    printf '7392\nZqxname\nzqxmail\n\nzqxnote\n' >"$work/typed"
    run person set "$case_id" --ledger "$ledger" --staff 02 --pin <"$work/typed"
    ends 1 "$1: personal data without a number of days"
    run person set "$case_id" --ledger "$ledger" --staff 02 --pin --days 30 <"$work/typed"
    ends 0 "$1: personal data for 30 days"
    echo 7392 >"$work/pin"
    run person show "$case_id" --ledger "$ledger" --staff 02 --pin <"$work/pin"
    ends 1 "$1: a cashier does not see them"
    run person show "$case_id" --ledger "$ledger"
    ends 1 "$1: nor does nobody"
    echo 7391 >"$work/pin"
    run person show "$case_id" --ledger "$ledger" --staff 01 --pin <"$work/pin"
    ends 0 "$1: a supervisor does"
    says '"name":"Zqxname"' "$1: as they were given"
    run custody seal "$case_id" --ledger "$ledger" --staff 02 --pin --envelope 'E 9' <<'L'
7392
L
    ends 0 "$1: it is sealed"
    run paper label --ledger "$ledger" --case "$case_id"
    ends 0 "$1: the label"
    says '^Envelope: E 9$' "$1: names the envelope"
    run paper hand-over --ledger "$ledger"
    ends 0 "$1: the list for the bank"
    says "^Together: $1 $2 (1 note)\$" "$1: with the sum"
    says '^Not as it should be: ' "$1: and what was not as it should be"
    run custody hand-over "$case_id" --ledger "$ledger" --staff 01 --pin --holder bank --keeper 'Branch 12' \
        --receipt R-4711 <"$work/pin"
    ends 0 "$1: it is handed to the bank"
    run held --ledger "$ledger"
    says_not 'case_id' "$1: the shop has no note any more"
    run paper hand-over --ledger "$ledger" --case "$case_id"
    ends 0 "$1: the list of what was handed over"
    says '^Their receipt: R-4711$' "$1: with the bank's receipt"
    run paper period --ledger "$ledger" --jurisdiction "$3" --format html
    ends 0 "$1: the list of the period"
    says 'R-4711' "$1: tells it too"
    run paper receipt --ledger "$ledger" --case "$case_id"
    says '^Handed over to: a bank$' "$1: and the receipt says where it is"
    for kind in jsonl presentations cases custody; do
        case $kind in
        jsonl) run export --ledger "$ledger" ;;
        *) run export --ledger "$ledger" --format csv --table $kind ;;
        esac
        ends 0 "$1: export of $kind"
        says_not 'zqx' "$1: holds no personal data"
    done
    run person erase "$case_id" --ledger "$ledger" --staff 01 --pin <"$work/pin"
    ends 0 "$1: the personal data are erased"
    run person show "$case_id" --ledger "$ledger" --staff 01 --pin <"$work/pin"
    ends 1 "$1: and gone"
    run person sweep --ledger "$ledger"
    ends 0 "$1: nothing is over its time"
    says '^erased 0$' "$1: and that is told"
    ! grep -q -i -a 'zqx' "$ledger"*
    report $? "$1: no byte of them in ledger, log or key file"
    run rebuild --ledger "$ledger"
    ends 0 "$1: the lists are made again from the entries"
    run verify --ledger "$ledger"
    ends 0 "$1: the record is whole"
}
walk EUR 50 DE VA0436214792
walk INR 500 IN 1AB234567

misuse "an unknown step of personal data" person eat x --ledger "$work/walk-EUR.ledger"
misuse "personal data without a case" person show --ledger "$work/walk-EUR.ledger"
misuse "a number of days that is none" person set x --ledger "$work/walk-EUR.ledger" --days 0
