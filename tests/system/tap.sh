# Sourced by scripts of this folder: a TAP line for each thing that was tried. $work/out and $work/err are shown when it was
# not good.

number=0
failed=0

report() { # report RESULT NAME
    number=$((number + 1))
    if [ "$1" -eq 0 ]; then
        echo "ok $number - $2"
        return
    fi
    failed=$((failed + 1))
    echo "not ok $number - $2"
    for stream in out err; do
        [ ! -e "$work/$stream" ] || sed "s/^/# $stream: /" "$work/$stream"
    done
}

skip() { # skip NAME WHY
    number=$((number + 1))
    echo "ok $number - $1 # SKIP $2"
}

finish() {
    echo "1..$number"
    [ "$failed" -eq 0 ]
}
