"""One console to a log book: a lock that the system lets go of when its holder dies."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from neckring.live.entries import BookError


class BookLock:
    """Held as long as a book is open for writing.

    The file stays behind: were it deleted, two consoles could hold two files of one name.
    """

    def __init__(self, book: Path) -> None:
        """Take the lock of a book.

        Raises:
            BookError: When another console holds it, or its file cannot be made.
        """
        path = book.with_name(book.name + ".lock")
        try:
            self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as error:
            raise BookError(f"{path}: the lock cannot be made: {error.strerror}") from None
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            holder = os.read(self._file, 20).decode("ascii", "replace").strip()
            self.release()
            raise BookError(
                f"{book}: another console has this log book open (process {holder or 'unknown'}); "
                "close that one first, or look at the book without writing"
            ) from None
        self._name_holder()

    def _name_holder(self) -> None:
        """For the words above only: the lock holds without it, on a full disk too."""
        try:
            os.ftruncate(self._file, 0)
            os.pwrite(self._file, str(os.getpid()).encode(), 0)
        except OSError:
            pass

    def release(self) -> None:
        """Let go; more than once does no harm."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1
