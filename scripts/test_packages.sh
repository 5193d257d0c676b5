#!/bin/sh
# System packages that tests use: a browser for the pages, the one library that the program which
# drives it wants beyond Debian's base, the model checker spin with a compiler of C for what it
# writes, a message broker, a database server, and readers of printed letters and of square codes.
# Where they cannot be installed, those tests are skipped and pytest says why.
set -eu
browser="${NECKRING_BROWSER:-/usr/bin/chromium}"
wanted=""
[ -x "$browser" ] || wanted="$wanted chromium"
/sbin/ldconfig -p 2>/dev/null | grep -q libatomic.so.1 || wanted="$wanted libatomic1"
command -v spin >/dev/null 2>&1 || wanted="$wanted spin"
command -v gcc >/dev/null 2>&1 || wanted="$wanted gcc libc6-dev"
[ -x /usr/sbin/mosquitto ] || wanted="$wanted mosquitto"
ls /usr/lib/postgresql/*/bin/postgres >/dev/null 2>&1 || wanted="$wanted postgresql"
command -v tesseract >/dev/null 2>&1 || wanted="$wanted tesseract-ocr"
command -v zbarimg >/dev/null 2>&1 || wanted="$wanted zbar-tools"
command -v pdftoppm >/dev/null 2>&1 || wanted="$wanted poppler-utils"
[ -n "$wanted" ] || exit 0
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "installing$wanted for the tests (once, about a minute) ..."
    export DEBIAN_FRONTEND=noninteractive
    # shellcheck disable=SC2086
    if apt-get update -qq &&
        apt-get install -y -qq --no-install-recommends $wanted >/dev/null 2>&1; then
        exit 0
    fi
    echo "they could not be installed"
fi
echo "without$wanted: the tests that need them will be skipped"
