#!/bin/sh
# Runs the quick unit tests under valgrind, two at a time: no leak, no error, no lost descriptor.
#   valgrind.sh BUILD_DIR            all of them
#   valgrind.sh BUILD_DIR PROGRAM    one
set -eu
build=$1
if [ $# -eq 2 ]; then
    log=$build/valgrind-$(basename "$2").log
    if valgrind --quiet --error-exitcode=9 --leak-check=full --show-leak-kinds=definite,indirect \
        --errors-for-leak-kinds=definite,indirect "$2" >"$log" 2>&1; then
        rm -f "$log"
        exit 0
    fi
    cat "$log"
    echo "valgrind found something in $2"
    exit 255 # xargs starts no more
fi
programs=$build/valgrind.list
for program in "$build"/tests/unit_*; do
    [ -x "$program" ] || continue
    case "$program" in
    # Exhaustive and random ones would take minutes here; they run under the address sanitizer, leaks included.
    *_session_* | *_random | *mdb* | *described* | *pulse* | *_memory | *_scarce | *_test_key | *_verify | *_open | *_plan | *_sets | *_report) continue ;;
    *_test_access | *_test_person | *_test_paper | *_test_notes | *_test_scan | *_report_parts) continue ;;
    esac
    echo "$program"
done >"$programs"
[ -s "$programs" ] || { echo "no unit tests in $build"; exit 1; }
xargs -P 2 -n 1 sh "$0" "$build" <"$programs"
echo "$(wc -l <"$programs") unit-test programs are clean under valgrind"
