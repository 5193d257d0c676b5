"""Fetch the third-party browser code by its lock file, and lay it where the pages look for it.

Run without arguments. It asks the npm registry once, checks each package against the digest in
package-lock.json, runs no package's scripts, and copies only the files named here. The pages work
without them: they then show no charts and say so.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from pathlib import Path

HOUSE = Path(__file__).parents[1]
LOCKED = ("package.json", "package-lock.json")
WORKSHOP = HOUSE / "build" / "browser"
SHELF = HOUSE / "src" / "neckring" / "web" / "static" / "third_party"
NOTE = "versions.json"
WANTED = {
    "uplot": {
        "dist/uPlot.iife.min.js": "uplot.js",
        "dist/uPlot.min.css": "uplot.css",
        "LICENSE": "uplot.LICENSE.txt",
    },
}
"""Package to its files and what they are called here. What only tests use stays in build/."""


def main() -> int:
    """Fetch and copy.

    Returns:
        0 when all is there, 1 when it is not; then it has said why and what that means.
    """
    if is_there():
        return 0
    npm = shutil.which("npm")
    if npm is None:
        return refuse("npm is not installed (Debian: apt-get install npm)")
    WORKSHOP.mkdir(parents=True, exist_ok=True)
    for name in LOCKED:
        shutil.copy(HOUSE / name, WORKSHOP / name)
    command = [npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
    ended = subprocess.run(command, cwd=WORKSHOP, capture_output=True, text=True, check=False)
    if ended.returncode:
        return refuse(f"npm ci failed:\n{ended.stderr.strip()}")
    lay_out()
    print(f"browser code is in {SHELF.relative_to(HOUSE)}")
    return 0


def refuse(why: str) -> int:
    """Say why the code is not there, and what is to be expected without it."""
    print(f"browser code not fetched: {why}", file=sys.stderr)
    print(
        "The console works without it: its pages then show no charts and say so.", file=sys.stderr
    )
    return 1


def is_there() -> bool:
    """Whether what was laid out is what the lock file names, byte for byte."""
    note = SHELF / NOTE
    if not note.exists() or not (WORKSHOP / "node_modules").is_dir():
        return False
    written = json.loads(note.read_text(encoding="utf-8"))
    return bool(written.get("lock") == digest(HOUSE / "package-lock.json")) and all(
        (SHELF / name).exists() and digest(SHELF / name) == known
        for name, known in written["files"].items()
    )


def lay_out() -> None:
    """Copy the wanted files, with a note of their versions, licences and digests."""
    SHELF.mkdir(parents=True, exist_ok=True)
    files, packages = {}, {}
    for package, names in WANTED.items():
        folder = WORKSHOP / "node_modules" / package
        about = json.loads((folder / "package.json").read_text(encoding="utf-8"))
        packages[package] = {"version": about["version"], "licence": about["license"]}
        for source, name in names.items():
            shutil.copy(folder / source, SHELF / name)
            files[name] = digest(SHELF / name)
    note = {"lock": digest(HOUSE / "package-lock.json"), "packages": packages, "files": files}
    (SHELF / NOTE).write_text(json.dumps(note, indent=2) + "\n", encoding="utf-8")


def digest(path: Path) -> str:
    """SHA-256 of a file, hexadecimal."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


if __name__ == "__main__":
    sys.exit(main())
