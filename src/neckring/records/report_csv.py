"""A run as tables for other programs: each column with name, unit, meaning and source.

RFC 4180: commas, quotes where needed, lines end in CR LF; UTF-8. The unit stands in the header, in
brackets. Numbers are SI and read back as just what they were. A text of people that a spreadsheet
would take for a formula has an apostrophe before it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from neckring.live.book_json import canonical
from neckring.live.entries import Entry
from neckring.records.presentation import SI_UNITS, presentation_of
from neckring.records.report_records import RunReport

Cell = str | int | float | bool | None
FORMULA = ("=", "+", "-", "@", "\t", "\r")
LOG, KIT, PLAN = "log book", "kit and procedure files", "computed plan"
READINGS_FILE, ESTIMATE = "readings as kept", "live estimate in the log book"
DERIVED = "worked out from the log book"


@dataclass(frozen=True)
class CsvColumn:
    """One column.

    Attributes:
        name: At its head.
        unit: Of its numbers; empty for texts and counts.
        meaning: In a sentence.
        source: Where it comes from.
    """

    name: str
    unit: str
    meaning: str
    source: str

    @property
    def heading(self) -> str:
        """Name and unit."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


@dataclass(frozen=True)
class CsvTable:
    """One file.

    Attributes:
        name: Of the file.
        about: What one line is.
        columns: Its columns.
        rows: Makes its lines.
    """

    name: str
    about: str
    columns: tuple[CsvColumn, ...]
    rows: Callable[[], Iterable[Sequence[Cell]]]


RUN_TIME = CsvColumn("run_time", "s", "Since the run was opened; never goes back.", LOG)
SINCE = CsvColumn("since_first_dressing", "s", "From first dressing, as plans count.", DERIVED)
WEARER = CsvColumn("wearer", "", "A or B; empty for nobody.", LOG)
QUANTITY = CsvColumn("quantity", "", "What it is of, as docs/vocabulary.md names it.", KIT)
UNIT = CsvColumn("unit", "", "Unit of the numbers in this line.", "neckring")
KIT_TIMES = (
    CsvColumn("least", "s", "By the kit.", KIT),
    CsvColumn("likely", "s", "By the kit.", KIT),
    CsvColumn("most", "s", "By the kit.", KIT),
)
BELIEF = (
    CsvColumn("low", "unit of the line", "5 % of the belief lies below.", ESTIMATE),
    CsvColumn("middle", "unit of the line", "Half of it.", ESTIMATE),
    CsvColumn("high", "unit of the line", "95 % of it.", ESTIMATE),
)


def csv_tables(report: RunReport, entries: Sequence[Entry]) -> tuple[CsvTable, ...]:
    """All files of a run.

    Args:
        report: Of the run.
        entries: Of its log book.
    """
    return (
        CsvTable(
            "events.csv", "One entry of the log book.", EVENTS, lambda: _events(report, entries)
        ),
        CsvTable("steps.csv", "One step of a procedure.", STEPS, lambda: _steps(report)),
        CsvTable("spells.csv", "One spell of one wearer.", SPELLS, lambda: _spells(report)),
        CsvTable("alarms.csv", "One alarm.", ALARMS, lambda: _alarms(report)),
        CsvTable("readings.csv", "One reading, as it came.", READINGS, lambda: _readings(report)),
        CsvTable(
            "estimates.csv",
            "One quantity of one live estimate.",
            ESTIMATES,
            lambda: _estimates(report),
        ),
        CsvTable(
            "plan.csv", "One quantity at one instant of a plan.", PLANNED, lambda: _plan(report)
        ),
    )


