# Export, on the ledger that the scripts before have made.

chmod 600 "$ledger" # the script before has tried other rights
run watch --adapter cctalk --port "trace:$root/tests/replay/cctalk/refused-failed-validation.trace" --ledger "$ledger" --lane replay
ends 0 "a trace gives the ledger presentations"
run export --ledger "$ledger"
ends 0 "export"
cp "$work/out" "$work/export.jsonl"
run verify --ledger "$ledger" --json
entries=$(sed 's/.*"entries":\([0-9]*\).*/\1/' "$work/out")
[ "$(wc -l <"$work/export.jsonl")" -eq $((entries + 1)) ]
report $? "a line for each entry after the first line"
head -n 1 "$work/export.jsonl" | grep -q "\"schema\":\"counterfoil.export/1\".*\"entries\":$entries,"
report $? "the first line counts them"
if python3 -c 'import jsonschema' 2>/dev/null; then
    python3 -W ignore "$folder/exchange.py" "$root/docs/schemas" "$work/export.jsonl" >"$work/out" 2>"$work/err"
    report $? "every line is valid by its schema (python3-jsonschema, draft 2020-12), and changed lines are not"
fi
for table in presentations cases custody; do
    run export --ledger "$ledger" --format csv --table $table
    ends 0 "export of $table as CSV"
    says '^entry,time,' "with a row of names"
    cp "$work/out" "$work/$table.csv"
    # Python's csv module reads it back: an independent reader.
    if command -v python3 >/dev/null; then
        python3 -c '
import csv, sys
rows = list(csv.reader(open(sys.argv[1], newline=""), strict=True))
assert len(rows) > 1 and all(len(row) == len(rows[0]) for row in rows), rows[:2]
assert open(sys.argv[1], newline="").read().count("\r\n") >= len(rows)
assert not any(cell[:1] in tuple("=+-@\t\r\n") for row in rows for cell in row if cell)' "$work/$table.csv" 2>"$work/err"
        report $? "$table read back by another program, every row as long as the first"
    fi
done
run export --ledger "$ledger" --to 2020-02-29
ends 0 "export of an empty period"
[ "$(wc -l <"$work/out")" -eq 1 ]
report $? "has its first line only"
misuse "table without csv" export --ledger "$ledger" --table cases
misuse "unknown format" export --ledger "$ledger" --format xml
misuse "unknown table" export --ledger "$ledger" --format csv --table people
if [ -w /dev/full ]; then
    "$tool" export --ledger "$ledger" >/dev/full 2>"$work/err"
    [ $? -ne 0 ] && [ "$(wc -l <"$work/err")" -eq 1 ]
    report $? "a full disk is told in one line"
fi

# Import: another ledger, and a history.
run import "$work/export.jsonl" --ledger "$work/branch.ledger" --staff 07 --dry-run
ends 0 "a dry run of a whole ledger"
says '^Would take [1-9][0-9]* of ' "tells what it would take"
run import "$work/export.jsonl" --ledger "$work/branch.ledger" --staff 07 --json
ends 0 "import of a whole ledger"
says '^{"lines":[0-9]*,"taken":[1-9][0-9]*,"there":0,"left_out":[1-9][0-9]*,"bad_line":0,"text":"Took ' "as JSON"
run import "$work/export.jsonl" --ledger "$work/branch.ledger" --staff 07
ends 0 "the same again"
says '^Took 0 of ' "takes nothing"
run verify --ledger "$work/branch.ledger"
ends 0 "the ledger that took it is intact"
run held --ledger "$work/branch.ledger"
ends 0 "notes of another store"
says_not 'E 7' "are not among the kept ones"
run import "$work/export.jsonl" --ledger "$ledger" --staff 01
ends 1 "a ledger with staff codes asks for a supervisor's PIN"
sed '3s/"body":{/"body":{"a":1,/' "$work/export.jsonl" >"$work/altered.jsonl"
run import "$work/altered.jsonl" --ledger "$work/branch.ledger" --staff 07
ends 1 "an export that was altered is refused"
grep -q 'Line 3: .*altered' "$work/err"
report $? "with the line"
cat >"$work/history.jsonl" <<'L'
{"schema":"counterfoil.event/1","record":"018f22e2-79b0-7cc3-98c4-dc0c0c07398f","lane":"1","store":"North","seq":1,"time":"2025-11-24T16:00:00.000Z","kind":"stacked","currency":"EUR","value_minor":2000}
{"schema":"counterfoil.event/1","record":"018f22e2-79b1-7cc3-98c4-dc0c0c07398f","lane":"1","store":"North","seq":2,"time":"2025-11-24T16:00:01.000Z","kind":"rejected","reason":"handling"}
L
run import "$work/history.jsonl" --ledger "$work/history.ledger" --staff 07
ends 0 "import of a history"
says '^Took 2 of 2 lines' "takes both lines"
run report --ledger "$work/history.ledger" --json
says '"put_in":2,"stacked":1' "the report counts them"
misuse "import of a file that is not there" import "$work/none.jsonl" --ledger "$work/branch.ledger" --staff 07
misuse "import without a name" import "$work/history.jsonl" --ledger "$work/branch.ledger"
