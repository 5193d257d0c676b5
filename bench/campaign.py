"""How long a campaign report takes over many runs, beside a plain scan of the same files.

The plain scan opens each file, reads every entry and parses its JSON; it verifies nothing and
counts kinds only. The ratio says what the report costs beyond the least that anybody would do.
"""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from neckring.records.campaign import Campaign
from neckring.records.campaign_page import render_campaign
from neckring.records.campaign_reading import CampaignReader, folders_in
from neckring.station.loading import load_station

LOG_BOOK = "log.sqlite"
Found = TypeVar("Found")


@dataclass(frozen=True)
class CampaignTimes:
    """What was measured.

    Attributes:
        runs: How many.
        entries: In all logs together.
        report: Reading, verifying, counting and the page [s].
        scan: The plain scan [s].
    """

    runs: int
    entries: int
    report: float
    scan: float

    @property
    def ratio(self) -> float:
        """The report's time over the plain scan's."""
        return self.report / self.scan


def many_runs(kept: Path, folder: Path, count: int) -> Path:
    """Folders of many runs, each with the log of one; the file is one, its names are many.

    Args:
        kept: A kept folder.
        folder: Where they are made.
        count: How many.
    """
    for number in range(count):
        one = folder / f"run-{number:04d}"
        one.mkdir(parents=True)
        os.link(kept / LOG_BOOK, one / LOG_BOOK)
    return folder


def plain_scan(folder: Path) -> int:
    """Read and parse every entry of every log; how many there are."""
    kinds: Counter[str] = Counter()
    for path in sorted(folder.glob(f"*/{LOG_BOOK}")):
        connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        for (text,) in connection.execute("SELECT text FROM entry ORDER BY number"):
            kinds[json.loads(text)["deed"]["kind"]] += 1
        connection.close()
    return sum(kinds.values())


def campaign_times(station: Path, folder: Path) -> CampaignTimes:
    """Measure both on the same files, the plain scan first so that the files are in memory.

    Args:
        station: The station's folder.
        folder: Holds the kept folders.
    """
    loaded = load_station(station)
    entries, scan = _timed(lambda: plain_scan(folder))

    def whole() -> Campaign:
        found = CampaignReader(loaded).campaign(folders_in([folder]), os.cpu_count() or 1)
        render_campaign(found)
        return found

    found, report = _timed(whole)
    assert not found.unreadable
    assert sum(run.entries for run in found.runs) == entries
    return CampaignTimes(len(found.runs), entries, report, scan)


def _timed(work: Callable[[], Found]) -> tuple[Found, float]:
    begun = time.perf_counter()
    found = work()
    return found, time.perf_counter() - begun
