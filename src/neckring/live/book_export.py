"""A log book as JSON Lines, one entry a line, and a copy of the file while it is written to.

Each line is canonical JSON (RFC 8785) of `digest`, `entry` and `previous`. `digest` is SHA-256 over
the letters of `previous` and the canonical JSON of `entry`: anybody can verify it with a few lines
in any language.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from neckring.live.book_json import canonical, parsed
from neckring.live.chain import BrokenChainError, Row, empty, entry_of, placed, row_text, verified
from neckring.live.entries import BookError, Entry, Head
from neckring.live.sqlite_book import read_sqlite_book, sync_folder
from neckring.live.sqlite_rows import SqliteReader, telling

UNFINISHED = ".unfinished"


def line_of(entry: Entry) -> str:
    """An entry as a line, without its end."""
    return canonical(
        {"digest": entry.digest, "entry": parsed(row_text(entry)), "previous": entry.previous}
    )


def write_export(entries: Iterable[Entry], path: Path) -> int:
    """Write entries as JSON Lines: the whole file, or none.

    Returns:
        How many.

    Raises:
        BookError: When it cannot be written, or an entry cannot be read.
    """
    count = 0
    unfinished = path.with_name(path.name + UNFINISHED)
    try:
        with unfinished.open("w", encoding="utf-8", newline="\n") as file:
            for count, entry in enumerate(entries, 1):  # noqa: B007 - the last number is the count
                file.write(line_of(entry) + "\n")
            file.flush()
            os.fsync(file.fileno())
        put_in_place(unfinished, path)
    except OSError as error:
        raise BookError(f"{path}: it cannot be written: {error.strerror}") from None
    finally:
        unfinished.unlink(missing_ok=True)
    return count


def read_export(path: Path) -> Iterator[Entry]:
    """Entries of an exported chain, each verified as it is read.

    Raises:
        BookError: Where the file cannot be read, or at the first line that is not what was written.
    """
    try:
        with path.open("rb") as file, placed(str(path)):
            yield from _verified_lines(file)
    except OSError as error:
        raise BookError(f"{path}: it cannot be read: {error.strerror}") from None


def verify_export(path: Path) -> Head:
    """Verify an exported chain from its first line to its last.

    Returns:
        Its head: compare it with one kept elsewhere, since missing last lines do not show.

    Raises:
        BookError: At the first line that is not what was written.
    """
    last = None
    for entry in read_export(path):
        last = entry
    if last is None:
        raise BookError(f"{path}: there is no entry in it")
    return Head(last.station, last.number, last.digest)


def _verified_lines(lines: Iterable[bytes]) -> Iterator[Entry]:
    rows = (_row(number, line) for number, line in enumerate(lines, 1))
    first = next(rows, None)
    if first is not None:
        station = entry_of(first).station
        yield from verified(_behind(first, rows), empty(station))


def _behind(first: Row, rows: Iterator[Row]) -> Iterator[Row]:
    yield first
    yield from rows


def _row(number: int, line: bytes) -> Row:
    """The row of a line; it must be just as it would be written."""
    try:
        data: Any = parsed(line.decode())
        if canonical(data).encode() + b"\n" != line:
            raise BrokenChainError(number, f"line {number} is not as it was written")
        return Row(
            data["entry"]["number"],
            data["entry"]["deed"]["key"],
            canonical(data["entry"]),
            data["previous"],
            data["digest"],
        )
    except (ValueError, KeyError, TypeError):
        raise BrokenChainError(number, f"line {number} is not an entry") from None


def backup(source: Path, target: Path) -> Head:
    """Copy a log book, also while a console writes to it, and verify the copy.

    Returns:
        Head of the copy.

    Raises:
        BookError: When it cannot be copied, or the copy does not verify; then there is none.
    """
    unfinished = target.absolute().with_name(target.name + UNFINISHED)
    if not source.is_file():
        raise BookError(f"{source}: there is no such log book")
    reader = SqliteReader(source.absolute())
    try:
        _copy(reader, unfinished)
        copy = read_sqlite_book(unfinished)
        head = copy.head()
        copy.close()
        put_in_place(unfinished, target)
    except OSError as error:
        raise BookError(f"{target}: it cannot be written: {error.strerror}") from None
    finally:
        reader.close()
        unfinished.unlink(missing_ok=True)
    return head


def _copy(reader: SqliteReader, path: Path) -> None:
    """One file with nothing beside it: what is in the write-ahead log is in the copy."""
    path.unlink(missing_ok=True)
    with telling(path):
        copy = sqlite3.connect(path, isolation_level=None)
        try:
            reader.backup_to(copy)
            copy.execute("PRAGMA journal_mode = DELETE").fetchall()
        finally:
            copy.close()
    with path.open("rb") as file:
        os.fsync(file.fileno())


def put_in_place(unfinished: Path, path: Path) -> None:
    """Give a finished file its name, for good."""
    unfinished.replace(path)
    sync_folder(path.absolute().parent)
