"""The ledger, open for writing, in the station's kept/ folder.

What holds for the log book holds here: append-only, synced before it is answered, wholly verified
when it is opened, one writer at a time. What is recorded is judged on the fold over all entries,
never on a snapshot.
"""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from neckring.ledger.judging import refusal
from neckring.ledger.ledger_state import Ledger
from neckring.ledger.records import Act, Body, Record
from neckring.live.chained_book import ChainedBook
from neckring.live.entries import BookError, Deed, Entry, Json, Kind, Role, Stamp
from neckring.live.sqlite_book import SqliteBook
from neckring.records.ledger_entries import CHAIN, FILE, fold_in, record_of
from neckring.records.ledger_snapshot import read_snapshot, write_snapshot
from neckring.records.ledger_standing import ACCEPT, doubt_of
from neckring.station.kit_items import KitItems


class LedgerRefusedError(Exception):
    """A deed that the ledger does not take; says why in words."""


class LedgerBook:
    """The ledger, open for writing.

    Attributes:
        state: As it stands.
    """

    def __init__(
        self, book: ChainedBook, state: Ledger, sheet: KitItems, clock: Callable[[], float]
    ) -> None:
        """Take deeds into a book.

        Args:
            book: Open and verified.
            state: The fold over all that stands in it.
            sheet: The station's items.
            clock: Seconds since 1970.
        """
        self._book = book
        self._sheet = sheet
        self._clock = clock
        self.state = state

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
        _fold_new(self.state, entry)
        return record_of(entry)


@contextmanager
def ledger_book(
    kept: Path, sheet: KitItems, clock: Callable[[], float] = time.time
) -> Iterator[LedgerBook]:
    """Open a station's ledger for writing, or make it; a snapshot is kept when it is closed.

    Args:
        kept: The folder in which it lies.
        sheet: The station's items.
        clock: Seconds since 1970.

    Raises:
        BookError: It cannot be used; says where and why.
    """
    snapshot = read_snapshot(kept)
    if not (kept / FILE).exists():
        _refuse_in_doubt(doubt_of(kept, snapshot, None))
    state = Ledger()
    book = SqliteBook(kept / FILE, CHAIN, seen=lambda entry: _fold_new(state, entry))
    try:
        _refuse_in_doubt(doubt_of(kept, snapshot, book))
        yield LedgerBook(book, state, sheet, clock)
        write_snapshot(kept, book.head(), state, clock())
    finally:
        book.close()


def _fold_new(state: Ledger, entry: Entry) -> None:
    """Fold an entry in, once: a store that was opened anew shows its last ones again."""
    if entry.number > (state.last.number if state.last else 0):
        fold_in(state, entry)


def _refuse_in_doubt(doubt: str) -> None:
    if doubt:
        raise BookError(f"not recorded: {doubt}. Find out why; to go on with it: {ACCEPT}")
