#!/bin/sh
# Boots Debian's kernel in an emulated machine and tries real drivers there: serial lines, USB devices, their plugs.
#   sh tests/system/machine/run.sh BUILD_DIR [WORD]
# Without the emulator or a kernel it says so and ends with 77 (skipped). WORD: only the parts with that word in their
# name. KVM=yes uses hardware acceleration; not so by default, since a computer that is itself emulated may hang with it.
set -u
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "$1" && pwd)
skip() {
    echo "1..0 # SKIP $*"
    exit 77
}
for program in qemu-system-x86_64 busybox cpio dpkg-deb; do
    command -v $program >/dev/null || skip "$program is missing: apt-get install qemu-system-x86 busybox-static cpio"
done
ldd "$(command -v busybox)" >/dev/null 2>&1 && skip "busybox is not the static one: apt-get install busybox-static"
[ -x "$build/tests/system/machine/machine-ports" ] || skip "this build has no programs for the machine"

# The kernel is unpacked beside the build and never installed.
cache=$build/machine
mkdir -p "$cache"
if ! ls "$cache"/kernel/boot/vmlinuz-* >/dev/null 2>&1; then
    package=$(apt-cache depends linux-image-amd64 2>/dev/null | sed -n 's/.*Depends: \(linux-image-[0-9].*\)/\1/p' | head -n 1)
    [ -n "$package" ] || skip "no kernel package is known: apt-get update"
    (cd "$cache" && apt-get download -qq "$package" >/dev/null 2>&1) || skip "the kernel package cannot be downloaded"
    dpkg-deb -x "$cache/$package"_*.deb "$cache/kernel" || skip "the kernel package cannot be unpacked"
    rm -f "$cache/$package"_*.deb
fi

accelerator="-accel tcg,thread=multi"
[ "${KVM:-no}" = yes ] && [ -w /dev/kvm ] && accelerator="-accel kvm $accelerator" # the second if the first fails
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
sh "$here/image.sh" "$build" "$cache/kernel" "$work/image.gz" || exit 1
# Two 16550 ports are joined with each other, a third with a USB serial adapter; the first one is the console.
# shellcheck disable=SC2086 # the options are meant to be split
timeout -k 5 "${MACHINE_SECONDS:-600}" qemu-system-x86_64 -machine pc $accelerator -m 384 -smp 2 -nodefaults -display none -no-reboot \
    -serial file:"$work/console" \
    -chardev "socket,id=near,path=$work/line,server=on,wait=off" -serial chardev:near \
    -chardev "socket,id=far,path=$work/line" -serial chardev:far \
    -chardev "socket,id=outer,path=$work/adapter,server=on,wait=off" -serial chardev:outer \
    -chardev "socket,id=inner,path=$work/adapter" -device qemu-xhci -device usb-serial,chardev=inner \
    -kernel "$(ls "$cache"/kernel/boot/vmlinuz-*)" -initrd "$work/image.gz" \
    -append "console=ttyS0 quiet no_timer_check panic=-1 rdinit=/init only=${2:-}" 2>"$work/emulator"
status=$?
tr -d '\r' <"$work/console" | grep -E '^(ok|not ok|1\.\.|#)' || true
if [ $status -ne 0 ] || ! grep -q '^# machine: 0 failures' "$work/console"; then
    echo "# the emulator ended with $status; the end of the console:"
    tail -n 30 "$work/console" "$work/emulator"
    exit 1
fi
