#!/bin/sh
# Does the `counterfoil` command do what its help says, and does it answer every mistake with one line?
#   sh run.sh BUILD_DIR
set -u
if [ $# -ne 1 ]; then
    echo "usage: sh run.sh BUILD_DIR" >&2
    exit 2
fi
folder=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$folder/../../.." && pwd)
build=$(cd "$1" && pwd)
tool=$build/plugin/counterfoil
if [ ! -x "$tool" ]; then
    echo "Bail out! $tool is missing: build the target counterfoil_tool first"
    exit 1
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
. "$folder/lib.sh"
: >"$work/out"
: >"$work/err"

for part in misuse help serial till hand guided records keep papers walk key exchange packs damaged scan watch adapters devices; do
    . "$folder/$part.sh"
done
finish
