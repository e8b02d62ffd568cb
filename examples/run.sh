#!/bin/sh
# The main job, end to end: a simulated validator refuses two notes over TCP, the cashier is led through the manual checks,
# the refusal is put on record, and the day's figures are shown. Needs Debian 12; installs what is missing.
set -eu
root=$(cd "$(dirname "$0")/.." && pwd)
cd "$root"
. examples/packages.sh
packages_need gcc libc6-dev make cmake ninja-build pkg-config libserialport-dev libusb-1.0-0-dev libcjson-dev \
    libsqlite3-dev libsodium-dev libcmocka-dev

build=$root/.build/example
mkdir -p "$build"
if ! { cmake --preset ci -B "$build" && cmake --build "$build" --target counterfoil_tool cctalk_simulator; } \
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
    --log "$work/truth" --once --stop-after-ms 120000 >"$work/simulator.out" 2>&1 </dev/null &
simulator=$!
while [ ! -s "$work/port" ]; do
    kill -0 "$simulator" 2>/dev/null || { cat "$work/simulator.out"; exit 1; }
done
port=$(cat "$work/port")
echo "ccTalk validator on tcp:127.0.0.1:$port; the script is examples/scripts/doubtful-note.sim"

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
