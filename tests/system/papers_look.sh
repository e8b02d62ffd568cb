#!/bin/sh
# Draws every paper in every language as it comes out on A4 and on a roll of 80 mm, for people to look at.
#   sh papers_look.sh BUILD_DIR FOLDER      needs chromium (apt-get install chromium)
set -eu
if [ $# -ne 2 ]; then
    echo "usage: sh papers_look.sh BUILD_DIR FOLDER" >&2
    exit 2
fi
tool=$(cd "$1" && pwd)/plugin/counterfoil
mkdir -p "$2"
folder=$(cd "$2" && pwd)
command -v chromium >/dev/null || {
    echo "chromium is missing: apt-get install chromium" >&2
    exit 2
}
rm -f "$folder"/papers.ledger*
printf '50\n2\n2\nE 5\n50\n2\n2\nE 6\nquit\n' |
    "$tool" till --ledger "$folder/papers.ledger" --lane 3 --sale S-9 --staff 07 --jurisdiction DE >/dev/null
case_id=$("$tool" held --ledger "$folder/papers.ledger" | sed -n 's/.*"case_id":"\([^"]*\)".*/\1/p' | head -1)

draw() { # draw NAME WIDTH HEIGHT: in points of a screen, 96 an inch
    chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size="$2,$3" \
        --screenshot="$folder/$1-$2.png" "file://$folder/$1.html" >/dev/null 2>&1
    [ -s "$folder/$1-$2.png" ]
}
for language in en de fr it es hi; do
    for kind in receipt label hand-over period; do
        name=$kind-$language
        of=
        [ $kind = receipt ] || [ $kind = label ] && of="--case $case_id"
        # shellcheck disable=SC2086 # the case's id has no blanks
        "$tool" paper $kind --ledger "$folder/papers.ledger" $of --format html --language $language \
            --shop 'Corner shop, 1 High Street' >"$folder/$name.html"
        draw "$name" 302 1200 # 80 mm
        draw "$name" 794 1123 # 210 x 297 mm
    done
done
echo "$(ls "$folder"/*.png | wc -l) pictures in $folder"
