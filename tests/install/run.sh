#!/bin/sh
# Installs to a scratch prefix, moves it, and builds a consumer in C and C++, by pkg-config and by the CMake package, and
# an adapter in a file of its own.
#   run.sh BUILD_DIR
set -eu
build=$1
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cmake --install "$build" --prefix "$work/first" >"$work/install.log"
mv "$work/first" "$work/moved" # both packages must be relocatable
prefix=$work/moved
libdir=$(dirname "$(find "$prefix" -name 'libcounterfoil.so' | head -n 1)")
PKG_CONFIG_PATH=$libdir/pkgconfig
export PKG_CONFIG_PATH

expected=$(sed -n 's/^#define CFOIL_VERSION_[A-Z]* \([0-9]*\)$/\1/p' "$prefix/include/counterfoil/counterfoil.h" | paste -sd.)
[ "$(pkg-config --modversion counterfoil)" = "$expected" ] || { echo "counterfoil.pc has another version"; exit 1; }
flags=$(pkg-config --cflags --libs counterfoil)
strict="-Wall -Wextra -pedantic -Werror"
# shellcheck disable=SC2086
gcc -std=c11 $strict "$here/consumer.c" $flags -o "$work/pc-c"
# shellcheck disable=SC2086
g++ -std=c++17 $strict -x c++ "$here/consumer.c" -x none $flags -o "$work/pc-cxx"
cmake -S "$here" -B "$work/cmake" -DCMAKE_PREFIX_PATH="$prefix" >"$work/cmake.log"
cmake --build "$work/cmake" >>"$work/cmake.log"
for program in "$work/pc-c" "$work/pc-cxx" "$work/cmake/consumer_c" "$work/cmake/consumer_cxx"; do
    said=$(LD_LIBRARY_PATH=$libdir "$program")
    [ "$said" = "$expected" ] || { echo "$program said '$said', not '$expected'"; exit 1; }
done
[ "$("$prefix/bin/counterfoil" --version)" = "counterfoil $expected, library $expected" ] || { echo "the installed tool is wrong"; exit 1; }
[ -e "$libdir/libcounterfoil.so.${expected%%.*}" ] || { echo "no file with the interface version"; exit 1; }
# A vendor's adapter: built against the installed package, tried by the installed suite, linked with nothing of ours.
example=$here/../../examples/adapter-skeleton
cp -R "$example" "$work/vendor" # nothing of the tree is beside it
cmake -S "$work/vendor" -B "$work/adapter" -DCMAKE_PREFIX_PATH="$prefix" -DCMAKE_C_FLAGS="$strict" >"$work/cmake.log"
cmake --build "$work/adapter" >>"$work/cmake.log" 2>&1 || { cat "$work/cmake.log"; exit 1; }
"$work/adapter/skeleton-test" >"$work/adapter.log" 2>&1 || { cat "$work/adapter.log"; exit 1; }
if readelf -d "$work/adapter/libskeleton.so" | grep -q 'NEEDED.*counterfoil'; then
    echo "the adapter is linked with the library"
    exit 1
fi
[ "$(nm -D --defined-only "$work/adapter/libskeleton.so" | awk '{print $3}')" = counterfoil_adapter_entry ] ||
    { echo "the adapter shows more than its entry"; exit 1; }
sh "$work/vendor/conform.sh" "$work/adapter" "$prefix/bin/counterfoil-conform" >"$work/adapter.log" 2>&1 ||
    { cat "$work/adapter.log"; exit 1; }

echo "installed, moved, and used from C and C++ by pkg-config and CMake; an adapter built from the package passes"
