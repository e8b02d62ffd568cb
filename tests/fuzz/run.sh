#!/bin/sh
# One fuzz target over its kept corpus for a while: what does it find that is new? Needs clang with libFuzzer.
#   sh tests/fuzz/run.sh TARGET [SECONDS]     for example: sh tests/fuzz/run.sh pack 600
# BUILD: build folder (.build/fuzz). WORK: where new inputs and findings go (BUILD/found/TARGET); it is kept, so that
# a second run goes on from the first. docs/fuzzing.md says what to do with a finding.
set -eu
target=${1:?usage: sh tests/fuzz/run.sh TARGET [SECONDS]}
seconds=${2:-600}
root=$(cd "$(dirname "$0")/../.." && pwd)
cd "$root"
build=${BUILD:-.build/fuzz}
work=${WORK:-$build/found/$target}
if [ ! -f "$build/CMakeCache.txt" ]; then
    cmake --preset fuzz -B "$build" -DCMAKE_C_FLAGS_DEBUG="-g -O1" >/dev/null
fi
cmake --build "$build" --target "fuzz_$target" >/dev/null
mkdir -p "$work"
set -- -max_total_time="$seconds" -rss_limit_mb=1024 -timeout=20 -max_len=4096 -print_final_stats=1 \
    -artifact_prefix="$work-finding-"
if [ -f "tests/fuzz/dictionary/$target" ]; then
    set -- "$@" -dict="tests/fuzz/dictionary/$target"
fi
case "$target" in
script_*) set -- "$@" -close_fd_mask=2 ;; # a refused script says why on stderr
esac
exec nice -n 19 "$build/tests/fuzz/fuzz_$target" "$@" "$work" "tests/fuzz/corpus/$target"
