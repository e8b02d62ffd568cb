#!/bin/sh
# Runs every benchmark on a release build and prints one line a figure.
#   run.sh BUILD_DIR [IDLE_SECONDS]
set -eu
build=$1
seconds=${2:-20}
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
simulator=""
trap '[ -z "$simulator" ] || kill "$simulator" 2>/dev/null || true; rm -rf "$work"' EXIT

"$build/tests/bench/bench_frame"
"$build/tests/bench/bench_latency"
"$build/tests/bench/bench_ledger"
"$build/tests/bench/bench_load" "$build/plugin/libcounterfoil.so"

"$build/tests/simulators/cctalk-simulator" --script "$here/idle.sim" --port-file "$work/port" >/dev/null 2>&1 &
simulator=$!
tries=0
while [ ! -s "$work/port" ]; do
    tries=$((tries + 1))
    [ "$tries" -lt 2000 ] || { echo "the simulator did not start"; exit 1; }
    kill -0 "$simulator" || exit 1
done
"$build/tests/bench/bench_idle" "tcp:127.0.0.1:$(cat "$work/port")" "$seconds"

cp "$build/plugin/libcounterfoil.so" "$work/stripped.so"
strip "$work/stripped.so"
echo "size    $(($(wc -c <"$work/stripped.so") / 1024)) KiB stripped"
