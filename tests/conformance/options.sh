#!/bin/sh
# Are mistakes of the tester told in one line, with status 2, and do --help, --list and a missing device end as promised?
#   sh options.sh CONFORM
set -u
conform=$1
bad=0
folder=$(mktemp -d) || exit 1
trap 'rm -rf "$folder"' EXIT

expect() { # expect STATUS WORD ARGUMENT...: the word must be in what is printed
    wanted=$1
    word=$2
    shift 2
    "$conform" "$@" >"$folder/out" 2>&1
    status=$?
    if [ "$status" -ne "$wanted" ] || ! grep -q -- "$word" "$folder/out"; then
        echo "counterfoil-conform $*: status $status, wanted $wanted and '$word'"
        cat "$folder/out"
        bad=1
    fi
}

one_line() {
    if [ "$(wc -l <"$folder/out")" -ne 1 ]; then
        echo "more than one line:"
        cat "$folder/out"
        bad=1
    fi
}

expect 2 '--adapter is required'
one_line
expect 2 '--port is required' --adapter cctalk
expect 2 'is not an option' --adapter cctalk --port tcp:127.0.0.1:1 --what
expect 2 'needs a value' --adapter
expect 2 'outside its range' --adapter cctalk --port tcp:127.0.0.1:1 --seconds-per-case 0
expect 2 'outside its range' --adapter cctalk --port tcp:127.0.0.1:1 --latency-ms x
expect 2 'needs --description' --adapter described --port tcp:127.0.0.1:1
expect 2 'leave --adapter' --adapter cctalk --adapter-file ./none.so --port tcp:127.0.0.1:1
expect 2 'there is no such file' --adapter-file ./none.so --port tcp:127.0.0.1:1
one_line
expect 2 'must name its folder' --adapter-file none.so --port tcp:127.0.0.1:1
one_line
echo text >"$folder/text.so"
expect 2 'the loader says' --adapter-file "$folder/text.so" --list
expect 2 'no case fits' --adapter cctalk --port tcp:127.0.0.1:1 --cases nothing
expect 2 'counterfoil-conform: ' --adapter cctalk --port tcp:127.0.0.1:1
one_line
expect 2 'counterfoil-conform: ' --adapter cctalk --port nonsense
expect 2 'folder for traces' --adapter cctalk --port tcp:127.0.0.1:1 --trace "$folder/missing"
expect 0 'does a note validator' --help
expect 0 'rule (one)' --adapter cctalk --list
expect 0 'tester: insert a good note' --adapter cctalk --list --cases 'cctalk/escrow/*'
# Every id is unique, and every case says what it is.
"$conform" --adapter cctalk --list >"$folder/list"
if [ "$(grep -c '^[a-z]' "$folder/list")" -ne "$(grep '^[a-z]' "$folder/list" | sort -u | wc -l)" ] ||
    grep -q '^    [a-z ()A-Z0-9?]*: *$' "$folder/list"; then
    echo "a case has no words, or two have one id"
    bad=1
fi

# A trace of silence: the device that never answers fails one case, and only one.
cat >"$folder/silent.trace" <<'T'
counterfoil-trace 1
adapter cctalk
settings address=40;check=sum
accept none
origin synthetic
T
expect 1 'no answer to the simple poll' --adapter cctalk --port "trace:$folder/silent.trace" --cases cctalk/framing/simple-poll
expect 0 'can stand in' --adapter cctalk --port "trace:$folder/silent.trace" --cases adapter/becomes-ready
expect 1 'there is no such trace' --adapter cctalk --port "trace:$folder/none" --cases cctalk/framing/simple-poll
exit $bad
