# The ports of this computer, whatever there are of them, and one that is named.

run devices
ends 0 "devices"
says '^{"schema":"counterfoil.devices/1","ports":\[.*\]}$' "is one JSON object"
says_not '"probed"' "nothing is probed that was not named"
run devices --listen "serial:$work/no-device" --seconds 1
ends 0 "devices with a port to listen on that is not there"
says '"listened":{"port":"serial:.*"adapter":"cctalk","heard":0,"bid":0,"result":261' "says that it is missing"
misuse "a port that is none" devices --probe /dev/ttyUSB0
misuse "listening too long" devices --listen tcp:127.0.0.1:1 --seconds 11

"$build/tests/simulators/cctalk-simulator" --script "$root/tests/simulators/scripts/hold-and-stack.sim" --port-file "$work/probe.port" \
    --stop-after-ms 60000 >"$work/simulator.out" 2>&1 &
child=$!
tries=0
while [ ! -s "$work/probe.port" ] && [ $tries -lt 1000 ]; do
    tries=$((tries + 1))
    "$tool" --version >/dev/null
done
run devices --probe "tcp:127.0.0.1:$(cat "$work/probe.port")" --seconds 4
ends 0 "devices with a port to probe"
says '"adapter":"cctalk","answered":true' "finds the simulated device"
says '"adapter":"mdb","answered":false' "and no other there"
says_not '"adapter":"pulse"' "and asks nobody who could not tell"
kill $child 2>/dev/null
wait $child 2>/dev/null
