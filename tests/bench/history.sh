#!/bin/sh
# Prints how soon the report names what happened in invented histories, and how often it names what did not (docs/statistics.md);
# then puts one history on record and shows its report. Minutes on a release build.
#   history.sh BUILD_DIR
set -eu
build=${1:?usage: history.sh BUILD_DIR}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$build/tests/bench/history"
"$build/tests/bench/history" --ledger "$work/demo.ledger"
echo
"$build/plugin/counterfoil" report --ledger "$work/demo.ledger" --store "North Quay"
