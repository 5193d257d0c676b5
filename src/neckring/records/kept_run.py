"""The folder in which a run is kept, opened to be read: log book verified, readings, forms."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from neckring.live.bodies import text_group_in, text_in, texts_in
from neckring.live.chained_book import ReadableBook
from neckring.live.entries import BookError, Entry, Head, Kind
from neckring.live.open_book import read_book
from neckring.live.readings_file import ReadingsError, ReadingsReader
from neckring.live.run_sheet import RunSheet
from neckring.records.report_forms import FormError, read_forms
from neckring.records.report_records import FormFact
from neckring.station.fault import listed

LOG_BOOK = "log.sqlite"
READINGS = "readings.sqlite"


class CannotReportError(Exception):
    """A run cannot be reported; says why in words."""


@dataclass(frozen=True)
class KeptRun:
    """What a folder holds of a run.

    Attributes:
        entries: Of the log book, each verified.
        head: Of the chain.
        sheet: What was carried out; says whether it was a rehearsal.
        parts: File to digest, as the log book notes them last.
        changed: Files written otherwise now than when the run was carried out.
        readings: Open for reading; None where there are none.
        no_readings: Why there are none, in words; else empty.
        forms: That were filled in.
    """

    entries: tuple[Entry, ...]
    head: Head
    sheet: RunSheet
    parts: dict[str, str]
    changed: tuple[str, ...]
    readings: ReadingsReader | None
    no_readings: str
    forms: tuple[FormFact, ...]

    def close(self) -> None:
        """Let go of the readings."""
        if self.readings is not None:
            self.readings.close()


@dataclass(frozen=True)
class KeptEntries:
    """Entries that were read once, as a log book to look at."""

    read: tuple[Entry, ...]

    def entries(self, after: int = 0) -> Iterator[Entry]:
        """Entries in order, from the one behind number `after`."""
        return (entry for entry in self.read if entry.number > after)


def open_kept(kept: Path, book: str, sheet: RunSheet) -> KeptRun:
    """Open a run that was kept.

    Args:
        kept: Its folder.
        book: Address of a database in which the log book is; empty for the file in the folder.
        sheet: Of the station as it is now, with the codes of the runs asked for.

    Raises:
        CannotReportError: No folder, no log book, another run's or another station's, or one that
            does not verify; says the place.
    """
    refuse_folder(kept, book)
    try:
        opened = read_book(book or kept / LOG_BOOK, sheet.station)
    except BookError as problem:
        raise CannotReportError(str(problem)) from None
    try:
        entries, head = tuple(opened.entries()), opened.head()
        of_run = as_carried_out(opened, entries, head, sheet)
    except BookError as problem:
        raise CannotReportError(str(problem)) from None
    finally:
        opened.close()
    parts = _noted_parts(entries)
    changed = sheet.changed_since(parts) if parts else ()
    readings, why = _readings(kept)
    try:
        forms = read_forms(kept)
    except FormError as problem:
        raise CannotReportError(str(problem)) from None
    return KeptRun(entries, head, of_run, parts, changed, readings, why, forms)


def refuse_folder(kept: Path, book: str) -> None:
    """A folder that is not there, or without a log book, is told at once.

    Raises:
        CannotReportError: It is so.
    """
    accepted = "accepted: the folder that console or rehearse kept the run in"
    if not kept.is_dir():
        raise CannotReportError(f"--keep {kept}: there is no such folder; {accepted}")
    if not book and not (kept / LOG_BOOK).is_file():
        near = sorted(path.parent.name for path in kept.glob(f"*/{LOG_BOOK}"))
        hint = f"; perhaps one of those in it: {listed(near)}" if near else ""
        raise CannotReportError(f"--keep {kept}: it holds no {LOG_BOOK}; {accepted}{hint}")


def as_carried_out(
    book: ReadableBook, entries: Sequence[Entry], head: Head, sheet: RunSheet
) -> RunSheet:
    """The sheet, once the log book is known to be of the same run; as a rehearsal when it was one.

    Raises:
        CannotReportError: It is the log book of something else.
    """
    if head.station != sheet.station:
        raise CannotReportError(
            f"{book.where}: it is the log book of station {head.station!r}, not of "
            f"{sheet.station!r}"
        )
    opened = next((entry for entry in entries if entry.deed.kind is Kind.RUN_OPENED), None)
    if opened is None:
        raise CannotReportError(f"{book.where}: no run was opened in it: there is nothing to tell")
    was = texts_in(opened.deed.body, "runs")
    asked = tuple(wearer.run.code for wearer in sheet.wearers.values())
    if was != asked:
        raise CannotReportError(
            f"{book.where}: entry {opened.number} opens the run {' with '.join(was)}, "
            f"not {' with '.join(asked)}; accepted: neckring report {' '.join(was)}"
        )
    return replace(sheet, rehearsal=_was_rehearsal(entries, opened, sheet))


def _was_rehearsal(entries: Sequence[Entry], opened: Entry, sheet: RunSheet) -> bool:
    """The digest of the sheet as it was tells; a fault that was put in tells as well."""
    body = opened.deed.body
    rehearsed = replace(sheet, rehearsal=True, parts=text_group_in(body, "parts"))
    faults = any(entry.deed.kind is Kind.FAULT_BEGUN for entry in entries)
    return faults or rehearsed.digest == text_in(body, "sheet")


def _noted_parts(entries: Sequence[Entry]) -> dict[str, str]:
    noted = (
        text_group_in(entry.deed.body, "parts")
        for entry in reversed(entries)
        if entry.deed.kind in (Kind.RUN_OPENED, Kind.RESTARTED)
    )
    return dict(next((parts for parts in noted if parts), {}))


def _readings(kept: Path) -> tuple[ReadingsReader | None, str]:
    path = kept / READINGS
    if not path.is_file():
        return None, f"the folder holds no {READINGS}"
    try:
        return ReadingsReader(path), ""
    except ReadingsError as problem:
        return None, str(problem).replace(str(kept), kept.name)
