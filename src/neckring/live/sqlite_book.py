"""A log book in one SQLite file, beside which nothing runs: the usual one.

Write-ahead log, every commit synced, one writing connection owned by one thread, a lock against a
second console. Readers are read-only and never checkpoint.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from neckring.live.book_lock import BookLock
from neckring.live.book_schema import LOG_BOOK, NOT_OURS, SCHEMA_SQL, VERSION, sqlite_warnings
from neckring.live.book_writer import ChainWriter, StoreError
from neckring.live.chain import Row
from neckring.live.chained_book import ChainedBook, ReadableBook
from neckring.live.entries import BookError, Entry
from neckring.live.sqlite_rows import (
    COLUMNS,
    SqliteReader,
    connected,
    durable,
    naming,
    sound,
    telling,
)

CHECKPOINT_AT = 1000
"""Pages of the write-ahead log at which a commit carries it over; idle moments do so before."""
CHECKPOINT_WHEN_IDLE = 30
"""Commits after which an idle moment is used."""


class SqliteBook(ChainedBook):
    """A log book in a file, open for writing."""

    def __init__(
        self, path: Path, station: str, seen: Callable[[Entry], None] | None = None
    ) -> None:
        """Open a book, or make it with its folder, and verify it.

        Args:
            path: Its file.
            station: Code of the desk whose chain it is.
            seen: Hears each entry that stands there as it is verified, on the writing thread.

        Raises:
            BookError: When another console has it open, when it is another station's or no log
                book, when it cannot be read or written, or when it does not verify.
        """
        path = path.absolute()
        made = make_folder(path.parent)
        lock = BookLock(path)
        try:
            writer = ChainWriter(SqliteStore(path, station), station, str(path), seen)
            try:
                for folder in made:
                    sync_folder(folder)
                reader = SqliteReader(path)
            except BaseException:
                writer.close()
                raise
        except BaseException:
            lock.release()
            raise
        super().__init__(writer, reader, str(path), sqlite_warnings(sqlite3.sqlite_version))
        self._lock = lock

    def close(self) -> None:
        """Write what still waits, and let go of file and lock."""
        super().close()
        self._lock.release()


def read_sqlite_book(path: Path) -> ReadableBook:
    """Open a book to look at it, beside a console that writes it or after the run.

    Raises:
        BookError: When it is not there, no log book, or does not verify.
    """
    if not path.is_file():
        raise BookError(f"{path}: there is no such log book")
    reader = SqliteReader(path.absolute())
    try:
        station = reader.station()
        book = ReadableBook(reader, station, str(path), sqlite_warnings(sqlite3.sqlite_version))
        book.verify()
        reader.check()
    except BaseException:
        reader.close()
        raise
    return book


def make_folder(folder: Path) -> list[Path]:
    """Make a folder and those above it that are missing.

    Returns:
        The folders whose entries changed, or will, and so must be synced once the book is made.

    Raises:
        BookError: When they cannot be made.
    """
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BookError(f"{folder}: this folder cannot be made: {error.strerror}") from None
    return [folder, *(each.parent for each in missing)]


def sync_folder(folder: Path) -> None:
    """Have the names in a folder on disk, not only the files' contents.

    Raises:
        BookError: When the disk does not do it.
    """
    try:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        raise BookError(f"{folder}: it cannot be synced: {error.strerror}") from None


class SqliteStore:
    """The one writing connection; used by the writing thread alone."""

    def __init__(self, path: Path, station: str) -> None:
        self._path = path
        self._station = station
        self._connection: sqlite3.Connection | None = None
        self._commits = 0

    def open(self) -> None:
        """Connect, and make the tables in an empty file."""
        with telling(self._path), naming(self._path):
            connection = self._connection = connected(self._path, "rwc")
            if self._is_new(connection):
                self._make(connection)
            durable(connection, CHECKPOINT_AT)
            self._know(connection)

    def _is_new(self, connection: sqlite3.Connection) -> bool:
        """Whether the file is empty; a file of somebody else is left as it is."""
        (mark,) = connection.execute("PRAGMA application_id").fetchone()
        (tables,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        if mark != LOG_BOOK and (mark or tables):
            raise StoreError(NOT_OURS)
        return bool(tables == 0)

    def _make(self, connection: sqlite3.Connection) -> None:
        durable(connection, CHECKPOINT_AT)
        connection.execute("BEGIN IMMEDIATE")
        for statement in SCHEMA_SQL:
            connection.execute(statement)
        connection.execute("INSERT INTO book (station) VALUES (?)", (self._station,))
        connection.execute(f"PRAGMA application_id = {LOG_BOOK}")
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")

    def _know(self, connection: sqlite3.Connection) -> None:
        """See that it is this station's book, in a form that is known."""
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        if version > VERSION:
            raise StoreError(f"it was made by a newer neckring (version {version} of the file)")
        (station,) = connection.execute("SELECT station FROM book").fetchone()
        if station != self._station:
            raise StoreError(f"it is the log book of station {station!r}, not {self._station!r}")

    def check(self) -> None:
        """See that the file's pages and indexes fit to its rows."""
        with telling(self._path), naming(self._path):
            sound(self._connected)

    def rows(self, after: int) -> Iterator[Row]:
        """Rows in order, from the one behind number `after`."""
        with telling(self._path):
            for row in self._connected.execute(
                f"SELECT {COLUMNS} FROM entry WHERE number > ? ORDER BY number", (after,)
            ):
                yield Row(*row)

    def standing(self, key: str) -> Row | None:
        """The row with a key, those of the open transaction included."""
        with telling(self._path):
            row = self._connected.execute(
                f"SELECT {COLUMNS} FROM entry WHERE key = ?", (key,)
            ).fetchone()
        return None if row is None else Row(*row)

    def begin(self) -> None:
        """Begin a transaction."""
        with telling(self._path):
            self._connected.execute("BEGIN IMMEDIATE")

    def insert(self, row: Row) -> None:
        """Write a row into the open transaction."""
        with telling(self._path):
            self._connected.execute(
                f"INSERT INTO entry ({COLUMNS}) VALUES (?, ?, ?, ?, ?)",
                (row.number, row.key, row.text, row.previous, row.digest),
            )

    def commit(self) -> None:
        """Return once the transaction is on disk."""
        with telling(self._path):
            self._connected.execute("COMMIT")
        self._commits += 1

    def tidy(self) -> None:
        """Carry the write-ahead log over while nobody waits.

        Its file keeps its length: what is written over syncs faster than what grows.
        """
        if self._commits >= CHECKPOINT_WHEN_IDLE:
            with telling(self._path):
                self._connected.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
            self._commits = 0

    def abandon(self) -> None:
        """Drop the connection and whatever is not committed."""
        connection, self._connection = self._connection, None
        if connection is not None:
            with suppress(sqlite3.Error):
                connection.close()

    @property
    def _connected(self) -> sqlite3.Connection:
        if self._connection is None:
            raise StoreError(f"{self._path}: the log book is not open")
        return self._connection
