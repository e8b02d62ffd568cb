#!/bin/sh
# Format, lint and size limits of the sources.
set -eu
cd "$(dirname "$0")/../.."
files=$(git ls-files '*.c' '*.h' 2>/dev/null || true)
[ -n "$files" ] || files=$(find adapters examples include plugin tests -name '*.[ch]')

# shellcheck disable=SC2086
clang-format --dry-run --Werror $files

# Functions of the library: at most 80 lines; files at most 600 (the public header is one long comment).
awk '
    FNR == 1 { start = 0 }
    /^[a-z].*\)$/ { name = $0 }
    /^{/ { start = FNR }
    /^}/ { if (start && FNR - start > 80) { print FILENAME ":" start ": " FNR - start " lines: " name; bad = 1 } start = 0 }
    FNR > 600 && !told[FILENAME] { told[FILENAME] = 1; print FILENAME ": more than 600 lines"; bad = 1 }
    END { exit bad }
' plugin/*/*.[ch] adapters/*/*.[ch]

# One file a run: several in one process make the analyser of this version report va_list wrongly.
ls plugin/*/*.c adapters/*/*.c | xargs -P 2 -n 1 clang-tidy --quiet -p .build/ci >.build/tidy.log 2>&1 || {
    grep -E 'error|warning:' .build/tidy.log | head -40
    exit 1
}
echo "format, size and lint as they should be"
