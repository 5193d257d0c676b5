"""A run for others: nothing in it tells who, where or when. What may pass is listed; else it stays.

Not a list of what is taken out, but of what is let through: numbers, the letters A and B, and words
of closed lists of neckring itself. A code, a name, a word of people or a date is in none of them.
Age, sex, mass and stature are left out altogether: with two people even a band tells who.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from neckring.live.alarm_list import LISTED
from neckring.live.entries import Entry, Kind, Role
from neckring.live.fault_catalogue import catalogue
from neckring.live.reading import Flaw
from neckring.live.run_records import Done
from neckring.procedure.grounding import TENDER, WEARERS
from neckring.records.data_package import with_sums
from neckring.records.presentation import SI_UNITS, presentation_of
from neckring.records.report_csv import (
    BELIEF,
    DERIVED,
    ESTIMATE,
    KIT,
    KIT_TIMES,
    LOG,
    READINGS_FILE,
    SINCE,
    UNIT,
    WEARER,
    Cell,
    CsvColumn,
    CsvTable,
    csv_files,
)
from neckring.records.report_records import RunReport
from neckring.station.run import ACTIVITIES
from neckring.station.sensed import SENSED

WITHHELD = "withheld"
LEFT_AWAY = frozenset({Kind.PAIRED, Kind.UNPAIRED, Kind.NOTE})
LETTERS = frozenset(WEARERS)
LANES = frozenset({*WEARERS, TENDER})
STATUSES = frozenset(each.value for each in Done)
FLAWS = frozenset(each.value for each in Flaw)
FAULTS = frozenset(catalogue(()))
ABOUT = """A redacted data package

It holds no code, no name, no word that people wrote, no place, no date and no clock time. Wearers
are A and B, procedures P1, P2 ... in the order of the day, and times count from first dressing in
whole seconds. Channels are named by what they measure. Age, sex, mass and stature are left out.

Whoever has the run can make this folder again, byte for byte: that shows that it is of that run.
Nothing in it leads back to the run's log book.

