"""Keeping the readings of a run as they come: at most a second of them is lost in a crash.

What comes is written twice a second into a tail of its file, synced, and each minute of run time
packed into one block a channel. On a full disk readings wait in memory and are written once there
is room; the log book, a file of its own, never waits for them.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

import numpy as np

from neckring.live.book_lock import BookLock
from neckring.live.entries import BookError
from neckring.live.reading import Reading
from neckring.live.readings_blocks import Columns, columns_of, joined, pack
from neckring.live.readings_file import (
    READINGS,
    TABLES,
    VERSION,
    ReadingsError,
    ReadingsReader,
    readings_errors,
    summary_of,
)
from neckring.live.sqlite_book import make_folder, sync_folder
from neckring.live.sqlite_rows import connected, durable

WRITTEN_EVERY = 0.5
"""[s]; with the time that writing takes, well within the second that may be lost."""
BLOCK = 60.0
"""Of run time in one block [s]."""
MOST_WAITING = 500_000
"""Readings kept in memory while the disk takes none; then the oldest are given up."""
CHECKPOINT_AT = 1000


class ReadingsStore(ReadingsReader):
    """The file of a run's readings, open for writing, with a thread that writes it.

    Attributes:
        fault: Why nothing can be written at present, in words; empty when all is well.
        given_up: How many readings were dropped because the disk took none for too long.
    """

    def __init__(self, path: Path, every: float = WRITTEN_EVERY) -> None:
        """Open a file of readings, or make it with its folder.

        Args:
            path: Its file.
            every: How often what came is written [s].

        Raises:
            ReadingsError: When it cannot be used, or another console writes it.
        """
        self.fault = ""
        self.given_up = 0
        self._path = path.absolute()
        self._alone = threading.RLock()
        self._gate = threading.Lock()
        self._fresh: list[Reading] = []
        self._batch: list[Reading] = []
        self._numbers: dict[tuple[str, str], int] = {}
        self._stop = threading.Event()
        try:
            folders = make_folder(self._path.parent)
            self._lock = BookLock(self._path)
        except BookError as error:
            raise ReadingsError(str(error)) from None
        try:
            self._open(folders)
        except BaseException:
            self._lock.release()
            raise
        self._thread = threading.Thread(
            target=self._run, args=(every,), name="readings", daemon=True
        )
        self._thread.start()

    def _open(self, folders: list[Path]) -> None:
        with readings_errors(self._path):
            self._connection = connected(self._path, "rwc", shared=True)
            try:
                (tables,) = self._connection.execute(
                    "SELECT count(*) FROM sqlite_schema"
                ).fetchone()
                if tables == 0:
                    self._make()
                self._know()
                durable(self._connection, CHECKPOINT_AT)
                for folder in folders:
                    sync_folder(folder)
                self._remember()
            except BaseException:
                self._connection.close()
                raise

    def _remember(self) -> None:
        """Take up what the file says: channels, the last write, and where the tail begins."""
        found = self._fetched("wearer, name, number FROM channel")
        self._numbers = {(wearer, name): number for wearer, name, number in found}
        self._saved = len(self._numbers)
        self._written = int(self._fetched("number FROM written")[0][0])
        tail = super()._tail()
        self._begun = float(tail.run_time.min()) if len(tail) else None

    def _make(self) -> None:
        durable(self._connection, CHECKPOINT_AT)
        self._connection.execute("BEGIN IMMEDIATE")
        for statement in TABLES:
            self._connection.execute(statement)
        self._connection.execute(f"PRAGMA application_id = {READINGS}")
        self._connection.execute(f"PRAGMA user_version = {VERSION}")
        self._connection.execute("COMMIT")

    def add(self, readings: Iterable[Reading]) -> None:
        """Take readings; they are on disk within a second. Never waits for the disk."""
        with self._gate:
            self._fresh.extend(readings)
            too_many = len(self._fresh) - MOST_WAITING
            if too_many > 0:
                del self._fresh[:too_many]
                self.given_up += too_many

    def flush(self, last: bool = False) -> None:
        """Write what came before this call, and return once it is on disk.

        Args:
            last: Whether to pack the tail into blocks too, however short they are.

        Raises:
            ReadingsError: When it cannot be written; it is kept and tried again.
        """
        with self._alone:
            try:
                with readings_errors(self._path):
                    self._write_batch(last=False)
                    with self._gate:
                        self._batch, self._fresh = self._fresh, []
                    self._write_batch(last)
            except ReadingsError as error:
                self.fault = str(error)
                raise
            self.fault = ""

    def close(self) -> None:
        """Write all that came, pack it into blocks, and let go of the file.

        Raises:
            ReadingsError: When it cannot be written.
        """
        if self._stop.is_set():
            return
        self._stop.set()
        self._thread.join()
        try:
            self.flush(last=True)
        finally:
            super().close()
            self._lock.release()

    def channels(self) -> list[tuple[str, str]]:
        """Wearer and name of every channel from which something came, in order."""
        with self._alone:
            with self._gate:
                for reading in self._fresh:
                    self._numbered(reading)
            return list(self._numbers)

    def _run(self, every: float) -> None:
        """The writing thread; what it cannot write it says in `fault`, and tries again."""
        while not self._stop.wait(every):
            with suppress(ReadingsError):
                self.flush()

    def _write_batch(self, last: bool) -> None:
        """Write the batch in one transaction: into the tail, or with the tail into blocks."""
        if not self._batch and not last:
            return
        if not self._known_to_be_unwritten():
            self._batch = []
            return
        batch = self._columns(self._batch)
        begun = min((float(batch.run_time.min()), *self._since())) if len(batch) else 0.0
        full = len(batch) > 0 and float(batch.run_time.max()) - begun >= BLOCK
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            self._write_channels()
            if full or last:
                self._write_blocks(joined([super()._tail(), batch]))
            else:
                self._connection.execute("INSERT INTO tail (data) VALUES (?)", (pack(batch),))
            self._connection.execute("UPDATE written SET number = ?", (self._written + 1,))
            self._connection.execute("COMMIT")
        except sqlite3.Error:
            self._roll_back()
            raise
        self._batch, self._written, self._saved = [], self._written + 1, len(self._numbers)
        self._begun = None if full or last else begun

    def _since(self) -> tuple[float, ...]:
        return () if self._begun is None else (self._begun,)

    def _known_to_be_unwritten(self) -> bool:
        """Whether the batch is still to be written: the end of an earlier try may be unknown."""
        (number,) = self._connection.execute("SELECT number FROM written").fetchone()
        if number == self._written:
            return True
        self._remember()
        return False

    def _roll_back(self) -> None:
        if self._connection.in_transaction:
            with suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")

    def _write_channels(self) -> None:
        for (wearer, name), number in list(self._numbers.items())[self._saved :]:
            self._connection.execute(
                "INSERT INTO channel (number, wearer, name) VALUES (?, ?, ?)",
                (number, wearer, name),
            )

    def _write_blocks(self, columns: Columns) -> None:
        """Pack readings into a block for each channel; the tail is empty afterwards."""
        for number in np.unique(columns.channel):
            block = columns.where(columns.channel == number)
            said = summary_of(block)
            self._connection.execute(
                "INSERT INTO block (channel, begins, ends, count, good, low, high, data) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (int(number), *vars(said).values(), pack(block)),
            )
        self._connection.execute("DELETE FROM tail")

    def _columns(self, readings: list[Reading]) -> Columns:
        return columns_of(readings, [self._numbered(each) for each in readings])

    def _numbered(self, reading: Reading) -> int:
        """Number of a reading's channel; a new one gets the next."""
        return self._numbers.setdefault((reading.wearer, reading.channel), len(self._numbers) + 1)

    def _number(self, wearer: str, channel: str) -> int:
        return self._numbers.get((wearer, channel), 0)

    def _tail(self) -> Columns:
        """What came since the last blocks, on disk or not yet."""
        with self._gate:
            waiting = [*self._batch, *self._fresh]
        return joined([super()._tail(), self._columns(waiting)])
