"""Files that are either the old or the whole new one, never a half."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, text: str) -> None:
    """Write a file whole, on disk once this returns; its folder is there.

    Args:
        path: The file.
        text: All of it.

    Raises:
        OSError: It could not be written; what was there before still is.
    """
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, path)
    except OSError:
        Path(draft).unlink(missing_ok=True)
        raise
