#!/bin/sh
# System packages that tests use: a browser for the report's page. Without the right to install,
# the browser's tests say so and are skipped.
set -eu
if command -v chromium >/dev/null 2>&1; then
    exit 0
fi
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "installing chromium for the page tests"
    apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq chromium >/dev/null
else
    echo "no chromium here and no right to install it: page tests in a browser will be skipped"
fi
