#!/bin/sh
# The public headers compile alone, under strict flags, as C99, C11 and C++17, also inside extern "C".
set -eu
root=$(cd "$(dirname "$0")/../.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
strict="-Wall -Wextra -pedantic -Werror -fsyntax-only -I$root/include"
for header in counterfoil adapter; do
    printf '#include <counterfoil/%s.h>\nint unused;\n' "$header" >"$work/$header.c"
    {
        printf '#include <counterfoil/%s.h>\n' "$header"
        printf 'cfoil_event make() { cfoil_event event = CFOIL_EVENT_INIT; return event; }\n'
    } >"$work/$header.cc"
    printf 'extern "C" {\n#include <counterfoil/%s.h>\n}\n' "$header" >"$work/wrapped-$header.cc"
    for standard in c99 c11; do
        # shellcheck disable=SC2086
        gcc -std=$standard $strict "$work/$header.c"
    done
    # shellcheck disable=SC2086
    g++ -std=c++17 $strict "$work/$header.cc" "$work/wrapped-$header.cc"
done
echo "headers compile as C99, C11 and C++17"
