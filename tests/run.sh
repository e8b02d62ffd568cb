#!/bin/sh
# Builds and runs every test. Needs Debian 12; installs what is missing.
#   sh tests/run.sh            everything: release build, sanitizers, valgrind, benchmarks' smoke run
#   sh tests/run.sh --quick    one build and its quick tests (under a minute once it is built)
set -eu
root=$(cd "$(dirname "$0")/.." && pwd)
cd "$root"
. examples/packages.sh

quick=no
case "${1:-}" in
"") ;;
--quick) quick=yes ;;
*)
    echo "usage: sh tests/run.sh [--quick]" >&2
    exit 2
    ;;
esac

packages_need gcc g++ libc6-dev make cmake ninja-build pkg-config libserialport-dev libusb-1.0-0-dev libcjson-dev \
    libsqlite3-dev libsodium-dev libcmocka-dev libicu-dev libgeos-dev libleptonica-dev abigail-tools binutils libxml2-utils \
    python3-jsonschema
if [ "$quick" = no ]; then
    packages_need valgrind clang-format clang-tidy python3 default-jdk-headless libjna-java libmicrohttpd-dev curl chromium
    command -v npm >/dev/null 2>&1 || packages_need nodejs npm
fi

started=$(date +%s)
stage() {
    echo
    echo "== $* ($(($(date +%s) - started)) s)"
}

build() { # build PRESET
    cmake --preset "$1" >".build/$1.log" 2>&1 || { cat ".build/$1.log"; exit 1; }
    cmake --build ".build/$1" >".build/$1.log" 2>&1 || { tail -n 60 ".build/$1.log"; exit 1; }
}

mkdir -p .build
stage "release build"
build ci
if [ "$quick" = yes ]; then
    stage "quick tests on the release build"
    (cd .build/ci && ctest --output-on-failure -j4 -LE 'slow|conformance')
    stage "done"
    exit 0
fi
# The longest tests run once, in the build that can find most with them.
stage "tests on the release build"
(cd .build/ci && ctest --output-on-failure -j3 -E '^faults/matrix-')

stage "real drivers in an emulated machine"
if packages_need qemu-system-x86 busybox-static cpio; then
    machine=0
    sh tests/system/machine/run.sh .build/ci || machine=$?
    [ "$machine" -eq 0 ] || [ "$machine" -eq 77 ] || exit 1
    [ "$machine" -eq 0 ] || echo "SKIPPED: no emulated machine; real drivers were not tried"
else
    echo "SKIPPED: the emulator cannot be installed; real drivers were not tried"
fi

stage "address and undefined-behaviour sanitizers"
build asan
(cd .build/asan && ctest --output-on-failure -j3 -LE 'release|system' -E '^conformance/misbehaving-')

stage "thread sanitizer, on what has threads"
build tsan
# The refused allocations of one thread take minutes here and say nothing about threads.
(cd .build/tsan && ctest --output-on-failure -j3 -R '^unit/(abi|lane|os|transport|ledger)/|^faults/matrix' -E '/test_(memory|scarce)$')

stage "valgrind"
sh tests/unit/valgrind.sh .build/ci

stage "format and lint"
sh tests/unit/check-style.sh
stage "all tests passed"
