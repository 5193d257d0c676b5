"""Kept folders of many runs, read fast: each chain verified, live estimates passed over unread.

An entry is verified by its digest, its number and the one before, as everywhere; what the digest
covers is its text, so that a text need not be understood to be known as unchanged.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from multiprocessing import get_all_start_methods, get_context
from pathlib import Path
from zoneinfo import ZoneInfo

from neckring.live.chain import BrokenChainError, Row, digest_of, empty, following, placed
from neckring.live.entries import BookError, Entry, Head, Kind
from neckring.live.run_sheet import run_sheet
from neckring.live.sqlite_rows import SqliteReader
from neckring.records.campaign import Campaign, KnownRun, RunSummary, in_order, runs_in, summary_of
from neckring.records.kept_run import LOG_BOOK, CannotReportError
from neckring.records.report_walk import KitReader
from neckring.station.fault import StationFaults
from neckring.station.loading import LoadedStation

FEW = 20
"""Runs that are read faster than processes are begun."""
KIND = '"kind":"'
ESTIMATE = f'{Kind.ESTIMATE.value}"'
"""How the kind of a live estimate goes on in canonical JSON."""


def folders_in(given: Iterable[Path]) -> tuple[Path, ...]:
    """Kept folders among those named, and among what lies in them.

    Raises:
        CannotReportError: One is no folder, or none of them holds a log book.
    """
    found: dict[Path, None] = {}
    named = list(given)
    for folder in named:
        if not folder.is_dir():
            raise CannotReportError(f"--campaign {folder}: there is no such folder")
        if (folder / LOG_BOOK).is_file():
            found[folder] = None
        found |= dict.fromkeys(sorted(path.parent for path in folder.glob(f"*/{LOG_BOOK}")))
    if not found:
        told = ", ".join(str(folder) for folder in named) or "nothing"
        raise CannotReportError(
            f"--campaign: read {told}; accepted: folders that runs were kept in, each with its "
            f"{LOG_BOOK}, or a folder that holds such folders"
        )
    return tuple(found)


class CampaignReader:
    """Reads kept folders for one station."""

    def __init__(self, station: LoadedStation) -> None:
        self._station = station
        self._zone = ZoneInfo(station.station.timezone)
        self._known: dict[tuple[str, ...], KnownRun | None] = {}

    def campaign(self, folders: Sequence[Path], workers: int = 1) -> Campaign:
        """Every run of some folders; one that cannot be read is named with its reason.

        Args:
            folders: Kept ones.
            workers: Processes that read them, where the system can fork; the answer is the same.
        """
        # The first is read here, so that what it needs of the station is there before the fork.
        read = [self.outcome(folder) for folder in folders[:1]]
        read += _in_processes(self, folders[1:], workers)
        runs = [one for one in read if isinstance(one, RunSummary)]
        unreadable = {one[0]: one[1] for one in read if not isinstance(one, RunSummary)}
        about = self._station.station
        return Campaign(about.name, about.invented, in_order(runs), unreadable)

    def outcome(self, folder: Path) -> RunSummary | tuple[str, str]:
        """One run, or its folder and why it cannot be read."""
        try:
            return self.summary(folder)
        except BookError as problem:
            return folder.name, str(problem).replace(str(folder.absolute()), folder.name)

    def summary(self, folder: Path) -> RunSummary:
        """One run.

        Raises:
            BookError: Its log book cannot be read, does not verify, or is another station's.
        """
        path = folder.absolute() / LOG_BOOK
        reader = SqliteReader(path)
        try:
            name = reader.station()
            if name != self._station.station.name:
                raise BookError(f"{path}: it is the log book of station {name!r}")
            with placed(str(path)):
                entries, count = verified_entries(reader.rows(0), name)
        finally:
            reader.close()
        runs = runs_in(entries)
        return summary_of(folder.name, entries, count, self._known_run(runs), self._opened(entries))

    def _opened(self, entries: Iterable[Entry]) -> datetime | None:
        walls = (e.stamp.wall for e in entries if e.deed.kind is Kind.RUN_OPENED)
        wall = next(walls, None)
        return None if wall is None else datetime.fromtimestamp(wall, UTC).astimezone(self._zone)

    def _known_run(self, runs: tuple[str, ...]) -> KnownRun | None:
        if runs not in self._known:
            self._known[runs] = self._read_known(runs)
        return self._known[runs]

    def _read_known(self, runs: tuple[str, ...]) -> KnownRun | None:
        if not runs:
            return None
        try:
            sheet = run_sheet(self._station, *runs[:2])
        except StationFaults:
            return None
        return KnownRun(sheet, KitReader(sheet), reaches(self._station))


_FORKED: list[CampaignReader] = []
"""Reads in the processes that are forked; a station is too large to be sent to each."""


def _in_processes(
    reader: CampaignReader, folders: Sequence[Path], workers: int
) -> list[RunSummary | tuple[str, str]]:
    if workers < 2 or len(folders) < FEW or "fork" not in get_all_start_methods():
        return [reader.outcome(folder) for folder in folders]
    _FORKED[:] = [reader]
    with ProcessPoolExecutor(workers, mp_context=get_context("fork")) as pool:
        return list(pool.map(_outcome, folders, chunksize=FEW // 2))


def _outcome(folder: Path) -> RunSummary | tuple[str, str]:
    return _FORKED[0].outcome(folder)


def reaches(station: LoadedStation) -> tuple[str, ...]:
    """Places that the facility reaches; where there is none, where each run begins is home."""
    facility = station.station.facility
    if facility is not None:
        return tuple(facility.reaches)
    return tuple(sorted({run.outing[0].starts_at for run in station.runs.values()}))


def verified_entries(rows: Iterable[Row], station: str) -> tuple[list[Entry], int]:
    """The entries of a whole chain but for live estimates, and how many there are with them.

    Each is held against its digest and the one before; a live estimate is not read beyond that.

    Raises:
        BrokenChainError: At the first that does not follow.
    """
    head, entries = empty(station), []
    for row in rows:
        if is_estimate(row.text):
            _refuse_broken(row, head)
        else:
            entries.append(following(row, head))
        head = Head(station, row.number, row.digest)
    return entries, head.count


def _refuse_broken(row: Row, head: Head) -> None:
    if (row.number, row.previous) != (head.count + 1, head.digest):
        raise BrokenChainError(head.count + 1, "it does not follow the entry before")
    if digest_of(row.previous, row.text) != row.digest:
        raise BrokenChainError(row.number, "its text, or its digest, is not what was written")


def is_estimate(text: str) -> bool:
    """Whether an entry is a live estimate, from its text alone.

    The deed's own kind stands last: what follows it in canonical JSON has no such key, and in a
    text of people a quotation mark is written otherwise.
    """
    at = text.rfind(KIND)
    return text.startswith(ESTIMATE, at + len(KIND))
