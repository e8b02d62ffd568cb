#!/bin/sh
# Does the suite notice each broken rule, and name the right one? A device with one fault at a time (misbehaving-*)
# must fail exactly the case beside it; the device without a fault must fail none.
#   sh misbehaving.sh FOLDER_OF_PROGRAMS ADAPTER TABLE
set -u
programs=$1
adapter=$2
table=$3

one() { # one FAULT CASE: the case that must fail, "-" = none
    fault=$1
    wanted=$2
    folder=$(mktemp -d) || exit 1
    "$programs/misbehaving_$adapter" --fault "$fault" -- "$programs/counterfoil-conform" --adapter "$adapter" \
        --port tcp:127.0.0.1:@PORT@ --cases "$adapter/*" --notes-come --seconds-per-case 3 --tap --trace "$folder" \
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
        "$programs/counterfoil-conform" --adapter "$adapter" --port "trace:$trace" --cases "$wanted" --notes-come \
            --seconds-per-case 3 --tap >"$folder/again" 2>&1
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

if [ $# -eq 5 ]; then
    one "$4" "$5"
    exit
fi
# Every fault the device knows must be in the table.
"$programs/misbehaving_$adapter" --list | sort >"${TMPDIR:-/tmp}/faults.$$"
grep -v '^#' "$table" | cut -d ' ' -f 1 | sort | diff - "${TMPDIR:-/tmp}/faults.$$"
complete=$?
rm -f "${TMPDIR:-/tmp}/faults.$$"
grep -v '^#' "$table" | xargs -n 2 -P 44 sh "$0" "$programs" "$adapter" "$table"
[ $? -eq 0 ] && [ "$complete" -eq 0 ]
