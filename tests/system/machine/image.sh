#!/bin/sh
# Packs the machine's first file system: busybox, what is tested with the libraries it needs, the kernel's modules.
#   image.sh BUILD_DIR KERNEL_DIR OUTPUT
# KERNEL_DIR is an unpacked kernel package.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../../.." && pwd)
build=$1
modules=$(echo "$2"/lib/modules/*)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

program() { # program FILE: into /test, with its libraries at their places
    install -D "$1" "$work/test/$(basename "$1")"
    ldd "$1" | sed -n 's/.* => \(\/[^ ]*\) .*/\1/p; s/^[[:space:]]*\(\/[^ ]*\) .*/\1/p' | while read -r library; do
        [ -e "$work$library" ] || install -D "$(readlink -f "$library")" "$work$library"
    done
}

chmod 755 "$work" # other users are tried, too
mkdir -p "$work/bin" "$work/modules" "$work/scripts" "$work/wire"
install "$(command -v busybox)" "$work/bin/busybox"
install "$here/init.sh" "$work/init"
cp "$here/parts.sh" "$work/parts"
mkdir -p "$work/test"
cp "$here/steady.sim" "$work/test/"
program "$build/plugin/counterfoil"
program "$build/tests/faults/fault_matrix"
program "$build/tests/simulators/cctalk-simulator"
program "$build/tests/conformance/counterfoil-conform"
program "$build/tests/system/machine/machine-device"
program "$build/tests/system/machine/machine-ports"
for module in common/usb-common core/usbcore gadget/udc/udc-core gadget/udc/dummy_hcd gadget/libcomposite \
    gadget/function/usb_f_fs gadget/function/u_serial gadget/function/usb_f_acm class/cdc-acm host/xhci-hcd host/xhci-pci \
    serial/usbserial serial/ftdi_sio; do
    cp "$modules/kernel/drivers/usb/$module.ko" "$work/modules/"
done
cp "$modules/kernel/fs/configfs/configfs.ko" "$work/modules/"
# A slow machine may miss an answer and ask again: the scripts wait for more polls than over TCP before they go on.
scripts() { # scripts FOLDER NAME...
    folder=$1
    shift
    for script in "$@"; do
        sed 's/^wait polls 2$/wait polls 8/' "$root/tests/simulators/scripts/$script.sim" >"$work/$folder/$script.sim"
    done
}
scripts scripts drop-during-start drop-idle drop-in-escrow drop-while-stacking unplug-in-escrow unplug-and-replug
scripts wire drop-in-escrow hold-and-stack
cp "$root/tests/conformance/cctalk-adapter.sim" "$root/tests/conformance/cctalk-wire.sim" "$work/test/"
(cd "$work" && find . | cpio -o -H newc --quiet --owner 0:0) | gzip -1 >"$3"
