# What is tried in the emulated machine. Sourced by init.sh there.

simulate() { # simulate SCRIPT: in the background; its TCP port is in /tmp/port
    rm -f /tmp/port
    cctalk-simulator --script "$1" --port-file /tmp/port --stop-after-ms 280000 >/tmp/simulator.log 2>&1 &
    simulator=$!
    while [ ! -s /tmp/port ]; do usleep 20000; done
}

steady() { # steady PORT GADGET JOIN CYCLES: a device that only answers, plugged and pulled
    simulate /test/steady.sim
    $3 "$(cat /tmp/port)" &
    join=$!
    # glibc(7) tunables: what a thread's cache keeps would count as used.
    GLIBC_TUNABLES=glibc.malloc.tcache_count=0 machine-ports "$1" "$2" "$4"
    code=$?
    kill $join $simulator 2>/dev/null
    return $code
}

conform() { # conform PORT JOIN
    simulate /test/cctalk-wire.sim
    $2 "$(cat /tmp/port)" &
    join=$!
    counterfoil-conform --adapter cctalk --port "$1" --cases 'cctalk/framing/*' --notes-come --seconds-per-case 8 >/tmp/conform 2>&1
    code=$?
    sed 's/^pass /ok - /; s/^fail /not ok - /' /tmp/conform
    kill $join $simulator 2>/dev/null
    return $code
}

seen() { # seen PORT SECONDS: what a lane on it tells, as JSON lines
    counterfoil watch --adapter cctalk --port "$1" --seconds "$2" --json
}

check() { # check NAME PATTERN FILE
    if grep -q "$2" "$3"; then echo "ok - $1"; else echo "not ok - $1"; sed 's/^/# /' "$3"; fi
}

alike() { # two devices with the same numbers, one over bulk endpoints, one CDC-ACM
    simulate /test/steady.sim
    /tmp/join-bulk "$(cat /tmp/port)" &
    join=$!
    cat /sys/class/udc/*/uevent >/dev/null
    for controller in /sys/class/udc/*; do
        echo "$(basename "$controller")" >$gadgets/acm/UDC 2>/dev/null && break
    done
    tries=0
    until counterfoil devices >/tmp/devices && grep -q 'usb:1D6B:0104:A.*usb:1D6B:0104:B' /tmp/devices; do
        tries=$((tries + 1))
        [ $tries -lt 100 ] || break
        usleep 100000
    done
    check "both are listed by their serial numbers" 'usb:1D6B:0104:A.*usb:1D6B:0104:B' /tmp/devices
    check "the line of the second is listed as a serial port" 'serial:/dev/ttyACM0' /tmp/devices
    check "and its driver is named" '0104:B".*"system_driver":true' /tmp/devices
    seen usb:1D6B:0104 2 >/tmp/seen
    check "without a serial number none is taken" 'More than one\|2 USB devices' /tmp/seen
    seen usb:1D6B:0104:B 2 >/tmp/seen
    check "an interface that a driver holds is busy" 'detach=yes' /tmp/seen
    [ -e /dev/ttyACM0 ] && echo "ok - its driver is still there"
    seen usb:1D6B:0104:A 6 >/tmp/seen
    check "with one the right one answers" 'identified\|"idle"' /tmp/seen
    echo >$gadgets/acm/UDC
    kill $join $simulator 2>/dev/null
}

detached() { # the system's driver moved aside, and back
    simulate /test/steady.sim
    /tmp/join-acm "$(cat /tmp/port)" &
    join=$!
    until [ -e /dev/ttyACM0 ]; do usleep 50000; done
    counterfoil watch --adapter cctalk --port usb:1D6B:0104:B/detach=yes --seconds 8 --json >/tmp/seen &
    watch=$!
    usleep 4000000
    if [ -e /dev/ttyACM0 ]; then echo "not ok - the driver is moved aside"; else echo "ok - the driver is moved aside"; fi
    wait $watch
    check "the device answers without it" 'identified\|"idle"' /tmp/seen
    tries=0
    until [ -e /dev/ttyACM0 ] || [ $tries -ge 100 ]; do
        tries=$((tries + 1))
        usleep 50000
    done
    if [ -e /dev/ttyACM0 ]; then echo "ok - the driver comes back at the end"; else echo "not ok - the driver comes back at the end"; fi
    kill $join $simulator 2>/dev/null
}

part "16550 line" fault_matrix --through serial:/dev/ttyS1 /tmp/join-line cctalk /test/cctalk-simulator /wire
part "USB serial adapter" fault_matrix --through serial:/dev/ttyUSB0 /tmp/join-adapter cctalk /test/cctalk-simulator /wire
part "bulk, unplugged in every state" fault_matrix --through usb:1D6B:0104 /tmp/join-bulk cctalk /test/cctalk-simulator /scripts
part "interrupt endpoints" fault_matrix --through usb:1D6B:0104 /tmp/join-interrupt cctalk /test/cctalk-simulator /wire
part "bulk, plugged again and again" steady usb:1D6B:0104 $gadgets/bulk /tmp/join-bulk 50
part "CDC by the system driver" fault_matrix --through serial:/dev/ttyACM0 /tmp/join-acm cctalk /test/cctalk-simulator /wire
part "CDC without the driver" detached
part "two devices alike" alike
part "conformance on the 16550 line" conform serial:/dev/ttyS1 /tmp/join-line
