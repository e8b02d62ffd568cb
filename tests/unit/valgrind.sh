#!/bin/sh
# Runs the quick unit tests under valgrind: no leak, no error, no lost descriptor.
#   valgrind.sh BUILD_DIR
set -eu
build=$1
count=0
for program in "$build"/tests/unit_*; do
    [ -x "$program" ] || continue
    case "$program" in
    # Exhaustive and random ones would take minutes here; they run under the address sanitizer, leaks included.
    *_session_* | *_random | *mdb* | *described* | *pulse* | *_memory | *_scarce | *_test_key | *_verify | *_open | *_plan | *_sets | *_report) continue ;;
    esac
    if ! valgrind --quiet --error-exitcode=9 --leak-check=full --show-leak-kinds=definite,indirect \
        --errors-for-leak-kinds=definite,indirect "$program" >"$build/valgrind.log" 2>&1; then
        cat "$build/valgrind.log"
        echo "valgrind found something in $program"
        exit 1
    fi
    count=$((count + 1))
done
[ "$count" -gt 0 ] || { echo "no unit tests in $build"; exit 1; }
echo "$count unit-test programs are clean under valgrind"
