#!/bin/sh
# The main job, end to end: a simulated validator refuses two notes over TCP, the cashier is led through the manual checks,
# the refusal is put on record, and the day's figures are shown. Needs Debian 12; installs what is missing.
#   sh examples/run.sh            in the terminal
#   sh examples/run.sh --screen   in the browser: a checkout page, until Ctrl-C
set -eu
screen=no
case "${1:-}" in
"" | --text) ;;
--screen) screen=yes ;;
*)
    echo "usage: sh examples/run.sh [--text | --screen]" >&2
    exit 2
    ;;
esac
root=$(cd "$(dirname "$0")/.." && pwd)
cd "$root"
. examples/packages.sh
packages_need gcc libc6-dev make cmake ninja-build pkg-config libserialport-dev libusb-1.0-0-dev libcjson-dev \
    libsqlite3-dev libsodium-dev libcmocka-dev

targets="counterfoil_tool cctalk_simulator"
life_ms=120000
if [ "$screen" = yes ]; then
    packages_need libmicrohttpd-dev
    targets="$targets checkout"
    life_ms=43200000
fi

build=$root/.build/example
mkdir -p "$build"
# shellcheck disable=SC2086 # the list is meant to be split
if ! { cmake --preset ci -B "$build" && cmake --build "$build" --target $targets; } \
    >"$build/build.log" 2>&1 </dev/null; then
    tail -n 40 "$build/build.log"
    exit 1
fi
tool=$build/plugin/counterfoil
work=$(mktemp -d)
simulator=""
trap '[ -z "$simulator" ] || kill "$simulator" 2>/dev/null || true; rm -rf "$work"' EXIT

title() {
    printf '\n=== %s\n\n' "$*"
}

title "A simulated validator on a TCP port of this machine"
"$build/tests/simulators/cctalk-simulator" --script examples/scripts/doubtful-note.sim --port-file "$work/port" \
    --log "$work/truth" --once --stop-after-ms "$life_ms" >"$work/simulator.out" 2>&1 </dev/null &
simulator=$!
while [ ! -s "$work/port" ]; do
    kill -0 "$simulator" 2>/dev/null || { cat "$work/simulator.out"; exit 1; }
done
port=$(cat "$work/port")
echo "ccTalk validator on tcp:127.0.0.1:$port; the script is examples/scripts/doubtful-note.sim"

if [ "$screen" = yes ]; then
    title "The checkout page"
    echo "Two notes will wait for you: type 50 for the first, 20 for the second. At the end the figures are shown."
    # Ctrl-C ends the page; this script goes on.
    trap : INT
    "$build/examples/checkout/checkout" --adapter cctalk --device "tcp:127.0.0.1:$port" --currency EUR \
        --ledger "$work/till.ledger" --port 0 || true
    title "The figures"
    "$tool" report --ledger "$work/till.ledger"
    exit 0
fi

title "The cashier's session (what follows '>' is what the cashier types)"
# The 50: paper and window as they should be, colour and edge lines not. The 20: all as it should be.
"$tool" till --adapter cctalk --port "tcp:127.0.0.1:$port" --accept hold --currency EUR --ledger "$work/till.ledger" \
    --lane "lane 1" --staff c7 --sale 4711 --seconds 60 >"$work/session" <<'ANSWERS' || { cat "$work/session"; exit 1; }
50
1
1
2
2
s
UF9073937437
1
20
1
1
1
1
1
1
1
ANSWERS

cat "$work/session"

title "The record of the refusal, as JSON"
number=$(sed -n 's/^ *record *\([0-9][0-9]*\)$/\1/p' "$work/session" | head -n 1)
"$tool" entry --ledger "$work/till.ledger" "$number"

title "The figures"
"$tool" report --ledger "$work/till.ledger"

title "Is every entry in its place and unaltered?"
"$tool" verify --ledger "$work/till.ledger"

title "What the device truly did (its own log), for comparison"
grep -E '"truth":"(stacked|returned|rejected)"' "$work/truth"

title "The same in a browser: sh examples/run.sh --screen"
