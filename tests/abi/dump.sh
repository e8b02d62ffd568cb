#!/bin/sh
# Compares the library's binary interface with the dump kept beside this script.
#   dump.sh LIBRARY [--update]
set -eu
library=$1
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
abidw --exported-interfaces-only --headers-dir "$root/include" --drop-private-types --no-corpus-path --no-comp-dir-path --no-show-locs --no-elf-needed \
    --out-file "$work/now.abi" "$library"
# Where it was built is nobody's business and says nothing about the interface.
sed -i "s|path='[^']*/plugin/|path='plugin/|" "$work/now.abi"
if [ "${2:-}" = --update ]; then
    cp "$work/now.abi" "$here/counterfoil.abi"
    echo "dump updated"
    exit 0
fi
status=0
abidiff "$here/counterfoil.abi" "$work/now.abi" || status=$?
if [ $((status & 8)) -ne 0 ]; then
    echo "The binary interface changed in a way that breaks existing programs."
    exit 1
fi
if [ "$status" -ne 0 ]; then
    echo "The binary interface changed; if that is meant, run: sh tests/abi/dump.sh LIBRARY --update"
    exit 1
fi
echo "binary interface unchanged"
