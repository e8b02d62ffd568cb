#!/bin/sh
# Makes the traces and what they must tell, from the scripts beside them: run it when an adapter has changed for a
# good reason, then look at the differences before you commit them.
#   sh record.sh BUILD_DIR [cctalk|mdb|pulse|described [NAME...]]
# Each script's first line says what the host does: "# host: stack|return|first back|wait|hold|all|none". A second one,
# "# settings: TEXT", gives the adapter's settings. In described/, the name before the first "-" is the simulator's.
# What the host credited is compared with the device's own log; a difference must have been told as such.
set -u
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "$1" && pwd) || exit 1
shift
cmake --build "$build" --target replay_record test_replay cctalk_simulator mdb_simulator \
    pulse_simulator bits_simulator lines_simulator >/dev/null || exit 1

described_id() { # described_id SIMULATOR: the id of its description
    case $1 in
    cctalk) echo cctalk-events ;;
    bits) echo status-bits ;;
    lines) echo detector-lines ;;
    esac
}

# What the device put into its box and told, by its own log.
credits() { # credits SIMULATOR LOG
    case $1 in
    cctalk) grep -cE '"event":\[[1-9][0-9]*, ?0\]' "$2" ;;
    mdb) grep -cE '"event":\[(12[89]|13[0-9]|14[0-3]|17[6-9]|18[0-9]|19[01])\]' "$2" ;;
    pulse) grep -cE '"truth":"stacked",.*"pulses":[1-9]' "$2" ;;
    bits) grep -cE '"truth":"stacked",.*"told":1' "$2" ;;
    lines) echo 0 ;; # a detector only looks
    esac
}

one() { # one PROTOCOL NAME
    protocol=$1
    name=$2
    base=$here/$protocol/$name
    simulator=$protocol
    adapter=$protocol
    set -- "$(sed -n '2s/^# settings: //p' "$base.sim")"
    if [ "$protocol" = described ]; then
        simulator=${name%%-*}
        adapter=$(described_id "$simulator")
        set -- "$1" "$here/../../examples/descriptions/$adapter.json"
    fi
    folder=$(mktemp -d) || return 1
    "$build/tests/simulators/$simulator-simulator" --script "$base.sim" --port-file "$folder/port" --log "$folder/log" \
        --stop-after-ms 20000 >"$folder/device" 2>&1 &
    device=$!
    tries=0
    while [ ! -s "$folder/port" ] && [ $tries -lt 200 ]; do
        tries=$((tries + 1))
        sleep 0.05
    done
    "$build/tests/replay/replay_record" "$adapter" "tcp:127.0.0.1:$(cat "$folder/port")" "$folder/trace" \
        "$(sed -n '1s/^# host: //p' "$base.sim")" "$@"
    host=$?
    wait "$device"
    status=$?
    if [ $status -ne 0 ] || [ $host -ne 0 ]; then
        echo "$protocol/$name: simulator $status, host $host"
        cat "$folder/device"
        rm -rf "$folder"
        return 1
    fi
    # What was recorded after the device had ended belongs to no device.
    last=$(grep -n ' lost gone$' "$folder/trace" | tail -n 1 | cut -d : -f 1)
    # A tick whose step sends at once is implied by what is sent.
    head -n "${last:-100000}" "$folder/trace" | sed 's/^origin captured$/origin synthetic/' |
        awk '$2 == "tick" { if (held != "") print held; held = $0; time = $1; next }
             held != "" { if (!($2 == "to" && $1 == time)) print held; held = "" }
             { print }
             END { if (held != "") print held }' >"$base.trace"
    sed -n '/^# played whole only/p' "$base.sim" >>"$base.trace"
    size=$(wc -c <"$base.trace")
    "$build/tests/replay/test_replay" --write "$base.trace" >"$base.expect" || status=1
    told=$(grep -c '"kind":"stacked"' "$base.expect")
    true=$(credits "$simulator" "$folder/log")
    short=$(grep -cE 'lost_events|amount_may_be_short|outcome_unknown|unknown_code|unknown_note_stacked' "$base.expect")
    if [ "$told" -gt "$true" ] || { [ "$told" -lt "$true" ] && [ "$short" -eq 0 ]; }; then
        echo "$protocol/$name: the device credited $true, the host $told, and nothing was said"
        status=1
    fi
    [ "$size" -le 8192 ] || { echo "$protocol/$name: $size bytes"; status=1; }
    echo "$protocol/$name: $size bytes, $(wc -l <"$base.expect") lines told, $told of $true credits"
    rm -rf "$folder"
    return $status
}

bad=0
protocols=${1:-"cctalk mdb pulse described"}
[ $# -gt 0 ] && shift
for protocol in $protocols; do
    names=$*
    [ -n "$names" ] || names=$(cd "$here/$protocol" && ls ./*.sim | sed 's|^\./||; s|\.sim$||')
    for name in $names; do
        one "$protocol" "$name" || bad=$((bad + 1))
    done
done
echo "$bad bad"
[ "$bad" -eq 0 ]
