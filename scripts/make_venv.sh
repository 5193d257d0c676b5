#!/bin/sh
# Make a virtual environment with whatever this machine's Python offers.
# Usage: make_venv.sh PYTHON FOLDER
set -eu
python="$1"
folder="$2"
"$python" - <<'CHECK'
import sys
if sys.version_info < (3, 11):
    sys.exit("neckring needs Python 3.11 or newer; this is " + sys.version.split()[0])
CHECK
rm -rf "$folder"
if "$python" -m venv "$folder" 2>/dev/null && "$folder/bin/python" -m pip --version >/dev/null 2>&1; then
    exit 0
fi
# Some distributions ship Python without ensurepip: borrow the system's pip to fetch virtualenv.
rm -rf "$folder" "$folder.bootstrap"
"$python" -m pip install --quiet --target "$folder.bootstrap" virtualenv
PYTHONPATH="$folder.bootstrap" "$python" -m virtualenv --quiet "$folder"
rm -rf "$folder.bootstrap"
