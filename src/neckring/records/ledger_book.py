"""The ledger on disk: the log book's chain in a file of its own, in the station's kept/ folder.

Each record is a note of that chain with the act and its body; what holds for the log book holds
here: append-only, synced before it is answered, verified when it is opened, one writer at a time.
"""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from neckring.ledger.judging import refusal
from neckring.ledger.ledger_state import Ledger, fold
from neckring.ledger.records import Act, Body, Record
from neckring.live.chained_book import ChainedBook
from neckring.live.entries import BookError, Deed, Entry, Json, Kind, Role, Stamp
from neckring.live.open_book import open_book, read_book
from neckring.station.kit_items import KitItems

FILE = "ledger.sqlite"
CHAIN = "kit-ledger"
"""Whose chain it is: the kit's, whatever desk writes it."""


class LedgerRefusedError(Exception):
    """A deed that the ledger does not take; says why in words."""


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


def read_ledger(kept: Path) -> Ledger:
    """The state of the kit; an empty one where nothing was ever recorded.

    Args:
        kept: The folder in which the ledger lies.

    Raises:
        BookError: It cannot be read, or is not what was written.
    """
    return fold(read_records(kept))


def read_records(kept: Path) -> Iterator[Record]:
    """Every record, in order, verified.

    Args:
        kept: The folder in which the ledger lies.

    Raises:
        BookError: It cannot be read, or is not what was written.
    """
    if not (kept / FILE).exists():
        return
    book = read_book(kept / FILE)
    try:
        yield from map(record_of, book.entries())
    finally:
        book.close()


class LedgerBook:
    """The ledger, open for writing.

    Attributes:
        state: As it stands.
    """

    def __init__(self, book: ChainedBook, sheet: KitItems, clock: Callable[[], float]) -> None:
        """Fold what stands in the book.

        Args:
            book: Open and verified.
            sheet: The station's items.
            clock: Seconds since 1970.

        Raises:
            BookError: It is the book of something else.
        """
        self._book = book
        self._sheet = sheet
        self._clock = clock
        self.state = fold(map(record_of, book.entries()))

    def take(
        self, act: Act, by: str, body: Body, at: float | None = None, key: str | None = None
    ) -> Record:
        """Write one deed and return once it is on disk.

        Args:
            act: What was done.
            by: Code of who did it.
            body: As the act demands.
            at: When it was done, seconds since 1970; None for now.
            key: Unique for ever; the same key sent again writes nothing new. None makes one.

        Raises:
            LedgerRefusedError: It cannot be so; nothing was written.
            BookError: It could not be written; then nothing was.
        """
        now = self._clock()
        known = self._book.find(key) if key else None
        if known is not None:
            return record_of(known)
        why = refusal(self.state, self._sheet, act, body, now if at is None else at, now)
        if why:
            raise LedgerRefusedError(why)
        done = now if at is None else at
        told: dict[str, Json] = {"act": act.value, "at": done, "told": dict(body)}
        deed = Deed(key or uuid.uuid4().hex, Kind.NOTE, by, Role.DESK, "kit", told)
        entry = self._book.append(deed, Stamp(now, time.monotonic(), 0.0))
        record = record_of(entry)
        self.state.take(record)
        return record


@contextmanager
def ledger_book(
    kept: Path, sheet: KitItems, clock: Callable[[], float] = time.time
) -> Iterator[LedgerBook]:
    """Open a station's ledger for writing, or make it.

    Args:
        kept: The folder in which it lies.
        sheet: The station's items.
        clock: Seconds since 1970.

    Raises:
        BookError: It cannot be used; says where and why.
    """
    book = open_book(kept / FILE, CHAIN)
    try:
        yield LedgerBook(book, sheet, clock)
    finally:
        book.close()
