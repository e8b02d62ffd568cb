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

# Languages.
mkdir "$work/languages"
cat >"$work/languages/fr.json" <<'J'
{"schema":"counterfoil.messages/1","id":"messages-fr","language":"fr","version":"1","reviewed":"2026-11-25","source":"own",
 "native_review":false,"messages":{"till.end":"Au revoir.","till.friendly":"{amount}. Restez aimable."},
 "texts":[{"en":"See-through window","to":"Fenêtre transparente"}]}
J
run pack check --language fr --packs "$work/languages"
ends 1 "a language that lacks something"
says '^message till.ask.value: ' "names a message that is missing"
says '^text: ' "and a text of a pack"
says_not '^message till.end:' "but not what is there"
says '^fr: [1-9][0-9]* missing$' "and counts them"
run pack check --language fr --packs "$work/languages" --json
says '^{"language":"fr","missing":[1-9]' "as JSON, too"
run pack check --language en
ends 0 "English lacks nothing"
misuse "a language that nobody has" pack check --language xx
misuse "a language together with a file" pack check --language en "$good"
misuse "pack check without a file" pack check
misuse "a session in a language that nobody has" till --language xx
printf '50\nn\nquit\n' >"$work/lines"
run till --language fr --packs "$work/languages" <"$work/lines"
ends 0 "a session in French"
says '^EUR 50.00. Restez aimable.$' "speaks French where it can"
says '^Au revoir.$' "to the end"
says 'not yet reviewed by a native speaker' "says that nobody reviewed it"
run catalogue --packs "$work/languages"
says '"language":"fr","native_review":false' "and so does the catalogue"

for place in common euro-area DE LU IT IE UK IN US; do
    run jurisdiction "$place"
    ends 0 "the rules of $place"
    says '^Caution:' "come with a caution"
    says '^A note in doubt that is found in the till later:' "and say what to do with a note that was taken"
done
run jurisdiction IN --language hi
ends 0 "the rules in another language"
says 'शंका वाला नोट' "are in that language"
run jurisdiction nowhere
ends 2 "rules of nowhere"
run jurisdiction DE --language xx
ends 2 "rules in a language that is not there"
