#!/bin/sh
# The manager's page, made from an invented history, in a headless browser. Without Chromium or npm it is skipped, and that is
# said.
#   report.sh BUILD_DIR [FOLDER FOR PICTURES]
set -eu
build=$(cd "$1" && pwd)
root=$(cd "$(dirname "$0")/../.." && pwd)
work=$(mktemp -d)
shots=${2:-$work}
trap 'rm -rf "$work"' EXIT
. "$root/tests/system/tap.sh"

"$build/tests/bench/history" --ledger "$work/demo.ledger" >"$work/out" 2>&1
"$build/plugin/counterfoil" report --ledger "$work/demo.ledger" --format html >"$work/page.html" 2>"$work/out"
report $? "the page is made"
. "$root/tests/system/browser.sh"
if browser_prepare "$work/node"; then
    code=0
    (cd "$work/node" && node "$root/tests/system/report.mjs" "$work/page.html" "$browser" "$shots") >"$work/out" 2>&1 || code=$?
    sed 's/^/# /' "$work/out"
    report "$code" "in a browser"
else
    skip "in a browser" "$browser_lacks"
fi
finish
