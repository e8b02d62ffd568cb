#!/bin/sh
# Does the adapter in the file pass every case of the conformance suite that needs no hand at the device?
#   sh conform.sh BUILD_DIR CONFORM [OPTION...]
set -u
build=$1
conform=$2
shift 2
folder=$(mktemp -d) || exit 1
"$build/skeleton-device" --port-file "$folder/port" --stop-after-ms 120000 >"$folder/device" 2>&1 &
device=$!
trap 'kill $device 2>/dev/null; wait $device 2>/dev/null; rm -rf "$folder"' EXIT
tries=0
while [ ! -s "$folder/port" ] && [ $tries -lt 200 ]; do # the file appears all at once
    tries=$((tries + 1))
    sleep 0.05
done
"$conform" --adapter-file "$build/libskeleton.so" --port "tcp:127.0.0.1:$(cat "$folder/port")" --notes-come \
    --seconds-per-case 8 "$@" >"$folder/out" 2>&1
status=$?
cat "$folder/out"
passed=$(grep -c '^pass ' "$folder/out")
if [ "$status" -eq 0 ] && [ "$passed" -lt 10 ]; then
    echo "only $passed cases passed; 10 are wanted"
    status=5
fi
[ "$status" -eq 0 ] || cat "$folder/device"
exit "$status"
