# Every mistake in the call: exit 2 and one line.

misuse "no command"
misuse "unknown command" fly
misuse "option before the command" --ledger x report
misuse "help of an unknown command" help fly
misuse "help with too many words" help till watch
for command in watch till serial report verify entry pack catalogue devices; do
    misuse "$command: unknown option" $command --fly
    misuse "$command: unknown short option" $command -f
done
misuse "a shortened option name" report --ledg "$work/x"
grep -q "unknown option '--ledg'" "$work/err"
report $? "is named as it was typed"
misuse "short options together" report -jx
grep -q "unknown option '-j'" "$work/err"
report $? "the first is named"
misuse "missing value" report --ledger
misuse "empty value" report --ledger ""
misuse "value for an option without one" report --ledger x --json=yes
misuse "a word too many" catalogue more
misuse "line ends in a wrong word stay on one line" catalogue "more
lines"

misuse "watch without adapter" watch --port serial:/dev/null
misuse "watch without port" watch --adapter cctalk
misuse "watch with an unknown adapter" watch --adapter nosuch --port "serial:$work/none"
misuse "watch with a port that is none" watch --adapter cctalk --port nonsense
misuse "watch with an unknown --accept" watch --adapter cctalk --port "serial:$work/none" --accept some
misuse "watch with --count 0" watch --adapter cctalk --port "serial:$work/none" --count 0
misuse "watch with --count x" watch --adapter cctalk --port "serial:$work/none" --count x
misuse "watch with --seconds -1" watch --adapter cctalk --port "serial:$work/none" --seconds -1
misuse "watch with --seconds 1.5" watch --adapter cctalk --port "serial:$work/none" --seconds 1.5
misuse "watch with a huge --count" watch --adapter cctalk --port "serial:$work/none" --count 99999999999999999999
misuse "watch with a bad setting" watch --adapter cctalk --port "serial:$work/none" --settings nosuch=1
misuse "watch with a description that is not there" watch --adapter x --port "serial:$work/none" \
    --description "$work/none.json"
misuse "watch with an adapter that the description does not make" watch --adapter x --port "serial:$work/none" \
    --description "$root/examples/descriptions/status-bits.json"
misuse "watch of a trace that is not there" watch --adapter cctalk --port "trace:$work/none.trace"

misuse "till with a port but no adapter" till --port "serial:$work/none"
misuse "till with an adapter but no port" till --adapter cctalk
misuse "till with an unknown tool" till --tools hammer
misuse "till with an empty tool" till --tools magnifier,
misuse "till with an unknown currency" till --currency XXX
misuse "till with an unknown jurisdiction" till --jurisdiction nowhere
misuse "till with an unknown series" till --series nosuch
misuse "till with packs that are not there" till --packs "$work/none"

misuse "serial with one word" serial EUR
misuse "serial with three words" serial EUR X04940051213 more
misuse "serial of an unknown currency" serial XXX X04940051213
misuse "serial with an empty number" serial EUR ""
misuse "serial with packs that are not there" serial EUR X04940051213 --packs "$work/none"

misuse "report without ledger" report
misuse "report of a ledger that is not there" report --ledger "$work/none"
[ ! -e "$work/none" ]
report $? "a ledger that is only read is not made"
for date in 2026-02-29 2026-13-01 2026-00-10 2026-01-00 2026-1-1 26-01-01 2026-01-011 2026/01/01 today 1969-12-31 \
    "2026-01-1 " "+026-01-01"; do
    misuse "report --from '$date'" report --ledger "$work/none" --from "$date"
done
misuse "report --to before --from" report --ledger "$work/none" --from 2026-02-02 --to 2026-02-01
misuse "verify without ledger" verify
misuse "verify of a ledger that is not there" verify --ledger "$work/none"
misuse "entry without number" entry --ledger "$work/none"
misuse "entry with a word for a number" entry --ledger "$work/none" first
misuse "entry with a negative number" entry --ledger "$work/none" -- -1
misuse "entry of a ledger that is not there" entry --ledger "$work/none" 1

misuse "pack alone" pack
misuse "pack with another word" pack eat "$work/none"
misuse "pack check without file" pack check
misuse "pack check of a file that is not there" pack check "$work/none.json"
misuse "catalogue with packs that are not there" catalogue --packs "$work/none"
