"""Paired devices in a file beside the log book: digests only, readable by the console's owner."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from neckring.live.entries import Role
from neckring.web.console_parts import Kept
from neckring.web.pairing import Session
from neckring.whole_file import write_whole


class SessionFile:
    """Keeps through a restart who may. Whoever reads the file cannot act as one of them."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def load(self) -> Kept:
        """What was kept; nothing when the file is not there or is not whole."""
        try:
            written = json.loads(self._path.read_text(encoding="utf-8"))
            sessions = tuple(
                Session(one["digest"], one["device"], Role(one["role"]), one["person"])
                for one in written["sessions"]
            )
            sources = {str(name): str(digest) for name, digest in written["sources"].items()}
            return Kept(sessions, sources, written["opened"] is True)
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            # Nobody is let in by a file that cannot be read: devices are then paired again.
            return Kept()

    def save(self, kept: Kept) -> None:
        """Keep this and nothing else: the whole file, or the one before.

        Raises:
            OSError: When it cannot be written.
        """
        write_whole(self._path, json.dumps(asdict(kept), indent=1))
