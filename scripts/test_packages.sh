#!/bin/sh
# System packages that tests use: a browser for the report's page, and the one library that the
# program which drives it wants beyond Debian's base. Where they cannot be installed, the browser's
# tests are skipped and pytest says why.
set -eu
browser="${NECKRING_BROWSER:-/usr/bin/chromium}"
library=libatomic.so.1
if [ -x "$browser" ] && /sbin/ldconfig -p 2>/dev/null | grep -q "$library"; then
    exit 0
fi
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "installing chromium for the tests of the page (once, about a minute) ..."
    export DEBIAN_FRONTEND=noninteractive
    if apt-get update -qq &&
        apt-get install -y -qq --no-install-recommends chromium libatomic1 >/dev/null 2>&1; then
        exit 0
    fi
    echo "it could not be installed"
fi
echo "no browser at $browser (or no $library): the tests of the page in a browser will be skipped"
