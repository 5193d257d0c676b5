"""Writing a log book: one thread alone writes, and answers only when what it wrote is on disk.

What waits when the thread comes round is written together with one sync. Where a write fails, or
the answer to it is lost, the store is opened anew and each deed is looked for by its key: what
stands there is recorded, what does not is written once more, and only then is it given up.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Protocol

from neckring.live.chain import Row, empty, entry_of, following, next_row, placed
from neckring.live.entries import BookError, Deed, Entry, Head, Stamp

MOST_TOGETHER = 64
IDLE_AFTER = 0.5
"""Without anything to write [s]; then the store may tidy up."""
ATTEMPTS = 2
UNSURE = (
    "Whether it was recorded shows once that is mended: send it again, it is recorded once only"
)


class StoreError(BookError):
    """A store that did not do what was asked; whether it did a commit may be unknown."""


class BookUnsureError(BookError):
    """Whether a deed was recorded cannot be found out now: send it again, its key settles it."""


class Store(Protocol):
    """Where rows are kept; used by the writing thread alone. Every method may raise StoreError."""

    def open(self) -> None:
        """Connect, make what is not there yet, and hold the lock of this chain's one writer."""

    def rows(self, after: int) -> Iterator[Row]:
        """Rows in order, from the one behind number `after`."""

    def check(self) -> None:
        """See that what the database keeps beside the rows fits to them; asked once."""

    def standing(self, key: str) -> Row | None:
        """The row with a key, those of the open transaction included."""

    def begin(self) -> None:
        """Begin a transaction."""

    def insert(self, row: Row) -> None:
        """Write a row into the open transaction."""

    def commit(self) -> None:
        """Return once the transaction is on disk."""

    def tidy(self) -> None:
        """Do what can wait; called when nothing is to be written."""

    def abandon(self) -> None:
        """Drop the connection and whatever is not committed; never raises."""


@dataclass
class _Waiting:
    """A deed that somebody waits for."""

    deed: Deed
    stamp: Stamp
    answer: Future[Entry] = field(default_factory=Future)


