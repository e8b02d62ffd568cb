#!/bin/sh
# Compares our statistics with R and SciPy on inputs drawn by chance, and prints the greatest relative difference of each method.
#   compare-statistics.sh BUILD_DIR
# Debian: apt-get install r-base-core r-cran-spc python3-scipy. Not part of the everyday tests.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
build=${1:?usage: compare-statistics.sh BUILD_DIR}
python=/usr/bin/python3 # Debian's own, which sees Debian's packages
lines=$(mktemp)
trap 'rm -f "$lines"' EXIT
"$build/tests/compare_statistics" >"$lines"
bad=0
Rscript "$here/compare-statistics.R" "$lines" || bad=1
"$python" "$here/compare-statistics.py" "$lines" || bad=1
exit "$bad"