data_dictionary.csv tells every column; checksums.sha256 the SHA-256 of every other file.
"""


def redacted_files(report: RunReport, entries: Sequence[Entry]) -> Mapping[str, bytes]:
    """Name to content of every file of a redacted package, the sums among them.

    Args:
        report: Of the run.
        entries: Of its log book.
    """
    return with_sums({"README.txt": ABOUT.encode(), **csv_files(redacted_tables(report, entries))})


def redacted_tables(report: RunReport, entries: Sequence[Entry]) -> tuple[CsvTable, ...]:
    """The tables of a redacted package."""
    return (
        CsvTable("events.csv", "Something recorded.", EVENTS, lambda: _events(report, entries)),
        CsvTable("steps.csv", "One step of a procedure.", STEPS, lambda: _steps(report)),
        CsvTable("spells.csv", "One spell of one wearer.", SPELLS, lambda: _spells(report)),
        CsvTable("exposures.csv", "One wearer.", EXPOSURES, lambda: _exposures(report)),
        CsvTable("readings.csv", "One reading.", READINGS, lambda: _readings(report)),
        CsvTable("estimates.csv", "One estimate.", ESTIMATES, lambda: _estimates(report)),
    )


def passed(word: object, known: Iterable[str]) -> str:
    """A word of a closed list; any other is withheld, and nothing stays nothing."""
    if word in ("", None):
        return ""
    return str(word) if isinstance(word, str) and word in frozenset(known) else WITHHELD


def _since(report: RunReport, run_time: float | None) -> int | None:
    return None if run_time is None else round(report.since(run_time))


EVENTS = (
    SINCE,
    CsvColumn("kind", "", "What was recorded; notes and tablets are left out.", LOG),
    CsvColumn("role", "", "In which part somebody acted.", LOG),
    WEARER,
    CsvColumn("procedure", "", "P1, P2 ... in the order of the day.", DERIVED),
    CsvColumn("step", "", "As printed.", LOG),
    CsvColumn("cause", "", "Of an alarm, from the closed list.", LOG),
    CsvColumn("rank", "", "Of an alarm: 1 to know, 2 act soon, 3 act at once.", LOG),
    CsvColumn("fault", "", "Of a rehearsal, from the closed list.", LOG),
)


def _events(report: RunReport, entries: Sequence[Entry]) -> Iterator[Sequence[Cell]]:
    names = procedure_names(report)
    for entry in entries:
        deed, body = entry.deed, entry.deed.body
        if deed.kind in LEFT_AWAY:
            continue
        yield (
            _since(report, entry.stamp.run_time),
            deed.kind.value,
            passed(deed.role.value, Role),
            passed(body.get("wearer"), (*LETTERS, "both")),
            _named(names, body.get("procedure")),
            _whole(body.get("step")),
            passed(body.get("cause"), LISTED),
            _whole(body.get("rank")),
            passed(body.get("fault"), FAULTS),
        )


def procedure_names(report: RunReport) -> Mapping[str, str]:
    """Code to P1, P2 ..."""
    return {one.code: f"P{number}" for number, one in enumerate(report.procedures, 1)}


def _named(names: Mapping[str, str], code: object) -> str:
    if code in ("", None):
        return ""
    return names.get(code, WITHHELD) if isinstance(code, str) else WITHHELD


def _whole(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None


STEPS = (
    CsvColumn("procedure", "", "P1, P2 ... in the order of the day.", DERIVED),
    CsvColumn("step", "", "As printed.", KIT),
    CsvColumn("lanes", "", "Whose turn it takes.", KIT),
    CsvColumn("on", "", "The wearer it is done to.", KIT),
    CsvColumn("status", "", "How far it came.", LOG),
    CsvColumn("done", "s", "From first dressing.", LOG),
    CsvColumn("took", "s", "Holds and stops left out.", DERIVED),
    *KIT_TIMES,
    CsvColumn("failures", "", "How often the expected sign was not there.", LOG),
)


def _steps(report: RunReport) -> Iterator[Sequence[Cell]]:
    names = procedure_names(report)
    for one in (step for procedure in report.procedures for step in procedure.steps):
        yield (
            _named(names, one.procedure),
            one.number,
            " ".join(passed(lane, LANES) for lane in one.lanes),
            passed(one.on, LETTERS),
            passed(one.status, STATUSES),
            _since(report, one.done),
            None if one.took is None else round(one.took),
            one.least,
            one.likely,
            one.most,
            one.failures,
        )


SPELLS = (
    WEARER,
    CsvColumn("number", "", "From 0.", KIT),
    CsvColumn("activity", "", "From the closed list.", KIT),
    CsvColumn("away", "", "Whether it leaves what the facility reaches.", KIT),
    CsvColumn("planned_begins", "s", "From first dressing.", KIT),
    CsvColumn("begun", "s", "From first dressing.", LOG),
    CsvColumn("ended", "s", "From first dressing.", LOG),
)


def _spells(report: RunReport) -> Iterator[Sequence[Cell]]:
    for one in report.spells:
        yield (
            passed(one.wearer, LETTERS),
            one.number,
            passed(one.activity, ACTIVITIES),
            one.away,
            None if one.planned is None else _since(report, one.planned.begins),
            _since(report, one.begun),
            _since(report, one.ended),
        )


EXPOSURES = (
    WEARER,
    CsvColumn("suit", "s", "In the suit.", DERIVED),
    CsvColumn("closed", "s", "With the face closed in.", DERIVED),
    CsvColumn("pack", "s", "On the pack's air.", DERIVED),
    CsvColumn("away", "s", "Away from what the facility reaches.", DERIVED),
    CsvColumn("waited", "s", "In procedures, while no step was theirs.", DERIVED),
    CsvColumn("waited_closed", "s", "Of it with the face closed in.", DERIVED),
)


def _exposures(report: RunReport) -> Iterator[Sequence[Cell]]:
    waits = {one.wearer: one for one in report.waits}
    for one in report.exposures:
        wait = waits.get(one.wearer)
        waited = (None, None) if wait is None else (round(wait.waited), round(wait.closed))
        times = (round(each) for each in (one.suit, one.closed, one.pack, one.away))
        yield (passed(one.wearer, LETTERS), *times, *waited)


READINGS = (
    SINCE,
    WEARER,
    CsvColumn("quantity", "", "What it measures, from the closed list.", KIT),
    CsvColumn("value", "unit of the line", "As sent, in SI.", READINGS_FILE),
    UNIT,
    CsvColumn("flaws", "", "What is wrong with it.", READINGS_FILE),
)


def _readings(report: RunReport) -> Iterator[Sequence[Cell]]:
    for one in report.sensors:
        quantity, unit = passed(one.quantity, SENSED), SI_UNITS.get(one.dimension, "")
        marks = [(passed(name, FLAWS), bad) for name, bad in one.flawed.items()]
        wearer = passed(one.wearer, LETTERS)
        for number, (at, value) in enumerate(
            zip(one.time.tolist(), one.value.tolist(), strict=True)
        ):
            flaws = "; ".join(name for name, bad in marks if bad[number])
            yield _since(report, at), wearer, quantity, value, unit, flaws


ESTIMATES = (
    SINCE,
    WEARER,
    CsvColumn("quantity", "", "Of what, from the closed list.", ESTIMATE),
    *BELIEF,
    UNIT,
)


def _estimates(report: RunReport) -> Iterator[Sequence[Cell]]:
    for one in report.estimates:
        for name, band in sorted(one.quantities.items()):
            shown = presentation_of(name)
            if shown.dimension:
                at, wearer = _since(report, one.at), passed(one.wearer, LETTERS)
                yield at, wearer, name, *band, shown.si_unit
