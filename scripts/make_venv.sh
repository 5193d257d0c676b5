#!/bin/sh
# Make a virtual environment with whatever this machine's Python offers.
# Usage: make_venv.sh PYTHON FOLDER
set -eu
python="$1"
folder="$2"
if ! command -v "$python" >/dev/null 2>&1; then
    echo "no \"$python\" here: install Python 3.11 or newer, or run make PYTHON=/path/to/python3" >&2
    exit 1
fi
"$python" - <<'CHECK'
import sys
if sys.version_info < (3, 11):
    sys.exit(
        "neckring needs Python 3.11 or newer, and this is " + sys.version.split()[0]
        + "; with another one: make PYTHON=/path/to/python3"
    )
CHECK
rm -rf "$folder"
set -- install --quiet --disable-pip-version-check --require-hashes --requirement requirements-pip.lock
if "$python" -c "import ensurepip, venv" 2>/dev/null; then
    "$python" -m venv "$folder"
    "$folder/bin/python" -m pip "$@"
# Some distributions keep ensurepip in a package of its own: let the system's pip, which can work
# in another environment, put one there.
elif ! "$python" -m venv --without-pip "$folder" ||
    ! "$python" -m pip --python "$folder/bin/python" "$@"; then
    rm -rf "$folder"
    echo "this Python can make no environment with pip: install python3-venv or python3-pip" >&2
    exit 1
fi
