# Pack files and the catalogue.

good=$root/plugin/packs/$(cd "$root/plugin/packs" && ls | grep "^eur.*json$" | head -n 1)
run pack check "$good"
ends 0 "a good pack"
says ': good: ' "is called good"
[ "$(wc -l <"$work/out")" -eq 1 ]
report $? "in one line"

echo '{"schema": 7' >"$work/bad.json"
run pack check "$work/bad.json"
ends 1 "a bad pack"
says '^.*bad.json: bad: ' "is called bad"
[ "$(wc -l <"$work/out")" -eq 1 ]
report $? "in one line, too"
echo '{}' >"$work/empty.json"
run pack check "$work/empty.json" "$good"
ends 1 "one bad, one good"
[ "$(wc -l <"$work/out")" -eq 2 ]
report $? "one line each"
run pack check "$work/bad.json" "$work/none.json" "$good"
ends 2 "one of them cannot be read"
[ "$(wc -l <"$work/out")" -eq 2 ] && [ "$(wc -l <"$work/err")" -eq 1 ]
report $? "the others are checked all the same"
run pack check "$good" "$work/bad.json" --json
ends 1 "packs as JSON"
says '"good":true' "the good one"
says '"good":false' "the bad one"

run catalogue
ends 0 "catalogue"
says '"counterfoil.catalogue/1"' "the catalogue's schema"
says '"cctalk"' "the catalogue lists the adapter"
mkdir "$work/packs"
cp "$good" "$work/packs/"
run catalogue --packs "$work/packs"
ends 0 "catalogue with packs of a folder"
cp "$work/bad.json" "$work/packs/"
run catalogue --packs "$work/packs"
ends 1 "a folder with a bad pack"
[ ! -s "$work/out" ] && [ "$(wc -l <"$work/err")" -eq 1 ]
report $? "is told in one line"
