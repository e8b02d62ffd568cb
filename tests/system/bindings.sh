#!/bin/sh
# The hosts in other languages, each against a simulated validator: the first note in doubt comes to its record, and the
# ledger verifies. A language that is not on this machine is skipped and named.
#   bindings.sh BUILD_DIR
set -eu
build=$(cd "$1" && pwd)
root=$(cd "$(dirname "$0")/../.." && pwd)
here=$root/examples/bindings
library=$(ls "$build"/plugin/libcounterfoil.so.[0-9] | head -n 1)
work=$(mktemp -d)
simulator=""
trap '[ -z "$simulator" ] || kill "$simulator" 2>/dev/null || true; rm -rf "$work"' EXIT
. "$root/tests/system/tap.sh"
: >"$work/out"

# host NAME COMMAND...: runs COMMAND cctalk PORT LEDGER.
host() {
    name=$1
    shift
    rm -f "$work/port" "$work/ledger"*
    "$build/tests/simulators/cctalk-simulator" --script "$root/examples/scripts/doubtful-note.sim" \
        --port-file "$work/port" --log "$work/truth" --once --stop-after-ms 60000 >"$work/simulator" 2>&1 </dev/null &
    simulator=$!
    while [ ! -s "$work/port" ]; do
        kill -0 "$simulator" 2>/dev/null || { cat "$work/simulator"; exit 1; }
    done
    code=0
    "$@" cctalk "tcp:127.0.0.1:$(cat "$work/port")" "$work/ledger" >"$work/out" 2>&1 </dev/null || code=$?
    kill "$simulator" 2>/dev/null || true
    wait "$simulator" 2>/dev/null || true
    simulator=""
    grep -q '^Do not take this note: ' "$work/out" && grep -q '^case [0-9a-f-]* not_taken$' "$work/out" && [ "$code" -eq 0 ]
    report $? "$name leads a case to its end"
    id=$(sed -n 's/^case \([0-9a-f-]*\) not_taken$/\1/p' "$work/out")
    "$build/plugin/counterfoil" cases --ledger "$work/ledger" "$id" >"$work/out" 2>&1 &&
        grep -q '"disposition":"not_taken"' "$work/out" &&
        "$build/plugin/counterfoil" verify --ledger "$work/ledger" >"$work/out" 2>&1
    report $? "$name leaves a record that verifies"
}

c++ -std=c++17 -Wall -Wextra -Wpedantic -Werror -I"$root/include" -o "$work/host" "$here/cpp/host.cpp" "$library" \
    -Wl,-rpath,"$build/plugin" >"$work/out" 2>&1
report $? "the C++ host compiles"
host "C++" "$work/host"

host Python python3 "$here/python/host.py" "$library"

# The test brings the package; what a shop installs is its own affair.
if ! command -v npm >/dev/null 2>&1; then
    skip "Node.js" "no npm on this machine"
elif (mkdir "$work/node" && cp "$here/node/host.mjs" "$work/node" && cd "$work/node" &&
    npm install --no-save --no-audit --no-fund koffi@2 >"$work/out" 2>&1 </dev/null); then
    host Node.js node "$work/node/host.mjs" "$library"
else
    skip "Node.js" "the package koffi cannot be had"
fi

jna=/usr/share/java/jna.jar
if ! command -v javac >/dev/null 2>&1 || [ ! -e "$jna" ]; then
    skip "Java" "no compiler or no JNA on this machine"
else
    javac -Xlint:all -Werror -cp "$jna" -d "$work/java" "$here/java/Host.java" >"$work/out" 2>&1
    report $? "the Java host compiles"
    host Java java -cp "$jna:$work/java" Host "$library"
fi

python3 "$here/csharp/declare.py" "$root/include/counterfoil/counterfoil.h" "$here/csharp/Counterfoil.cs" >"$work/out" 2>&1
report $? "the C# declarations fit the header"

finish
