#!/bin/sh
# The symbol list, the header and the built library name the same functions; every function is documented whole.
#   symbols.sh LIBRARY
set -eu
library=$1
root=$(cd "$(dirname "$0")/../.." && pwd)
header=$root/include/counterfoil/counterfoil.h
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
grep '^cfoil_' "$root/plugin/abi/symbols.txt" | cut -d' ' -f1 | sort >"$work/list"
sed -n 's/^CFOIL_API .*[ *]\(cfoil_[a-z_]*\)(.*/\1/p' "$header" | sort >"$work/header"
nm -D --defined-only "$library" | awk '$2 == "T" { sub(/@.*/, "", $3); print $3 }' | sort >"$work/library"
diff -u "$work/list" "$work/header" || { echo "symbols.txt and counterfoil.h differ"; exit 1; }
diff -u "$work/list" "$work/library" || { echo "symbols.txt and the library differ"; exit 1; }
count=$(wc -l <"$work/list")
# About 60 were promised: small enough to read in one sitting. Each one more needs a reason.
[ "$count" -le 66 ] || { echo "$count public functions: about 60 were promised"; exit 1; }

# Each declaration has a block with every part that a caller needs.
awk '
    /^\/\*\*/ { block = ""; inside = 1 }
    inside { block = block "\n" $0 }
    /\*\// { inside = 0 }
    /^CFOIL_API/ {
        match($0, /cfoil_[a-z_]+/); name = substr($0, RSTART, RLENGTH)
        split("@return @ownership @thread @blocks @since @example", parts, " ")
        for (i in parts) if (index(block, parts[i]) == 0) { print name ": its comment has no " parts[i]; bad = 1 }
        declaration = $0
        while (declaration !~ /;/) { getline line; declaration = declaration line }
        inner = declaration; sub(/^[^(]*\(/, "", inner); sub(/\);.*/, "", inner)
        count = split(inner, arguments, ",")
        for (i = 1; i <= count; i++) {
            if (arguments[i] == "void") continue
            argument = arguments[i]; sub(/.*[ *]/, "", argument)
            if (block !~ ("@param +" argument)) { print name ": its comment has no @param " argument; bad = 1 }
        }
        block = ""
    }
    END { exit bad }
' "$header"
echo "$count public functions: list, header and library agree, all documented"