class ChainWriter:
    """The only writer of one chain: a thread of its own, and the head of the chain."""

    def __init__(
        self,
        store: Store,
        station: str,
        where: str,
        seen: Callable[[Entry], None] | None = None,
    ) -> None:
        """Open the store and verify its chain.

        Args:
            store: Where rows are kept.
            station: Whose chain it is.
            where: File or database, in words.
            seen: Hears each entry that stands there as it is verified, on the writing thread.

        Raises:
            BookError: When it cannot be opened or its chain does not verify; nothing stays open.
        """
        self._store = store
        self._where = where
        self._seen = seen
        self._checked = False
        self._open = self._in_doubt = False
        self._head = empty(station)
        self._gate = threading.Lock()
        self._closed = False
        self._queue: queue.SimpleQueue[_Waiting | None] = queue.SimpleQueue()
        opened: Future[None] = Future()
        self._thread = threading.Thread(
            target=self._run, args=(opened,), name=f"book of {station}", daemon=True
        )
        self._thread.start()
        try:
            opened.result()
        except BaseException:
            self.close()
            raise

    @property
    def head(self) -> Head:
        """The end of the chain as it is on disk."""
        return self._head

    def append(self, deed: Deed, stamp: Stamp) -> Entry:
        """Hand a deed to the writing thread; returns once it is on disk.

        A key that stands there already gives the entry that stands there, and writes nothing.

        Raises:
            BookError: When it could not be written.
        """
        waiting = _Waiting(deed, stamp)
        with self._gate:
            if self._closed:
                raise BookError("the log book is closed")
            self._queue.put(waiting)
        return waiting.answer.result()

    def close(self) -> None:
        """Write what still waits, let go of the store and end the thread."""
        with self._gate:
            if not self._closed:
                self._closed = True
                self._queue.put(None)
        self._thread.join()

    def _run(self, opened: Future[None]) -> None:
        """The writing thread; nothing stands in the queue behind the None of `close`."""
        try:
            self._ready()
            opened.set_result(None)
        except BaseException as error:
            opened.set_exception(error)
        items: list[_Waiting | None] = []
        while None not in items:
            items = self._taken()
            batch = [item for item in items if item is not None]
            if batch:
                self._answer(batch)
        self._store.abandon()

    def _taken(self) -> list[_Waiting | None]:
        """All that waits now; tidies up when nothing comes for a while."""
        try:
            items = [self._queue.get(timeout=IDLE_AFTER)]
        except queue.Empty:
            self._tidy()
            return []
        while len(items) < MOST_TOGETHER and not self._queue.empty():
            items.append(self._queue.get())
        return items

    def _tidy(self) -> None:
        if self._open:
            try:
                self._store.tidy()
            except StoreError:
                self._close_store()

    def _answer(self, batch: list[_Waiting]) -> None:
        """Write deeds, and tell each who waits what became of it."""
        try:
            outcomes: list[Entry | Exception] = self.write([(w.deed, w.stamp) for w in batch])
        except Exception as error:  # whoever waits must hear of it
            self._close_store()
            outcomes = [error] * len(batch)
        for waiting, outcome in zip(batch, outcomes, strict=True):
            if isinstance(outcome, Entry):
                waiting.answer.set_result(outcome)
            else:
                waiting.answer.set_exception(outcome)

    def write(self, batch: list[tuple[Deed, Stamp]]) -> list[Entry | Exception]:
        """Write deeds with one sync; on the writing thread only.

        Returns:
            For each its entry, or why it was not written; all that is returned as an entry is
            on disk.
        """
        for _ in range(ATTEMPTS):
            self._ready_or_tell()
            try:
                return self._attempt(batch)
            except StoreError as error:
                problem = error
                self._close_store()
        if not self._in_doubt:
            raise problem
        self._ready_or_tell()
        return [self._standing(deed.key) or problem for deed, _ in batch]

    def _attempt(self, batch: list[tuple[Deed, Stamp]]) -> list[Entry | Exception]:
        """Write deeds in one transaction; the head moves only once it is on disk."""
        self._store.begin()
        head, outcomes = self._head, list[Entry | Exception]()
        for deed, stamp in batch:
            outcome = self._standing_or_inserted(head, deed, stamp)
            outcomes.append(outcome)
            if isinstance(outcome, Entry) and outcome.number > head.count:
                head = Head(head.station, outcome.number, outcome.digest)
        self._in_doubt = True
        self._store.commit()
        self._in_doubt = False
        self._head = head
        return outcomes

    def _standing_or_inserted(self, head: Head, deed: Deed, stamp: Stamp) -> Entry | BookError:
        """The entry of a deed, or why this one cannot be written down; the others can."""
        try:
            return self._standing(deed.key) or self._inserted(head, deed, stamp)
        except StoreError:
            raise
        except BookError as error:
            return error

    def _standing(self, key: str) -> Entry | None:
        row = self._store.standing(key)
        return None if row is None else entry_of(row)

    def _inserted(self, head: Head, deed: Deed, stamp: Stamp) -> Entry:
        row = next_row(head, deed, stamp)
        self._store.insert(row)
        return entry_of(row)

    def _ready_or_tell(self) -> None:
        """Open the store where it is not; where that fails, say what it means for a commit."""
        try:
            self._ready()
        except BookError as error:
            if not self._in_doubt:
                raise
            raise BookUnsureError(f"{error}. {UNSURE}") from None

    def _ready(self) -> None:
        """Open the store where it is not, and take up what stands there behind our head."""
        if self._open:
            return
        try:
            self._store.open()
            with placed(self._where):
                self._take_up()
            if not self._checked:
                self._store.check()
        except BaseException:
            self._close_store()
            raise
        self._open, self._in_doubt, self._checked = True, False, True

    def _take_up(self) -> None:
        """Read what stands behind our head: all of it at first."""
        for row in self._store.rows(self._head.count):
            entry = following(row, self._head)
            if self._seen:
                self._seen(entry)
            self._head = Head(entry.station, entry.number, entry.digest)

    def _close_store(self) -> None:
        self._open = False
        self._store.abandon()
