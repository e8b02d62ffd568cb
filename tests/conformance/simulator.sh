#!/bin/sh
# Does the whole suite pass against the simulated validator, which shares no code with the library or the suite?
#   sh simulator.sh SIMULATOR CONFORM ADAPTER SCRIPT CASES LEAST [OPTION...]
# LEAST = how many cases must have passed, not been skipped.
set -u
simulator=$1
conform=$2
adapter=$3
script=$4
cases=$5
least=$6
shift 6
folder=$(mktemp -d) || exit 1
"$simulator" --script "$script" --port-file "$folder/port" --stop-after-ms 120000 >"$folder/device" 2>&1 &
device=$!
trap 'kill $device 2>/dev/null; wait $device 2>/dev/null; rm -rf "$folder"' EXIT
tries=0
while [ ! -s "$folder/port" ] && [ $tries -lt 200 ]; do # the file appears all at once
    tries=$((tries + 1))
    sleep 0.05
done
"$conform" --adapter "$adapter" --port "tcp:127.0.0.1:$(cat "$folder/port")" --cases "$cases" --notes-come \
    --seconds-per-case 8 --junit "$folder/junit.xml" --trace "$folder" "$@" >"$folder/out" 2>&1
status=$?
cat "$folder/out"
passed=$(grep -c '^pass ' "$folder/out")
if command -v xmllint >/dev/null; then
    xmllint --noout --schema "$(dirname "$0")/junit.xsd" "$folder/junit.xml" || status=4
else
    echo "xmllint is missing: the form of the JUnit file was not checked"
fi
if [ "$passed" -lt "$least" ]; then
    echo "only $passed cases passed; $least are wanted"
    status=5
fi
[ "$status" -eq 0 ] || cat "$folder/device"
exit "$status"
