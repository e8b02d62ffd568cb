# Damaged notes: what they are worth, whether they are fit, and the page to measure on. tests/published has the tables.

run worth --currency INR --value 500 --area 62cm2
ends 0 "a piece that was measured"
says '^A bank is likely to pay half the value: INR 250' "it says the value"
says 'Measured: 6200 mm² (give or take 50) of 9900 mm²' "and how far the measure goes"
says 'Only the bank or the central bank decides' "and who decides"
run worth --currency INR --value 500 --area 80cm2
says '^Too close to a limit' "half a centimetre may decide"
run worth --currency INR --value 500 --area 80cm2 --bound 0mm2
says 'full value: INR 500' "an exact measure"
run worth --currency INR --value 500 --area 4950mm2,4950mm2
says 'full value: INR 500' "two pieces of one note"
run worth --currency INR --value 500 --area 4950mm2,4950mm2 --condition mismatched
says 'Each piece counts by itself; together INR 500' "pieces of two notes"
run worth --currency INR --value 100 --missing 30x20mm,corner:15x10mm --json
ends 0 "strips and a corner"
says '"area_mm2":8696.625,"bound_mm2":31.25' "their area is taken off"
printf '# half\n0 0\n75,0\n\n75 66\n0 66\n' >"$work/outline"
run worth --currency INR --value 500 --polygon "$work/outline" --bound 0mm
says 'Measured: 4950 mm² (give or take 0)' "an outline from a file"
printf '0 0\n75 x\n' >"$work/outline"
misuse "a bad outline" worth --currency INR --value 500 --polygon "$work/outline"
grep -q 'line 2 is not good' "$work/err"
report $? "it names the line"
misuse "an outline that is not there" worth --currency INR --value 500 --polygon "$work/none"
run worth --currency INR --value 500 --squares missing:50+12 --bar 100 --bound 0mm
says 'Measured: 8500 mm² (give or take 150)' "squares that are missing"
run worth --currency INR --value 500 --squares 300+40 --side 5 --bar 100 --bound 0mm
says 'Measured: 8000 mm² (give or take 500)' "squares of the piece"
run worth --currency INR --value 500 --condition stuck-together
says '^Not over the counter' "a condition that decides"
run worth --currency INR --value 200 --condition soiled --count 21
says 'against a receipt' "the daily limit"
run worth --currency EUR --value 50 --condition part-missing --language de
says '^Erst messen' "in another language"

for bad in "--area 6x" "--area 62cm" "--area 62cm2, " "--area 62.0001cm2" "--missing 30mm" "--squares 3" "--squares 3.5+1" \
    "--squares 3+1 --bar x" "--squares 3+1 --side 0x" "--area 62cm2 --bound 1mm" "--missing 30x20mm --bound 1mm2" \
    "--condition sad" "--area 62cm2 --missing 1x1mm" "--area 62cm2 --count 0" "--area 200cm2" "" "--area 62cm2 --value x"; do
    # shellcheck disable=SC2086
    misuse "worth $bad" worth --currency INR --value 500 $bad
done
misuse "a currency without rules" worth --currency XTS --value 500 --area 1cm2

run fit --currency EUR --value 50 tear:vertical:9x5mm hole:12mm2
ends 0 "faults"
says 'keep it for the bank' "worn, not in doubt"
says 'hole, limit of machines, area > 10 mm²: not fit (from memory)' "a limit from memory says so"
run fit --currency EUR --value 50 hole:10mm2
says '^Fit to go out again' "at the limit"
run fit --currency EUR --value 50 soil:0.05 repair:4cm2:60um missing:5.9mm --json
says '"gauge":"thickness_um","above":50' "limits as JSON"
for bad in sad tear:9x5 tear:vertical: hole:12m2 hole:12mm2x; do
    misuse "fit $bad" fit --currency EUR --value 50 $bad
done

run grid --currency INR --value 500
ends 0 "the page"
says '<svg .*width="297mm"' "it has its size"
says 'width="150" height="66"' "and the outline"
misuse "squares that are too large" grid --currency INR --value 500 --side 11
run grid --currency INR --value 3
ends 2 "a note that is not in the pack"
run pack check "$root/plugin/packs/exchange-inr.json"
ends 0 "rules for damaged notes are checked"
says 'INR rules for damaged notes: 16 conditions' "and what they hold is told"
