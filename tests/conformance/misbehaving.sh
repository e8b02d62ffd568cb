#!/bin/sh
# Does the suite notice each broken rule, and name the right one? A device with one fault at a time (misbehaving-*)
# must fail exactly the case beside it; the device without a fault must fail none.
#   sh misbehaving.sh FOLDER_OF_PROGRAMS DEVICE ADAPTER TABLE [OPTION VALUE]      the option is counterfoil-conform's
# With a table that leaves some faults of the device out, they are not tried: its first line says "# some".
set -u

one() { # one FAULT CASE: the case that must fail, "-" = none
    fault=$1
    wanted=$2
    folder=$(mktemp -d) || exit 1
    set -- --adapter "$adapter" --notes-come --seconds-per-case 3 --tap
    [ -z "$option" ] || set -- "$@" "$option" "$value"
    "$programs/misbehaving_$device" --fault "$fault" -- "$programs/counterfoil-conform" "$@" \
        --port tcp:127.0.0.1:@PORT@ --cases "$adapter/*" --trace "$folder" \
        --junit "$folder/junit.xml" >"$folder/out" 2>"$folder/err"
    status=$?
    failed=$(sed -n 's/^not ok [0-9]* - //p' "$folder/out" | tr '\n' ' ')
    good=yes
    if [ "$wanted" = - ]; then
        { [ "$status" -eq 0 ] && [ -z "$failed" ]; } || good=no
    else
        { [ "$status" -eq 1 ] && [ "$failed" = "$wanted " ]; } || good=no
        # The trace alone must show the same fault again, without the device.
        trace=$(sed -n 's/^  trace: "\(.*\)"$/\1/p' "$folder/out")
        "$programs/counterfoil-conform" "$@" --port "trace:$trace" --cases "$wanted" >"$folder/again" 2>&1
        sed -n 's/^  message: //p' "$folder/out" >"$folder/first-words"
        sed -n 's/^  message: //p' "$folder/again" | cmp -s - "$folder/first-words" || good=no-replay
    fi
    if command -v xmllint >/dev/null; then
        xmllint --noout --schema "$(dirname "$0")/junit.xsd" "$folder/junit.xml" >"$folder/xml" 2>&1 || good=no-xml
    fi
    if [ "$good" = yes ]; then
        echo "ok - $fault"
    else
        echo "not ok - $fault ($good): status $status, failed: $failed, wanted: $wanted"
        cat "$folder/err" "$folder/xml" "$folder/again" 2>/dev/null | head -20
        grep -A14 '^not ok' "$folder/out" | head -60
    fi
    rm -rf "$folder"
    [ "$good" = yes ]
}

if [ $# -eq 2 ]; then
    one "$1" "$2"
    exit
fi
export programs="$1" device="$2" adapter="$3" option="${5:-}" value="${6:-}"
table=$4
# Every fault the device knows must be in the table.
complete=0
if ! head -n 1 "$table" | grep -q '^# some'; then
    "$programs/misbehaving_$device" --list | sort >"${TMPDIR:-/tmp}/faults.$$"
    grep -v '^#' "$table" | cut -d ' ' -f 1 | sort | diff - "${TMPDIR:-/tmp}/faults.$$"
    complete=$?
    rm -f "${TMPDIR:-/tmp}/faults.$$"
fi
grep -v '^#' "$table" | xargs -n 2 -P 44 sh "$0"
[ $? -eq 0 ] && [ "$complete" -eq 0 ]
