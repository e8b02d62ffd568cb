#!/bin/sh
# The include graph is the architecture: each folder may see only what is named here.
set -eu
cd "$(dirname "$0")/../.."
bad=0

allowed() { # allowed FOLDER: what its files may include by quotes
    case "$1" in
    model) echo "model" ;;
    os) echo "os model" ;;
    packs) echo "packs model described/description.h" ;;
    ledger) echo "ledger os model" ;;
    statistics) echo "statistics ledger model" ;;
    guidance) echo "guidance packs model" ;;
    damaged) echo "damaged packs model" ;;
    scan) echo "scan" ;;
    transport) echo "transport os model" ;;
    lane) echo "lane transport ledger os model" ;;
    papers) echo "papers ledger packs model" ;;
    abi) echo "abi lane transport guidance damaged papers statistics ledger packs os model cctalk described mdb pulse" ;;
    tool) echo "tool" ;;
    esac
}

for folder in model os packs ledger statistics guidance damaged papers transport lane abi tool; do
    may=" $(allowed "$folder") "
    for line in $(grep -ho '^#include "[^"]*"' plugin/"$folder"/*.[ch] 2>/dev/null | sed 's/.*"\(.*\)"/\1/' | sort -u); do
        case "$line" in
        */*) used=${line%%/*} ;;
        *) used=$folder ;;
        esac
        case "$may" in
        *" $used "* | *" $line "*) ;;
        *)
            echo "plugin/$folder includes $line, which it must not see"
            bad=1
            ;;
        esac
    done
done

only() { # only PATTERN FOLDER...: no other folder of the plugin or the adapters may include it
    pattern=$1
    shift
    for file in $(grep -l "^#include <$pattern" plugin/*/*.[ch] adapters/*/*.[ch] 2>/dev/null || true); do
        folder=$(basename "$(dirname "$file")")
        case " $* " in
        *" $folder "*) ;;
        *)
            echo "$file includes <$pattern, which only $* may"
            bad=1
            ;;
        esac
    done
}
only sqlite3 ledger
only libserialport transport
only libusb transport
only sodium ledger
only pthread os
only dlfcn os
only sys/socket transport
only leptonica/ scan
only cjson/ packs model ledger statistics guidance damaged papers lane abi

# Adapters see their own folder and the adapter interface only, and do no input or output.
for line in $(grep -ho '^#include ["<][^">]*[">]' adapters/*/*.[ch] | sed 's/#include //' | sort -u); do
    case "$line" in
    '<counterfoil/adapter.h>' | '<counterfoil/counterfoil.h>' | '<stdbool.h>' | '<stddef.h>' | '<stdint.h>' | '<string.h>' | \
        '<stdio.h>' | '<stdarg.h>' | '<inttypes.h>') ;;
    '"'*) ;;
    *)
        echo "an adapter includes $line"
        bad=1
        ;;
    esac
done
if grep -nE '\b(printf|fprintf|puts|fopen|read|write|time|clock_gettime|malloc|calloc|free)\(' adapters/*/*.c; then
    echo "an adapter does input, output, allocation or looks at a clock"
    bad=1
fi
if grep -n 'sodium_init' $(ls plugin/*/*.c adapters/*/*.c | grep -v '^plugin/ledger/crypto_start.c$'); then
    echo "libsodium is made ready in plugin/ledger/crypto_start.c only"
    bad=1
fi
# The library prints nothing, never ends the process and leaves process-wide state alone.
if grep -nE '\b(printf|fprintf|puts|perror|abort|exit|_exit|atexit|signal|sigaction|setlocale|chdir|sqlite3_config|cJSON_InitHooks|getenv|setenv|sleep|usleep|nanosleep)\(' \
    $(ls plugin/*/*.c | grep -v -e '^plugin/tool/' -e '^plugin/scan/'); then
    echo "the library prints, ends the process, sleeps or changes process-wide state"
    bad=1
fi
if [ "$bad" -eq 0 ]; then
    echo "include graph as it should be"
fi
exit "$bad"
