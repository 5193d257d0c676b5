"""How long a campaign report takes over many runs, beside a plain scan of the same files.

The plain scan opens each file, reads every entry and parses its JSON; it verifies nothing and
counts kinds only. The ratio says what the report costs beyond the least that anybody would do.
"""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

from neckring.live.desk import Desk
from neckring.live.entries import Deed, Kind, Role
from neckring.live.open_book import open_book
from neckring.live.run_clock import machine_sources
from neckring.live.run_sheet import run_sheet
from neckring.records.campaign import Campaign
from neckring.records.campaign_page import render_campaign
from neckring.records.campaign_reading import CampaignReader, folders_in
from neckring.station.loading import LoadedStation, load_station

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


RUNS = 1_000
ENTRIES = 540
"""Of a day with two wearers, as the demo's procedures and calls make them."""


def one_day(loaded: LoadedStation, kept: Path) -> None:
    """A closed log of as many entries as a day has."""
    sheet = run_sheet(loaded, "floor-survey", "floor-partner")
    desk = Desk(open_book(kept / LOG_BOOK, sheet.station), sheet, machine_sources())
    desk.open_run()
    spells = len(sheet.wearers["A"].run.outing)
    for number in range(ENTRIES - 2):
        letter = "AB"[number % 2]
        kind, body = Kind.NOTE, {"words": f"note {number}", "wearer": letter}
        if number < 2 * spells:
            kind, body = Kind.SPELL_BEGUN, {"wearer": letter, "spell": number // 2}
        desk.take(Deed(f"bench-{number}", kind, "L1", Role.LEAD, "tablet-1", body))
    desk.take(Deed("bench-end", Kind.RUN_CLOSED, "L1", Role.LEAD, "tablet-1", {"reason": "over"}))
    desk.close()


def campaign_report(runs: int = RUNS) -> dict[str, float]:
    """A campaign of many runs reported, beside the plain scan of the same files."""
    station = Path(str(files("neckring.station"))) / "demo"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        one_day(load_station(station), folder / "kept")
        times = campaign_times(station, many_runs(folder / "kept", folder / "runs", runs))
    return {
        "campaign_runs": float(times.runs),
        "campaign_entries": float(times.entries),
        "campaign_report_seconds": times.report,
        "campaign_plain_scan_seconds": times.scan,
        "campaign_report_vs_plain_scan": times.ratio,
    }


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
