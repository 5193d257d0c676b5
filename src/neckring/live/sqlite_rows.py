"""Rows of a log book in SQLite: connecting, reading, and SQLite's complaints in words."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from neckring.live.book_schema import LOG_BOOK, NOT_OURS
from neckring.live.book_writer import StoreError
from neckring.live.chain import Row
from neckring.live.entries import BookError

COLUMNS = "number, key, text, previous, digest"
PAGE = 500
"""Rows fetched at once: nobody holds a reading transaction while others work on what it gave."""
PATIENCE = 5.0
"""Waited for a lock of somebody else's connection [s]."""

_FULL = (
    "the disk is full: nothing of this was recorded. Make room on this disk; the book then goes "
    "on by itself"
)
_IN_WORDS = {
    "SQLITE_FULL": _FULL,
    # A book that is opened on a full disk finds no room for the memory that its users share.
    "SQLITE_IOERR_SHMSIZE": _FULL,
    "SQLITE_NOTADB": NOT_OURS,
    "SQLITE_CORRUPT": "the file is damaged",
    "SQLITE_READONLY": "the file may not be written to",
    "SQLITE_CANTOPEN": "the file cannot be opened or made",
    "SQLITE_BUSY": "another program holds the file",
    "SQLITE_IOERR": "the disk failed to read or write; nothing of this was recorded",
}


def connected(path: Path, mode: str, shared: bool = False) -> sqlite3.Connection:
    """Connect to a file. Transactions are begun by hand.

    Args:
        path: Which, absolute.
        mode: "rwc" makes it, "ro" only looks.
        shared: Whether several threads use the connection, one at a time.
    """
    connection = sqlite3.connect(
        f"{path.as_uri()}?mode={mode}",
        uri=True,
        isolation_level=None,
        timeout=PATIENCE,
        check_same_thread=not shared,
    )
    # Letters that are none become others, so that the digest shows where.
    connection.text_factory = lambda text: text.decode("utf-8", "replace")
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def durable(connection: sqlite3.Connection, checkpoint_at: int) -> None:
    """Have every commit on disk before it returns; on a Mac through the drive's own cache too.

    Args:
        connection: The one that writes.
        checkpoint_at: Pages of the write-ahead log at which a commit empties it.

    Raises:
        StoreError: When this disk cannot keep a write-ahead log.
    """
    (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
    if mode != "wal":
        raise StoreError("this disk cannot keep a write-ahead log (is it a network drive?)")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA fullfsync = ON")
    connection.execute("PRAGMA checkpoint_fullfsync = ON")
    connection.execute(f"PRAGMA wal_autocheckpoint = {checkpoint_at}")


@contextmanager
def telling(path: Path) -> Iterator[None]:
    """Turn SQLite's complaints into words with the file's name."""
    try:
        yield
    except sqlite3.Error as error:
        raise StoreError(f"{path}: {in_words(error)}") from None


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """Put the file's name before what is wrong with it."""
    try:
        yield
    except StoreError as error:
        raise StoreError(f"{path}: {error}") from None


def in_words(error: sqlite3.Error) -> str:
    """What SQLite complains of."""
    name = getattr(error, "sqlite_errorname", "") or ""
    known = next((words for start, words in _IN_WORDS.items() if name.startswith(start)), "")
    return f"{known or 'SQLite says'} ({name or 'no code'}: {error})"


def sound(connection: sqlite3.Connection) -> None:
    """Check pages, tables and indexes of a file.

    Raises:
        StoreError: When they do not fit together; sqlite3.Error where the file cannot be read.
    """
    first = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if first != "ok":
        raise StoreError(f"the file is damaged: {first}")


class SqliteReader:
    """One read-only connection that several threads share."""

    def __init__(self, path: Path) -> None:
        """Connect.

        Raises:
            BookError: When the file is no log book or cannot be read.
        """
        self._path = path
        self._alone = threading.Lock()
        with telling(path):
            self._connection = connected(path, "ro", shared=True)
            try:
                (mark,) = self._connection.execute("PRAGMA application_id").fetchone()
            except sqlite3.Error:
                self._connection.close()
                raise
        if mark != LOG_BOOK:
            self._connection.close()
            raise BookError(f"{path}: {NOT_OURS}")

    def station(self) -> str:
        """Whose chain it is."""
        return str(self._fetched("SELECT station FROM book", ())[0][0])

    def check(self) -> None:
        """Check pages, tables and indexes of the file."""
        with self._alone, telling(self._path), naming(self._path):
            sound(self._connection)

    def row(self, number: int) -> Row | None:
        """The row with a number."""
        return self._one("WHERE number = ?", (number,))

    def standing(self, key: str) -> Row | None:
        """The row with a key."""
        return self._one("WHERE key = ?", (key,))

    def last(self) -> Row | None:
        """The row with the highest number."""
        return self._one("ORDER BY number DESC LIMIT 1", ())

    def rows(self, after: int) -> Iterator[Row]:
        """Rows in order, from the one behind number `after`, a page at a time."""
        query = f"SELECT {COLUMNS} FROM entry WHERE number > ? ORDER BY number LIMIT {PAGE}"
        page = [Row(*each) for each in self._fetched(query, (after,))]
        while page:
            yield from page
            page = [Row(*each) for each in self._fetched(query, (page[-1].number,))]

    def backup_to(self, target: sqlite3.Connection) -> None:
        """Copy the whole file as it is now; the writer is not held up."""
        with self._alone, telling(self._path):
            self._connection.backup(target, pages=-1)

    def close(self) -> None:
        """Let go of the file."""
        with self._alone:
            self._connection.close()

    def _one(self, where: str, values: tuple[int | str, ...]) -> Row | None:
        found = self._fetched(f"SELECT {COLUMNS} FROM entry {where}", values)
        return Row(*found[0]) if found else None

    def _fetched(self, query: str, values: tuple[int | str, ...]) -> list[tuple[Any, ...]]:
        with self._alone, telling(self._path):
            return self._connection.execute(query, values).fetchall()
