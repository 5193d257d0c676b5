"""Writing a new station: the shipped files, whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from importlib.resources import as_file, files
from pathlib import Path
from typing import Literal

Shipped = Literal["demo", "starter"]


class CannotWriteError(Exception):
    """A folder in which no station can be written; says why."""


def write_new_station(target: Path, which: Shipped) -> None:
    """Write a shipped station.

    It is made beside the target and then moved there in one go, so that nothing half-written is
    ever seen.

    Args:
        target: Folder to make; may exist when it is empty.
        which: "starter", one of each file with comments; "demo", Tarn Quarry.

    Raises:
        CannotWriteError: The target holds something already, or cannot be written.
    """
    _refuse_occupied(target)
    whole = Path(os.path.abspath(target))
    try:
        whole.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{whole.name}.", dir=whole.parent))
    except OSError as problem:
        raise CannotWriteError(_why(target, problem)) from None
    try:
        _copy_shipped(which, draft)
        draft.replace(whole)
    except OSError as problem:
        shutil.rmtree(draft, ignore_errors=True)
        raise CannotWriteError(_why(target, problem)) from None


def _refuse_occupied(target: Path) -> None:
    try:
        if os.path.lexists(target) and (not target.is_dir() or any(target.iterdir())):
            sort = "is not empty" if target.is_dir() else "is no folder"
            raise CannotWriteError(f'read "{target}", which {sort}; accepted: a new folder')
    except OSError as problem:
        raise CannotWriteError(_why(target, problem)) from None


def _copy_shipped(which: Shipped, draft: Path) -> None:
    with as_file(files("neckring.station") / which) as source:
        for file in sorted(source.rglob("*.yaml")):
            copied = draft / file.relative_to(source)
            copied.parent.mkdir(exist_ok=True)
            copied.write_bytes(file.read_bytes())
    # Temporary folders are private; a station is as open as any new folder.
    mask = os.umask(0)
    os.umask(mask)
    draft.chmod(0o777 & ~mask)


def _why(target: Path, problem: OSError) -> str:
    reason = (problem.strerror or type(problem).__name__).lower()
    return f'read "{target}", which cannot be written ({reason}); accepted: a new folder'
