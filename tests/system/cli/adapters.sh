# Adapters in files of their own: loaded by path, listed with their maturity, run, and refused in one line.

skeleton=$build/examples/adapter-skeleton
run catalogue --adapter-file "$skeleton/libskeleton.so"
ends 0 "catalogue with an adapter file"
says '"id":"skeleton",.*"maturity":"experimental","origin":"file"' "the adapter is listed as a file's, with its maturity"
says '"id":"cctalk",.*"maturity":"experimental","origin":"built_in"' "and the built-in ones as what they are"
says_not 'hardware_verified' "nobody claims to have met hardware"

"$skeleton/skeleton-device" --port-file "$work/port" --stop-after-ms 60000 >"$work/device" 2>&1 &
device=$!
tries=0
while [ ! -s "$work/port" ] && [ $tries -lt 1000 ]; do # at most some seconds
    tries=$((tries + 1))
    "$tool" --version >/dev/null
done
run watch --adapter-file "$skeleton/libskeleton.so" --adapter skeleton --port "tcp:127.0.0.1:$(cat "$work/port")" \
    --accept all --count 4 --seconds 20 --json
ends 0 "watch with an adapter file"
says '"kind":"stacked".*"currency":"EUR","value_minor":500' "a stacked note is told with its value"
says '"kind":"rejected"' "and a refused one"
printf '3\nq\n' >"$work/lines"
run till --adapter-file "$skeleton/libskeleton.so" --adapter skeleton --port "tcp:127.0.0.1:$(cat "$work/port")" \
    --seconds 2 <"$work/lines"
ends 0 "till with an adapter file"
says 'went into the box' "tells what the machine does"
kill $device
wait $device 2>/dev/null

run watch --adapter-file "$root/README.md" --adapter skeleton --port "serial:$work/none"
ends 1 "watch with a file that is no shared library"
grep -q 'the loader says: ' "$work/err" && [ "$(wc -l <"$work/err")" -eq 1 ]
report $? "tells the loader's own line"
run watch --adapter-file "$build/tests/unit/abi/files/no-entry.so" --adapter skeleton --port "serial:$work/none"
ends 1 "watch with a shared library that is no adapter"
grep -q 'no function counterfoil_adapter_entry' "$work/err"
report $? "tells what it lacks"
misuse "an adapter file without a folder" catalogue --adapter-file libskeleton.so
misuse "an adapter file that is not there" catalogue --adapter-file "$work/none.so"
misuse "a folder for an adapter file" catalogue --adapter-file "$work"
misuse "an adapter file whose table is wrong" catalogue --adapter-file "$build/tests/unit/abi/files/baud.so"
misuse "an adapter file without a name" catalogue --adapter-file ""