EVENTS = (
    CsvColumn("number", "", "Of the entry, from 1 without a gap.", LOG),
    RUN_TIME,
    SINCE,
    CsvColumn("wall", "s since 1970-01-01 UTC", "The desk's clock; people may set it.", LOG),
    CsvColumn("kind", "", "What was recorded.", LOG),
    CsvColumn("actor", "", "Code of the person; desk for the console itself.", LOG),
    CsvColumn("role", "", "In which part.", LOG),
    CsvColumn("device", "", "Which tablet.", LOG),
    WEARER,
    CsvColumn("body", "", "All of it, as canonical JSON (RFC 8785).", LOG),
    CsvColumn("tapped_at", "s since 1970-01-01 UTC", "The tablet's clock at the tap.", LOG),
    CsvColumn("digest", "", "SHA-256 of the entry with the one before.", LOG),
)


def _events(report: RunReport, entries: Sequence[Entry]) -> Iterator[Sequence[Cell]]:
    for entry in entries:
        deed, stamp = entry.deed, entry.stamp
        wearer = deed.body.get("wearer")
        yield (
            entry.number,
            stamp.run_time,
            report.since(stamp.run_time),
            stamp.wall,
            deed.kind.value,
            deed.actor,
            deed.role.value,
            deed.device,
            wearer if isinstance(wearer, str) else "",
            canonical(deed.body),
            deed.tapped_at,
            entry.digest,
        )


STEPS = (
    CsvColumn("procedure", "", "Its code.", KIT),
    CsvColumn("step", "", "As printed.", KIT),
    CsvColumn("words", "", "What is done.", KIT),
    CsvColumn("lanes", "", "Whose turn it takes.", KIT),
    CsvColumn("on", "", "The wearer it is done to.", KIT),
    CsvColumn("status", "", "How far it came.", LOG),
    CsvColumn("begun", "s", "Run time at which its people and the kit were ready.", DERIVED),
    CsvColumn("done", "s", "Run time at which it was recorded.", LOG),
    CsvColumn("took", "s", "Between the two, holds and stops left out.", DERIVED),
    *KIT_TIMES,
    CsvColumn("by", "", "Code of who recorded it.", LOG),
    CsvColumn("confirmed_by", "", "Codes of who checked it as well.", LOG),
    CsvColumn("measured", "", "As read, with its unit.", LOG),
    CsvColumn("failures", "", "How often the expected sign was not there.", LOG),
)


def _steps(report: RunReport) -> Iterator[Sequence[Cell]]:
    for procedure in report.procedures:
        for s in procedure.steps:
            texts = (s.procedure, s.number, s.words, " ".join(s.lanes), s.on, s.status)
            times = (s.begun, s.done, s.took, s.least, s.likely, s.most)
            yield (*texts, *times, s.by, " ".join(s.confirmed_by), s.measured, s.failures)


SPELLS = (
    WEARER,
    CsvColumn("number", "", "From 0.", KIT),
    CsvColumn("activity", "", "Its word.", KIT),
    CsvColumn("place", "", "Where it ends.", KIT),
    CsvColumn("away", "", "Whether it leaves what the facility reaches.", KIT),
    CsvColumn("planned_begins", "s", "Run time, shifted to the real first dressing.", PLAN),
    CsvColumn("planned_ends", "s", "The same of its end.", PLAN),
    CsvColumn("begun", "s", "Run time.", LOG),
    CsvColumn("ended", "s", "Run time; when the next one began.", LOG),
)


def _spells(report: RunReport) -> Iterator[Sequence[Cell]]:
    for one in report.spells:
        planned = (None, None) if one.planned is None else (one.planned.begins, one.planned.ends)
        head = (one.wearer, one.number, one.activity, one.place, one.away)
        yield (*head, *planned, one.begun, one.ended)


ALARMS = (
    WEARER,
    CsvColumn("rank", "", "1 to know, 2 act soon, 3 act at once.", LOG),
    CsvColumn("cause", "", "Code of the closed list (docs/alarms.md).", LOG),
    CsvColumn("words", "", "What was wrong.", LOG),
    CsvColumn("raised", "s", "Run time.", LOG),
    CsvColumn("acknowledged", "s", "Run time; empty for never.", LOG),
    CsvColumn("acknowledged_by", "", "Code.", LOG),
    CsvColumn("ended", "s", "Run time; empty for never.", LOG),
)


