# Watch without a device: the port is not there, and the ways to end.

run watch --adapter cctalk --port "serial:$work/no-device" --seconds 1 --json
ends 0 "watch ends after its seconds"
[ -s "$work/out" ] && [ "$(grep -c -v '^{.*}$' "$work/out")" -eq 0 ]
report $? "events are JSON lines"
says '"kind":"lane_state"' "the missing port is told as a state"
run watch --adapter cctalk --port "serial:$work/no-device" --seconds 1
ends 0 "watch as text"
says '^[0-9][0-9]:[0-9][0-9]:[0-9][0-9]Z lane ' "a line begins with time and kind"

stop_with() { # stop_with SIGNAL: a running watch ends cleanly
    : >"$work/out"
    "$tool" watch --adapter cctalk --port "serial:$work/no-device" >"$work/out" 2>"$work/err" &
    child=$!
    # The first event shows that the signal handler is in place; at most 10 s.
    tries=0
    while [ ! -s "$work/out" ] && [ $tries -lt 1000 ]; do
        tries=$((tries + 1))
        "$tool" --version >/dev/null
    done
    kill -s "$1" $child
    code=0
    wait $child || code=$?
    ends 0 "signal $1 ends watch cleanly"
}
stop_with TERM
stop_with INT

echo "no trace" >"$work/bad.trace"
run watch --adapter cctalk --port "trace:$work/bad.trace"
[ "$code" -ne 0 ] && [ "$(wc -l <"$work/err")" -eq 1 ]
report $? "a file that is no trace is told in one line"

printf '50\n' >"$work/lines"
run till --adapter cctalk --port "serial:$work/no-device" --seconds 1 <"$work/lines"
ends 0 "a till with a machine that is not there ends after its seconds"
says_not '^Check' "lines are not read while no question is open"
says 'Good-bye' "and says goodbye"

run watch --description "$root/examples/descriptions/detector-lines.json" --adapter detector-lines \
    --port "serial:$work/no-device" --seconds 1 --json
ends 0 "watch with a described device"
says '"kind":"lane_state"' "and its lane tells its state"
sed 's/"baud": 19200/"baud": 1/' "$root/examples/descriptions/detector-lines.json" >"$work/spoilt.json"
run watch --description "$work/spoilt.json" --adapter detector-lines --port "serial:$work/no-device"
ends 1 "watch with a spoilt description"
grep -q 'spoilt.json: line.baud: line 9: ' "$work/err"
report $? "tells file, place and line"
