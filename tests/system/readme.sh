#!/bin/sh
# The README's program compiles under strict flags, and the files it names exist.
set -eu
root=$(cd "$(dirname "$0")/../.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
awk '/^```c$/ { inside = 1; next } /^```$/ { inside = 0 } inside' "$root/README.md" >"$work/host.c"
[ -s "$work/host.c" ] || { echo "README.md has no C program"; exit 1; }
gcc -std=c11 -Wall -Wextra -pedantic -Werror -fsyntax-only -I"$root/include" "$work/host.c"
for name in $(grep -ho '`\(docs\|examples\|plugin\|tests\|adapters\)/[A-Za-z0-9_./-]*`' "$root/README.md" "$root/DEVELOPERS.md" | tr -d '`' | sort -u); do
    [ -e "$root/$name" ] || { echo "README.md or DEVELOPERS.md names $name, which does not exist"; exit 1; }
done
echo "the README's program compiles and what it names exists"
