#!/bin/sh
# Simulates refused notes and cashiers with and without guidance, and prints every figure of docs/guidance.md.
#   simulate.sh BUILD_DIR
set -eu
"${1:?usage: simulate.sh BUILD_DIR}/tests/bench/simulate_guidance"
