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
