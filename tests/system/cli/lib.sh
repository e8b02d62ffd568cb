# Sourced by the scripts of this folder: what each check of the command needs.
#   $tool is the command under test, $work a folder of our own.

. "$root/tests/system/tap.sh"

# Runs the command with the standard input of the caller; the exit code is in $code.
run() {
    code=0
    "$tool" "$@" >"$work/out" 2>"$work/err" || code=$?
}

# ends CODE NAME: the last run ended so.
ends() {
    [ "$code" -eq "$1" ]
    report $? "$2 (exit $1, was $code)"
}

# misuse NAME ARGUMENT...: exit 2, nothing on standard output, one line that says what to do on standard error.
misuse() {
    name=$1
    shift
    run "$@" </dev/null
    [ "$code" -eq 2 ] && [ ! -s "$work/out" ] && [ "$(wc -l <"$work/err")" -eq 1 ] &&
        grep -q '^counterfoil: .*; .' "$work/err"
    report $? "misuse: $name"
}

# says PATTERN NAME, says_not PATTERN NAME: on standard output of the last run.
says() {
    grep -q -e "$1" "$work/out"
    report $? "$2"
}

# The same when lines may be broken anywhere.
says_across() {
    tr '\n' ' ' <"$work/out" | tr -s ' ' | grep -q -F -e "$1"
    report $? "$2"
}

says_not() {
    ! grep -q -i -e "$1" "$work/out"
    report $? "$2"
}
