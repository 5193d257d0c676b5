"""The state of the kit, read as quickly as it can be trusted, and what it stands on.

Where a snapshot fits the ledger, only what lies behind it is verified and folded; else all is.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from neckring.ledger.ledger_data import data_of
from neckring.ledger.ledger_state import Ledger
from neckring.live.book_head import compare
from neckring.live.chain import empty
from neckring.live.chained_book import ReadableBook
from neckring.live.entries import BookError, Head
from neckring.live.sqlite_rows import SqliteReader
from neckring.records import ledger_snapshot
from neckring.records.ledger_entries import CHAIN, FILE, fold_in, ledger_to_read
from neckring.records.ledger_snapshot import Snapshot, read_snapshot, write_snapshot

VERIFY = "neckring kit verify"
ACCEPT = f"{VERIFY} --accept"


@dataclass(frozen=True)
class Standing:
    """The state of the kit, and what it stands on.

    Attributes:
        ledger: The state.
        head: The end of the chain.
        before: Number of the last entry that was taken from the snapshot, verified earlier; 0 when
            the whole chain was verified now.
        verified_at: When the whole chain up to there was verified, seconds since 1970.
        doubt: Why entries seem to be missing or exchanged, in words; "" when nothing says so.
        changed: Whether the snapshot fitted the ledger and yet said something else than its
            entries; known only after the whole chain was read.
    """

    ledger: Ledger
    head: Head
    before: int
    verified_at: float
    doubt: str = ""
    changed: bool = False

    @property
    def warning(self) -> str:
        """The doubt for who asks something of the kit; "" when there is none."""
        return f"WARNING: {self.doubt}; find out why: {VERIFY}" if self.doubt else ""

    @property
    def whole(self) -> bool:
        """Whether the whole chain was verified now."""
        return self.before == 0


def doubt_of(kept: Path, snapshot: Snapshot | None, book: ReadableBook | None) -> str:
    """Why a ledger is not the one that was verified before; "" when nothing says so.

    Args:
        kept: The folder in which it lies.
        snapshot: As kept beside it, read before the ledger was opened.
        book: The ledger; None where there is no such file.

    Raises:
        BookError: The entry to compare with is not what was written.
    """
    if snapshot is None or not snapshot.head.count:
        return ""
    count, place = snapshot.head.count, kept / FILE
    if book is None:
        return f"{place}: the ledger is gone; it had {count} entries"
    found = compare(book, snapshot.head)
    if found == "cut":
        return f"{place}: it ends with entry {book.head().count}; it had {count} entries before"
    if found == "another chain":
        return f"{place}: what stands as entry {count} is not what stood there before"
    return ""


def read_standing(kept: Path, clock: Callable[[], float] = time.time) -> Standing:
    """The state of the kit: from the snapshot and what lies behind it, else from all entries.

    Args:
        kept: The folder in which the ledger lies.
        clock: Seconds since 1970.

    Raises:
        BookError: It cannot be read, or is not what was written.
    """
    # The snapshot first: a ledger that is read later is never shorter than what it was made of.
    snapshot = read_snapshot(kept)
    if not (kept / FILE).exists():
        return _nothing(kept, snapshot, clock)
    with ledger_to_read(kept) as (book, reader):
        doubt = doubt_of(kept, snapshot, book)
        if snapshot is None or snapshot.state is None or doubt or not snapshot.head.count:
            standing = _wholly(book, reader, clock, doubt)
            if not doubt:
                write_snapshot(kept, standing.head, standing.ledger, standing.verified_at)
            return standing
        head = _folded(snapshot.state, book, snapshot.head)
        return Standing(snapshot.state, head, snapshot.head.count, snapshot.verified_at)


def verify_wholly(
    kept: Path, accept: bool = False, clock: Callable[[], float] = time.time
) -> Standing:
    """Verify all entries, hold the snapshot against their fold, and make it anew.

    Args:
        kept: The folder in which the ledger lies.
        accept: Whether a ledger with missing or exchanged entries is taken as it is from now on.
        clock: Seconds since 1970.

    Raises:
        BookError: It cannot be read, or is not what was written.
    """
    snapshot = read_snapshot(kept)
    if not (kept / FILE).exists():
        standing = _nothing(kept, snapshot, clock)
        if standing.doubt and accept:
            _forget(kept)
        return standing
    with ledger_to_read(kept) as (book, reader):
        doubt = doubt_of(kept, snapshot, book)
        standing = _wholly(book, reader, clock, doubt, None if doubt else snapshot)
    if accept or not doubt:
        write_snapshot(kept, standing.head, standing.ledger, standing.verified_at)
    return standing


def _nothing(kept: Path, snapshot: Snapshot | None, clock: Callable[[], float]) -> Standing:
    return Standing(Ledger(), empty(CHAIN), 0, clock(), doubt_of(kept, snapshot, None))


def _forget(kept: Path) -> None:
    try:
        (kept / ledger_snapshot.FILE).unlink()
    except OSError as problem:
        said = (problem.strerror or "unknown").lower()
        raise BookError(f"{kept / ledger_snapshot.FILE}: it cannot be removed: {said}") from None


def _wholly(
    book: ReadableBook,
    reader: SqliteReader,
    clock: Callable[[], float],
    doubt: str,
    held: Snapshot | None = None,
) -> Standing:
    """Verify and fold every entry, once."""
    ledger, head, changed = Ledger(), empty(reader.station()), False
    for entry in book.entries():
        fold_in(ledger, entry)
        head = Head(head.station, entry.number, entry.digest)
        if held is not None and held.state is not None and entry.number == held.head.count:
            changed = data_of(ledger) != data_of(held.state)
    reader.check()
    return Standing(ledger, head, 0, clock(), doubt, changed)


def _folded(ledger: Ledger, book: ReadableBook, head: Head) -> Head:
    """Verify and fold what lies behind a snapshot."""
    for entry in book.entries(head.count):
        fold_in(ledger, entry)
        head = Head(head.station, entry.number, entry.digest)
    return head
