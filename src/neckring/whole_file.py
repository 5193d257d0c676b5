"""Files that are either the old or the whole new one, never a half."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

OWN = 0o600
"""Only its owner reads it."""
SHARED = 0o644
"""Everybody may read it."""


def write_whole(path: Path, content: str | bytes, mode: int = OWN) -> None:
    """Write a file whole, on disk once this returns; its folder is there.

    Args:
        path: The file.
        content: All of it.
        mode: Who may read and write it.

    Raises:
        OSError: It could not be written; what was there before still is.
    """
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(draft, mode)
        os.replace(draft, path)
    except OSError:
        Path(draft).unlink(missing_ok=True)
        raise
