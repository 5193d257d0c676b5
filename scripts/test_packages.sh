#!/bin/sh
# The one system package that tests use: a browser for the report's page. Where it cannot be
# installed, the browser's tests are skipped and pytest says why.
set -eu
browser="${NECKRING_BROWSER:-/usr/bin/chromium}"
if [ -x "$browser" ]; then
    exit 0
fi
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "installing chromium for the tests of the page (once) ..."
    export DEBIAN_FRONTEND=noninteractive
    if apt-get update -qq && apt-get install -y -qq --no-install-recommends chromium >/dev/null 2>&1; then
        exit 0
    fi
    echo "chromium could not be installed"
fi
echo "no browser at $browser: the tests of the page in a browser will be skipped"
