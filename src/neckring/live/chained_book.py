"""A log book made of one writer and one reader of the same chain."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from neckring.live.book_writer import ChainWriter
from neckring.live.chain import Row, empty, entry_of, placed, verified
from neckring.live.entries import Deed, Entry, Head, Stamp


class RowReader(Protocol):
    """Reads rows that are on disk, from any thread. Every method may raise BookError."""

    def row(self, number: int) -> Row | None:
        """The row with a number."""

    def standing(self, key: str) -> Row | None:
        """The row with a key."""

    def rows(self, after: int) -> Iterator[Row]:
        """Rows in order, from the one behind number `after`."""

    def last(self) -> Row | None:
        """The row with the highest number."""

    def close(self) -> None:
        """Let go of the file or the connection."""


class ReadableBook:
    """What everybody may do with a log book: look.

    Attributes:
        where: File or database, in words.
        warnings: What the people should know of the ground it stands on.
    """

    def __init__(
        self, reader: RowReader, station: str, where: str, warnings: tuple[str, ...] = ()
    ) -> None:
        self._reader = reader
        self._station = station
        self.where = where
        self.warnings = warnings

    def find(self, key: str) -> Entry | None:
        """The entry with a deed's key.

        Raises:
            BookError: When it cannot be read, or is not what was written.
        """
        row = self._reader.standing(key)
        with placed(self.where):
            return None if row is None else entry_of(row)

    def entries(self, after: int = 0) -> Iterator[Entry]:
        """Entries in order from the one behind number `after`, each verified as it is read.

        Raises:
            BookError: When one cannot be read or does not follow.
        """
        head = self.head_at(after)
        if head is not None:
            with placed(self.where):
                yield from verified(self._reader.rows(after), head)

    def head_at(self, number: int) -> Head | None:
        """The head as it was when an entry was the last; None when there is no such entry."""
        if number <= 0:
            return empty(self._station)
        row = self._reader.row(number)
        with placed(self.where):
            return None if row is None else Head(self._station, number, entry_of(row).digest)

    def head(self) -> Head:
        """The end of the chain."""
        row = self._reader.last()
        return empty(self._station) if row is None else Head(self._station, row.number, row.digest)

    def verify(self) -> Head:
        """Read the whole chain.

        Returns:
            Its head.

        Raises:
            BookError: At the first entry that does not follow the one before.
        """
        head = empty(self._station)
        for entry in self.entries():
            head = Head(self._station, entry.number, entry.digest)
        return head

    def close(self) -> None:
        """Let go of the file or the connection."""
        self._reader.close()


class ChainedBook(ReadableBook):
    """A log book that is written to."""

    def __init__(
        self,
        writer: ChainWriter,
        reader: RowReader,
        where: str,
        warnings: tuple[str, ...],
    ) -> None:
        super().__init__(reader, writer.head.station, where, warnings)
        self._writer = writer

    def append(self, deed: Deed, stamp: Stamp) -> Entry:
        """Write one entry and return once it is on disk.

        A key that stands there already gives the entry that stands there, and writes nothing.

        Raises:
            BookError: When it could not be written; then nothing was. `BookUnsureError` when that
                cannot be known: the same key sent again settles it.
        """
        return self._writer.append(deed, stamp)

    def head(self) -> Head:
        """The end of the chain as it is on disk."""
        return self._writer.head

    def close(self) -> None:
        """Write what still waits, and let go."""
        super().close()
        self._writer.close()
