#!/bin/sh
# The checkout page: calls that are turned away, a restarted server, notes of a machine, then a browser that goes through
# whole cases (checkout.mjs). Without Chromium or npm the browser is skipped, and that is said.
#   checkout.sh BUILD_DIR [FOLDER FOR PICTURES]
set -eu
build=$(cd "$1" && pwd)
root=$(cd "$(dirname "$0")/../.." && pwd)
program=$build/examples/checkout/checkout
work=$(mktemp -d)
shots=${2:-$work}
server=""
simulator=""
trap 'for each in $server $simulator; do kill "$each" 2>/dev/null || true; done; rm -rf "$work"' EXIT
. "$root/tests/system/tap.sh"
: >"$work/out"

if [ ! -x "$program" ]; then
    echo "1..0 # SKIP the checkout was not built: libmicrohttpd-dev is missing"
    exit 0
fi

begin() { # begin OPTION...: the address is in $address
    rm -f "$work/port"
    "$program" --ledger "$work/ledger" --port 0 --port-file "$work/port" "$@" >"$work/out" 2>&1 </dev/null &
    server=$!
    while [ ! -s "$work/port" ]; do
        kill -0 "$server" 2>/dev/null || { cat "$work/out"; exit 1; }
    done
    address=http://127.0.0.1:$(cat "$work/port")
}

end() {
    kill -TERM "$server"
    wait "$server"
    report $? "the server ends in order"
    server=""
}

status() { # status ARGUMENT...: the answer's number
    curl -s -o "$work/answer" -w '%{http_code}' "$@"
}

case_now() {
    curl -s "$address/state" | sed -n 's/.*"case":{"schema":"counterfoil.case\/1","case":"\([0-9a-f-]*\)".*/\1/p'
}

begin --jurisdiction DE
own='X-Checkout: 1'
[ "$(status -X POST -d '{}' "$address/case")" = 403 ]
report $? "a call that is not from our page is turned away"
[ "$(status -H 'Host: elsewhere' "$address/")" = 421 ]
report $? "another name for this address is turned away"
[ "$(status -H "$own" -d 'no json' "$address/case")" = 400 ]
report $? "what is not JSON is turned away"
[ "$(head -c 9000 /dev/zero | tr '\0' ' ' | status -H "$own" --data-binary @- "$address/case")" = 413 ]
report $? "what is too long is turned away"
[ "$(status -H "$own" -d '{}' "$address/nothing")" = 404 ] && [ "$(status "$address/nothing")" = 404 ]
report $? "a page that is not there is told"
[ "$(status -X DELETE "$address/case")" = 405 ]
report $? "another method is told"
[ "$(status -H "$own" -d '{"value_minor":5500}' "$address/case")" = 422 ] && grep -q '"told":"..*"' "$work/answer"
report $? "a note that does not exist is told in words"
curl -sD "$work/headers" -o "$work/answer" "$address/" && grep -qi "content-security-policy: default-src 'none'" "$work/headers"
report $? "the page forbids what it does not need"

[ "$(status -H "$own" -d '{"value_minor":5000,"area_cm2":0,"conditions":["no such"]}' "$address/worth")" = 422 ]
report $? "a damage that nobody knows is told"

[ "$(status -H "$own" -d '{"value_minor":5000}' "$address/case")" = 200 ]
report $? "a case is opened"
id=$(case_now)
[ "$(status -H "$own" -d "{\"case\":\"$id\",\"turn\":1,\"check\":\"wording\",\"answer\":\"as_it_should_be\"}" "$address/answer")" = 200 ]
report $? "and answered"
[ "$(status -H "$own" -d "{\"case\":\"$id\",\"turn\":1,\"check\":\"wording\",\"answer\":\"as_it_should_be\"}" "$address/answer")" = 409 ]
report $? "the same call again is turned away"
end
begin --jurisdiction DE
[ -n "$id" ] && [ "$(case_now)" = "$id" ] && curl -s "$address/state" | grep -q '"check":"wording"'
report $? "a restarted server takes the case up with its answer"
kill -KILL "$server"
wait "$server" 2>/dev/null || true
begin --jurisdiction DE
[ "$(case_now)" = "$id" ]
report $? "a killed one, too"
turn=$(curl -s "$address/state" | sed -n 's/.*"turn":\([0-9]*\).*/\1/p')
[ "$(status -H "$own" -d "{\"case\":\"$id\",\"turn\":$turn,\"disposition\":\"not_taken\"}" "$address/end")" = 200 ]
report $? "and the case ends there"
end

"$build/tests/simulators/cctalk-simulator" --script "$root/examples/scripts/doubtful-note.sim" --port-file "$work/device" \
    --log "$work/truth" --stop-after-ms 60000 >"$work/simulator" 2>&1 </dev/null &
simulator=$!
while [ ! -s "$work/device" ]; do kill -0 "$simulator"; done
begin --adapter cctalk --device "tcp:127.0.0.1:$(cat "$work/device")"
until curl -s "$address/state" | grep -q '"waiting":[1-9]'; do kill -0 "$simulator" && kill -0 "$server"; done
[ "$(status -H "$own" -d '{"value_minor":5000}' "$address/case")" = 200 ] && curl -s "$address/state" | grep -q '"refusals":1'
report $? "a note that the machine refused is looked at with what the machine said"
kill "$simulator"
until curl -s "$address/state" | grep -q '"lane_state":"lost"'; do kill -0 "$server"; done
[ -n "$(case_now)" ]
report $? "a machine that is unplugged leaves the case as it is"
simulator=""
end
"$build/plugin/counterfoil" verify --ledger "$work/ledger" >"$work/out" 2>&1
report $? "the ledger verifies"

rm -f "$work/ledger"*
. "$root/tests/system/browser.sh"
if browser_prepare "$work/node"; then
    begin --jurisdiction DE
    code=0
    (cd "$work/node" && node "$root/tests/system/checkout.mjs" "$address/" "$browser" "$shots") >"$work/out" 2>&1 || code=$?
    sed 's/^/# /' "$work/out"
    report "$code" "whole cases in a browser"
    end
else
    skip "whole cases in a browser" "$browser_lacks"
fi
finish
