"""The ledger's entries on disk: the log book's chain in a file of its own, read and verified once.

Each record is a note of that chain with the act and its body.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from neckring.ledger.ledger_state import Ledger
from neckring.ledger.records import Act, Record
from neckring.live.chained_book import ReadableBook
from neckring.live.entries import BookError, Entry
from neckring.live.sqlite_rows import SqliteReader

FILE = "ledger.sqlite"
CHAIN = "kit-ledger"
"""Whose chain it is: the kit's, whatever desk writes it."""


def record_of(entry: Entry) -> Record:
    """The record that an entry holds.

    Raises:
        BookError: It holds none.
    """
    body = entry.deed.body
    try:
        act, told = Act(str(body["act"])), body["told"]
        at = body["at"]
    except (KeyError, ValueError):
        raise BookError(f"entry {entry.number}: it is no record of a kit ledger") from None
    if not isinstance(told, dict) or not isinstance(at, int | float):
        raise BookError(f"entry {entry.number}: it is no record of a kit ledger")
    plain = {key: value for key, value in told.items() if isinstance(value, str | int | float)}
    return Record(entry.number, float(at), entry.deed.actor, act, plain)


def fold_in(ledger: Ledger, entry: Entry) -> Record:
    """Fold one more entry into a state.

    Raises:
        BookError: It holds no record, or one that speaks of what was never recorded.
    """
    record = record_of(entry)
    try:
        ledger.take(record)
    except (KeyError, ValueError):
        raise BookError(f"entry {entry.number}: it does not fit what stands before it") from None
    return record


@contextmanager
def ledger_to_read(kept: Path) -> Iterator[tuple[ReadableBook, SqliteReader]]:
    """The ledger, open and not yet verified.

    Args:
        kept: The folder in which the ledger lies; it is there.

    Raises:
        BookError: It cannot be read.
    """
    path = (kept / FILE).absolute()
    reader = SqliteReader(path)
    try:
        yield ReadableBook(reader, reader.station(), str(path)), reader
    finally:
        reader.close()


def read_records(kept: Path) -> Iterator[Record]:
    """Every record, in order, each verified as it is given; none where nothing was ever recorded.

    Args:
        kept: The folder in which the ledger lies.

    Raises:
        BookError: It cannot be read, or is not what was written.
    """
    if not (kept / FILE).exists():
        return
    with ledger_to_read(kept) as (book, _):
        yield from map(record_of, book.entries())
