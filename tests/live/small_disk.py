"""A disk that is soon full."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

__all__ = ["fill", "small_disk"]

MEGABYTE = 1 << 20


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of a megabyte, in memory; only the system's owner may mount one."""
    folder = tmp_path / "small"
    folder.mkdir()
    if os.getuid() != 0:
        pytest.skip("a small disk is mounted by the system's owner only")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={MEGABYTE}", "none", str(folder)],
        capture_output=True,
        text=True,
    )
    if mounted.returncode:
        pytest.skip(f"no small disk can be mounted here: {mounted.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def fill(disk: Path) -> Path:
    """Take all the room that is left."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        size = MEGABYTE
        while size >= 1:
            try:
                file.write(bytes(size))
            except OSError:
                size //= 2
    return filler
