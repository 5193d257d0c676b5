"""The file in which readings of a run are kept: its tables, and looking into it.

Blocks hold a minute of one channel each; the tail holds what came since the last blocks, about a
half second of all channels in each row.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from neckring.live.book_writer import StoreError
from neckring.live.reading import Reading
from neckring.live.readings_blocks import Columns, joined, readings_of, unpack
from neckring.live.sqlite_rows import connected, naming, telling

READINGS = 0x4E4B5244
"""Marks the file as readings (SQLite's application_id)."""
VERSION = 1
TABLES = (
    """CREATE TABLE channel (
        number INTEGER PRIMARY KEY, wearer TEXT NOT NULL, name TEXT NOT NULL, UNIQUE (wearer, name)
    ) STRICT""",
    """CREATE TABLE block (
        number INTEGER PRIMARY KEY,
        channel INTEGER NOT NULL,
        begins REAL NOT NULL,
        ends REAL NOT NULL,
        count INTEGER NOT NULL,
        good INTEGER NOT NULL,
        low REAL,
        high REAL,
        data BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX block_by_time ON block (channel, begins)",
    "CREATE TABLE tail (number INTEGER PRIMARY KEY, data BLOB NOT NULL) STRICT",
    # Number of the last write: after one of which the end is unknown it says whether it was done.
    "CREATE TABLE written (number INTEGER NOT NULL) STRICT",
    "INSERT INTO written VALUES (0)",
)


class ReadingsError(Exception):
    """Readings cannot be kept or read; says where and why in words."""


@dataclass(frozen=True)
class Summary:
    """A stretch of one channel in a few numbers, for charts of a whole run.

    Attributes:
        begins: Run time of its first reading [s].
        ends: Run time of its last [s].
        count: How many readings.
        good: How many without a flaw.
        low: Least value of the good ones [SI]; None when there is none.
        high: Most of them [SI].
    """

    begins: float
    ends: float
    count: int
    good: int
    low: float | None
    high: float | None


def summary_of(columns: Columns) -> Summary:
    """The summary of at least one reading of one channel."""
    used = columns.value[columns.good & ~np.isnan(columns.value)]
    return Summary(
        float(columns.run_time.min()),
        float(columns.run_time.max()),
        len(columns),
        int(columns.good.sum()),
        float(used.min()) if len(used) else None,
        float(used.max()) if len(used) else None,
    )


@contextmanager
def readings_errors(path: Path) -> Iterator[None]:
    """Turn what goes wrong with the file into words with its name."""
    try:
        with telling(path), naming(path):
            yield
    except StoreError as error:
        raise ReadingsError(str(error)) from None
    except ValueError as error:
        raise ReadingsError(f"{path}: {error}") from None


class ReadingsReader:
    """Looks into a file of readings; several threads may share it."""

    def __init__(self, path: Path) -> None:
        """Open a file that is there.

        Raises:
            ReadingsError: When it is not, or holds no readings.
        """
        self._path = path.absolute()
        if not path.is_file():
            raise ReadingsError(f"{path}: there are no such readings")
        self._alone = threading.RLock()
        with readings_errors(path):
            self._connection = connected(self._path, "ro", shared=True)
            try:
                self._know()
            except BaseException:
                self._connection.close()
                raise

    def _know(self) -> None:
        """See that the file holds readings, in a form that is known."""
        (mark,) = self._connection.execute("PRAGMA application_id").fetchone()
        (version,) = self._connection.execute("PRAGMA user_version").fetchone()
        if mark != READINGS:
            raise StoreError("this file holds no readings of neckring; it was left as it is")
        if version > VERSION:
            raise StoreError(f"it was made by a newer neckring (version {version} of the file)")

    def channels(self) -> list[tuple[str, str]]:
        """Wearer and name of every channel of which something is on disk, in order."""
        return [(wearer, name) for wearer, name in self._fetched("wearer, name FROM channel")]

    def columns(
        self, wearer: str, channel: str, begins: float = -math.inf, ends: float = math.inf
    ) -> Columns:
        """Readings of one channel from one run time on and before another [s], as arrays.

        Raises:
            ReadingsError: When they cannot be read.
        """
        with self._alone, readings_errors(self._path):
            tail = self._tail()
            number = self._number(wearer, channel)
            blocks = self._fetched(
                "data FROM block WHERE channel = ? AND ends >= ? AND begins < ? ORDER BY number",
                (number, begins, ends),
            )
            last = tail.where(tail.channel == number)
            kept = joined([*(unpack(data) for (data,) in blocks), last])
        return kept.where((kept.run_time >= begins) & (kept.run_time < ends))

    def read(
        self, wearer: str, channel: str, begins: float = -math.inf, ends: float = math.inf
    ) -> list[Reading]:
        """Readings of one channel from one run time on and before another [s].

        Raises:
            ReadingsError: When they cannot be read.
        """
        return readings_of(self.columns(wearer, channel, begins, ends), wearer, channel)

    def summaries(
        self, wearer: str, channel: str, begins: float = -math.inf, ends: float = math.inf
    ) -> list[Summary]:
        """Summaries of one channel's blocks that touch a stretch of run time, and of its tail.

        Raises:
            ReadingsError: When they cannot be read.
        """
        with self._alone, readings_errors(self._path):
            tail = self._tail()
            number = self._number(wearer, channel)
            found = self._fetched(
                "begins, ends, count, good, low, high FROM block "
                "WHERE channel = ? AND ends >= ? AND begins < ? ORDER BY number",
                (number, begins, ends),
            )
        tail = tail.where(tail.channel == number)
        last = [summary_of(tail)] if len(tail) else []
        touching = [each for each in last if each.ends >= begins and each.begins < ends]
        return [*(Summary(*each) for each in found), *touching]

    def close(self) -> None:
        """Let go of the file."""
        with self._alone:
            self._connection.close()

    def _number(self, wearer: str, channel: str) -> int:
        """Number of a channel; 0, which none has, when nothing came from it yet."""
        found = self._fetched(
            "number FROM channel WHERE wearer = ? AND name = ?", (wearer, channel)
        )
        return int(found[0][0]) if found else 0

    def _tail(self) -> Columns:
        """What came since the last blocks."""
        rows = self._fetched("data FROM tail ORDER BY number")
        return joined(unpack(data) for (data,) in rows)

    def _fetched(self, query: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        with self._alone:
            return self._connection.execute(f"SELECT {query}", values).fetchall()
