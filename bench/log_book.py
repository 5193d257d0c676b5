"""How long a tap takes until it is on disk, beside a bare write and sync of the same disk.

The two take turns in short blocks: a disk may take ten times as long in one minute as in the next.
"""

from __future__ import annotations

import os
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from neckring.live.entries import Deed, Kind, Role, Stamp
from neckring.live.open_book import open_book

ROUNDS = 60
BLOCK = 40
CLIENTS = 8
PAGE = 4096
"""Bytes of the bare write: a page, the least that a log of pages writes."""


def log_book(folder: Path | None = None) -> dict[str, float]:
    """Times from a tap to its acknowledgement, and of a bare write and sync [ms].

    Args:
        folder: On the disk that is measured; a temporary one otherwise.
    """
    with tempfile.TemporaryDirectory(dir=folder) as name:
        book = open_book(Path(name) / "log.sqlite", "TQ1")
        raw = os.open(Path(name) / "raw", os.O_WRONLY | os.O_CREAT)
        os.write(raw, bytes(PAGE * BLOCK))
        os.fsync(raw)
        taps = Taps(book.append)
        times: dict[str, list[float]] = {"raw": [], "tap": [], "tap_8_clients": []}
        for _ in range(ROUNDS):
            os.lseek(raw, 0, os.SEEK_SET)
            times["raw"] += [timed(lambda: write_and_sync(raw)) for _ in range(BLOCK)]
            times["tap"] += [timed(taps.one) for _ in range(BLOCK)]
            times["tap_8_clients"] += taps.at_once()
        os.close(raw)
        book.close()
    return figures(times)


class Taps:
    """Taps that are all different."""

    def __init__(self, append: Callable[[Deed, Stamp], object]) -> None:
        self._append = append
        self._count = 0
        self._alone = threading.Lock()

    def one(self) -> None:
        with self._alone:
            self._count += 1
            count = self._count
        body = {"procedure": "dress", "step": count, "measured": {"value": 8.25, "unit": "L/min"}}
        deed = Deed(
            f"tablet-1-{count:08d}", Kind.STEP_DONE, "T1", Role.TENDER, "tablet 1", body, 1.8e9, 0.1
        )
        self._append(deed, Stamp(1.8e9 + count, 100.0 + count, float(count)))

    def at_once(self) -> list[float]:
        """Times of taps that several clients make at once."""
        times: list[float] = []

        def client() -> None:
            times.extend(timed(self.one) for _ in range(BLOCK // CLIENTS))

        clients = [threading.Thread(target=client) for _ in range(CLIENTS)]
        for each in clients:
            each.start()
        for each in clients:
            each.join()
        return times


def write_and_sync(file: int) -> None:
    """One page over what stands in a file, and on to the disk: the least that can be asked."""
    os.write(file, bytes(PAGE))
    os.fdatasync(file)


def timed(act: Callable[[], None]) -> float:
    """How long something takes [ms]."""
    begun = time.perf_counter()
    act()
    return 1e3 * (time.perf_counter() - begun)


def figures(times: dict[str, list[float]]) -> dict[str, float]:
    """Medians and 99th percentiles [ms], and how a tap compares with a bare write."""
    found = {
        f"{name}_{word}_ms": float(np.percentile(each, percent))
        for name, each in times.items()
        for word, percent in (("p50", 50.0), ("p99", 99.0))
    }
    return {
        **found,
        "tap_p50_vs_raw_sync": found["tap_p50_ms"] / found["raw_p50_ms"],
        "tap_p99_vs_raw_sync": found["tap_p99_ms"] / found["raw_p99_ms"],
    }


if __name__ == "__main__":
    for key, figure in log_book().items():
        print(f"{key}: {figure:.3f}")