def _alarms(report: RunReport) -> Iterator[Sequence[Cell]]:
    for a in report.alarms:
        yield (
            a.wearer,
            a.rank,
            a.cause,
            a.words,
            a.raised,
            a.acknowledged,
            a.acknowledged_by,
            a.ended,
        )


READINGS = (
    CsvColumn("run_time", "s", "Run time at arrival.", READINGS_FILE),
    SINCE,
    WEARER,
    CsvColumn("channel", "", "Its name in the suit's file.", KIT),
    QUANTITY,
    CsvColumn("value", "unit of the line", "As sent, in SI.", READINGS_FILE),
    UNIT,
    CsvColumn("good", "", "Whether it may be used.", READINGS_FILE),
    CsvColumn("flaws", "", "What is wrong with it.", READINGS_FILE),
)


def _readings(report: RunReport) -> Iterator[Sequence[Cell]]:
    for one in report.sensors:
        unit = SI_UNITS.get(one.dimension, one.dimension)
        marks = list(one.flawed.items())
        times, values, fine = one.time.tolist(), one.value.tolist(), one.fine.tolist()
        for number, (at, value, good) in enumerate(zip(times, values, fine, strict=True)):
            flaws = "" if good else "; ".join(name for name, bad in marks if bad[number])
            yield (
                at,
                report.since(at),
                one.wearer,
                one.channel,
                one.quantity,
                value,
                unit,
                good,
                flaws,
            )


ESTIMATES = (
    CsvColumn("run_time", "s", "Run time at which it was recorded.", LOG),
    SINCE,
    WEARER,
    QUANTITY,
    *BELIEF,
    UNIT,
)


def _estimates(report: RunReport) -> Iterator[Sequence[Cell]]:
    for one in report.estimates:
        for name, band in sorted(one.quantities.items()):
            unit = presentation_of(name).si_unit
            yield (one.at, report.since(one.at), one.wearer, name, *band, unit)
        if one.turn_back is not None:
            yield (one.at, report.since(one.at), one.wearer, "turn_back", *one.turn_back, "s")


PLANNED = (
    WEARER,
    CsvColumn("since_first_dressing", "s", "As the plan counts.", PLAN),
    QUANTITY,
    CsvColumn("value", "unit of the line", "As planned, in SI.", PLAN),
    UNIT,
)
PLAN_EVERY = 60.0
"""[s]"""


def _plan(report: RunReport) -> Iterator[Sequence[Cell]]:
    for letter, plan in report.plans.items():
        times = plan.trace["time"]
        chosen = [n for n, at in enumerate(times.tolist()) if at % PLAN_EVERY == 0.0]
        for name in sorted(plan.trace):
            if name == "time":
                continue
            unit = presentation_of(name).si_unit
            for n in chosen:
                yield letter, float(times[n]), name, float(plan.trace[name][n]), unit


def csv_text(table: CsvTable) -> str:
    """One file, whole."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow([column.heading for column in table.columns])
    writer.writerows([_written(cell) for cell in row] for row in table.rows())
    return file.getvalue()


def _written(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(FORMULA) else cell
    return repr(cell)


def dictionary_text(tables: Iterable[CsvTable]) -> str:
    """The data dictionary: every column of every file."""
    columns = (
        CsvColumn("file", "", "", ""),
        CsvColumn("line", "", "", ""),
        CsvColumn("column", "", "", ""),
        CsvColumn("unit", "", "", ""),
        CsvColumn("meaning", "", "", ""),
        CsvColumn("source", "", "", ""),
    )
    rows = [
        (table.name, table.about, c.name, c.unit, c.meaning, c.source)
        for table in tables
        for c in table.columns
    ]
    return csv_text(CsvTable("data_dictionary.csv", "One column.", columns, lambda: rows))


def csv_files(tables: Iterable[CsvTable]) -> Mapping[str, bytes]:
    """Name to content of every file, the data dictionary among them."""
    given = list(tables)
    files = {table.name: csv_text(table).encode() for table in given}
    return {**files, "data_dictionary.csv": dictionary_text(given).encode()}
