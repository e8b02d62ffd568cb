# Sourced: browser_prepare FOLDER puts the test packages there and names Chromium in $browser; false, with $browser_lacks, when
# one of them cannot be had.
browser_prepare() {
    browser=$(command -v chromium || true)
    if [ -z "$browser" ] || ! command -v npm >/dev/null 2>&1; then
        browser_lacks="no Chromium or no npm on this machine"
        return 1
    fi
    browser_lacks="playwright-core and axe-core cannot be had"
    mkdir "$1" && (cd "$1" && npm install --no-save --no-audit --no-fund playwright-core@1 axe-core@4 >npm.out 2>&1 </dev/null)
}
