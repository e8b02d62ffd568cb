# Sourced by examples/run.sh and tests/run.sh: packages_need NAME... installs what is missing on Debian, saying so.

packages_need() {
    missing=""
    for package in "$@"; do
        case "$(dpkg-query -W -f='${Status}' "$package" 2>/dev/null || true)" in
        *"ok installed"*) ;;
        *) missing="$missing $package" ;;
        esac
    done
    if [ -z "$missing" ]; then
        return 0
    fi
    echo "Installing missing packages:$missing"
    as_root=""
    if [ "$(id -u)" -ne 0 ]; then
        if ! command -v sudo >/dev/null 2>&1; then
            echo "Cannot install them: run 'apt-get install$missing' as root, then try again." >&2
            return 1
        fi
        as_root="sudo"
    fi
    log=$(mktemp)
    # shellcheck disable=SC2086 # the list is meant to be split
    if $as_root env DEBIAN_FRONTEND=noninteractive sh -c "apt-get update && apt-get install -y --no-install-recommends$missing" \
        >"$log" 2>&1 </dev/null; then
        rm -f "$log"
        return 0
    fi
    cat "$log" >&2
    rm -f "$log"
    echo "Installing failed; see the lines above." >&2
    return 1
}
