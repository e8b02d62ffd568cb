#!/bin/busybox sh
# The first process of the emulated machine: makes devices out of gadgets, runs what is to be tried, says TAP on the
# console, and switches the machine off. tests/system/machine/run.sh reads it.
/bin/busybox mkdir -p /proc /sys /dev /tmp /run /sbin /usr/bin /etc
/bin/busybox --install -s /bin
export PATH=/bin:/test
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev
exec </dev/null
echo "root:x:0:0::/:/bin/sh" >/etc/passwd
ifconfig lo 127.0.0.1 up
for module in usb-common usbcore udc-core configfs libcomposite usb_f_fs u_serial usb_f_acm cdc-acm xhci-hcd xhci-pci usbserial ftdi_sio; do
    insmod /modules/$module.ko || echo "# no module $module"
done
insmod /modules/dummy_hcd.ko num=2
mount -t configfs config /sys/kernel/config
gadgets=/sys/kernel/config/usb_gadget

only=$(sed -n 's/.* only=\([A-Za-z0-9]*\).*/\1/p' /proc/cmdline)
mkfifo /tmp/part
number=0
failed=0
part() { # part NAME COMMAND...: its lines are numbered on; what it prints besides is a remark
    name=$1
    shift
    case $name in
    *"$only"*) ;;
    *) return ;;
    esac
    begun=$(date +%s)
    "$@" >/tmp/part 2>&1 &
    child=$!
    lines=0
    while IFS= read -r line; do
        case $line in
        "ok "*) number=$((number + 1)); lines=$((lines + 1)); echo "ok $number - $name:${line#ok *-}" ;;
        "not ok "*) number=$((number + 1)); lines=$((lines + 1)); failed=$((failed + 1)); echo "not ok $number - $name:${line#not ok *-}" ;;
        *) echo "# $line" ;;
        esac
    done </tmp/part
    wait $child
    status=$?
    for folder in /tmp/counterfoil-matrix-*; do # what is left of a script that failed
        [ -d "$folder" ] || continue
        sed 's/^/# truth: /' "$folder/truth"
        tail -n 60 "$folder/trace" | sed 's/^/# trace: /'
        rm -rf "$folder"
    done
    number=$((number + 1))
    if [ $status -eq 0 ] && [ $lines -gt 0 ]; then
        echo "ok $number - $name ends well"
    else
        failed=$((failed + 1))
        echo "not ok $number - $name ends with $status"
    fi
    echo "# $name took $(($(date +%s) - begun)) s"
}

gadget_make() { # gadget_make NAME SERIAL FUNCTION: not plugged in yet
    mkdir "$gadgets/$1"
    echo 0x1d6b >"$gadgets/$1/idVendor"
    echo 0x0104 >"$gadgets/$1/idProduct"
    mkdir "$gadgets/$1/strings/0x409" "$gadgets/$1/configs/c.1" "$gadgets/$1/functions/$3"
    echo "$2" >"$gadgets/$1/strings/0x409/serialnumber"
    echo "simulated validator" >"$gadgets/$1/strings/0x409/product"
    ln -s "$gadgets/$1/functions/$3" "$gadgets/$1/configs/c.1/"
}

join_make() { # join_make FILE KIND PLACE GADGET: a command that joins a port with the simulator at a TCP port
    cat >"$1" <<END
#!/bin/sh
[ "$4" = - ] || echo >"$4/UDC" 2>/dev/null
exec machine-device $2 $3 $4 \$1
END
    chmod +x "$1"
}

gadget_make bulk A ffs.bulk
gadget_make interrupt I ffs.interrupt
gadget_make acm B acm.0
for name in bulk interrupt; do
    mkdir /dev/ffs-$name
    mount -t functionfs $name /dev/ffs-$name
    join_make /tmp/join-$name $name /dev/ffs-$name $gadgets/$name
done
join_make /tmp/join-acm serial /dev/ttyGS0 $gadgets/acm
join_make /tmp/join-line serial /dev/ttyS2 -
join_make /tmp/join-adapter serial /dev/ttyS3 -

. /parts
echo "1..$number"
echo "# machine: $failed failures after $(cut -d' ' -f1 /proc/uptime) s"
poweroff -f
