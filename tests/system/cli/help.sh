# Help and version: exit 0, on standard output, at most 80 columns.

fits() { # fits NAME: no line is wider than 80 columns
    [ "$(awk '{ if (length($0) > 80) wide++ } END { print wide + 0 }' "$work/out")" -eq 0 ] && [ ! -s "$work/err" ]
    report $? "$1 fits 80 columns"
}

for option in --help -h help; do
    run $option
    ends 0 "$option"
    says '^usage: counterfoil COMMAND' "$option tells the usage"
    fits "$option"
done
for command in watch till serial report verify entry held custody reconcile cases tender staff rule key rebuild pack catalogue devices; do
    grep -q "^  $command " "$work/out"
    report $? "the program's help lists $command"
done
for command in watch till serial report verify entry held custody reconcile cases tender staff rule key rebuild pack catalogue devices; do
    run help $command
    ends 0 "help $command"
    says "^usage: counterfoil $command" "help $command tells the usage"
    fits "help $command"
    cp "$work/out" "$work/help"
    run $command --help
    cmp -s "$work/help" "$work/out"
    report $? "$command --help is the same text"
done
run help watch
says 'do not count' "help watch says what does not count"
run --version
ends 0 "--version"
says '^counterfoil [0-9][0-9.]*, library [0-9][0-9.]*$' "--version tells both versions"

if [ -e /dev/full ]; then
    code=0
    "$tool" --help >/dev/full 2>"$work/err" || code=$?
    ends 1 "a full disk is told"
fi
code=0
"$tool" --help >&- 2>"$work/err" || code=$?
ends 1 "a closed output is told"
