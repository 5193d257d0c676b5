"""Many runs in one table: what happened, how long, how often, why stopped. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from neckring.live.bodies import text_in, texts_in
from neckring.live.entries import Entry, Kind
from neckring.live.run_sheet import RunSheet
from neckring.records.report_course_records import Exposure
from neckring.records.report_events import alarm_facts
from neckring.records.report_outing import away, spell_facts
from neckring.records.report_walk import KitReader, exposure, kit_walk

UNTOLD = "no reason given"


@dataclass(frozen=True)
class RunSummary:
    """One run of a campaign.

    Attributes:
        name: Of its folder.
        runs: Codes of the runs, A's first.
        opened: On the desk's clock; None when it was never opened.
        closed: Whether it was closed.
        rehearsal: Whether a fault was put in by a trainer.
        length: From the first entry to the last [s].
        exposures: Of each wearer; none where the station does not have the run any more.
        stops: Reason to how often.
        holds: How many.
        turn_backs: How many.
        alarms: Rank to how many.
        unacknowledged: Alarms to act at once that nobody acknowledged.
        longest_wait: Until one of them was acknowledged [s]; None for none.
        deviations: Kind to how many.
        failed_steps: How many.
        refused: How many.
        calls: How many were answered.
        missed: How many were not.
        symptoms: How many.
        cards: Card to how often it was opened.
        faults: Fault of a rehearsal to how often.
        restarts: How often the console came back.
        entries: In the log book.
    """

    name: str
    runs: tuple[str, ...]
    opened: datetime | None
    closed: bool
    rehearsal: bool
    length: float
    exposures: tuple[Exposure, ...]
    stops: Mapping[str, int]
    holds: int
    turn_backs: int
    alarms: Mapping[int, int]
    unacknowledged: int
    longest_wait: float | None
    deviations: Mapping[str, int]
    failed_steps: int
    refused: int
    calls: int
    missed: int
    symptoms: int
    cards: Mapping[str, int]
    faults: Mapping[str, int]
    restarts: int
    entries: int


@dataclass(frozen=True)
class KnownRun:
    """What the station knows of the runs of a folder.

    Attributes:
        sheet: Of the day.
        reader: Of its kit.
        reaches: Places that the facility reaches.
    """

    sheet: RunSheet
    reader: KitReader
    reaches: tuple[str, ...]


def summary_of(
    name: str,
    entries: Sequence[Entry],
    count: int,
    known: KnownRun | None,
    opened: datetime | None,
) -> RunSummary:
    """One run in figures.

    Args:
        name: Of its folder.
        entries: Of its log book, verified; live estimates may be left out.
        count: How many entries it has.
        known: What the station knows of it; None when it has the run no more.
        opened: On the desk's clock.
    """
    kinds = Counter(entry.deed.kind for entry in entries)
    alarms = alarm_facts(entries)
    grave = [alarm for alarm in alarms if alarm.rank == 3]
    waits = [a.acknowledged - a.raised for a in grave if a.acknowledged is not None]
    until = max((entry.stamp.run_time for entry in entries), default=0.0)
    return RunSummary(
        name=name,
        runs=runs_in(entries),
        opened=opened,
        closed=kinds[Kind.RUN_CLOSED] > 0,
        rehearsal=kinds[Kind.FAULT_BEGUN] > 0,
        length=until,
        exposures=() if known is None else tuple(_exposures(entries, known, until)),
        stops=_counted(entries, Kind.STOP, "reason"),
        holds=kinds[Kind.HOLD],
        turn_backs=kinds[Kind.TURN_BACK],
        alarms=Counter(alarm.rank for alarm in alarms),
        unacknowledged=len(grave) - len(waits),
        longest_wait=max(waits, default=None),
        deviations=_deviations(entries, kinds),
        failed_steps=kinds[Kind.STEP_FAILED],
        refused=kinds[Kind.REFUSED],
        calls=kinds[Kind.CALL_ANSWERED],
        missed=kinds[Kind.CALL_MISSED],
        symptoms=kinds[Kind.SYMPTOM],
        cards=_counted(entries, Kind.CARD_OPENED, "card"),
        faults=_counted(entries, Kind.FAULT_BEGUN, "fault"),
        restarts=kinds[Kind.RESTARTED],
        entries=count,
    )


def runs_in(entries: Iterable[Entry]) -> tuple[str, ...]:
    """Codes of the runs that a log book opens; none when it opens none."""
    opened = (entry for entry in entries if entry.deed.kind is Kind.RUN_OPENED)
    return next((texts_in(entry.deed.body, "runs") for entry in opened), ())


def _exposures(entries: Sequence[Entry], known: KnownRun, until: float) -> Iterator[Exposure]:
    walk = kit_walk(entries, known.sheet)
    spells = spell_facts(entries, known.sheet, known.reaches, {}, 0.0, until)
    for letter in known.sheet.letters:
        yield exposure(walk, known.reader, letter, until, away(spells, letter))


def _counted(entries: Iterable[Entry], kind: Kind, key: str) -> Mapping[str, int]:
    words = (text_in(e.deed.body, key) for e in entries if e.deed.kind is kind)
    return Counter(" ".join(each.split()) or UNTOLD for each in words)


def _deviations(entries: Iterable[Entry], kinds: Mapping[Kind, int]) -> Mapping[str, int]:
    accepted = sum(
        entry.deed.body.get("accepts") is True
        and entry.deed.kind not in (Kind.STEP_LEFT_OUT, Kind.STEP_MOVED, Kind.REFUSED)
        for entry in entries
    )
    return {
        "left out": kinds[Kind.STEP_LEFT_OUT],
        "moved": kinds[Kind.STEP_MOVED],
        "accepted all the same": accepted,
    }


@dataclass(frozen=True)
class Campaign:
    """Many runs together.

    Attributes:
        station: Its name.
        invented: Whether its data are made up.
        runs: In order of time.
        unreadable: Folder to why it is not among them.
    """

    station: str
    invented: bool
    runs: tuple[RunSummary, ...]
    unreadable: Mapping[str, str] = field(default_factory=dict)

    def total(self, key: str) -> int:
        """The sum of one count over all runs."""
        return sum(int(getattr(run, key)) for run in self.runs)

    def merged(self, key: str) -> Counter[str]:
        """The sum of one group of counts over all runs."""
        summed: Counter[str] = Counter()
        for run in self.runs:
            summed.update(getattr(run, key))
        return summed

    def alarms(self, rank: int) -> int:
        """How many alarms of a rank there were."""
        return sum(run.alarms.get(rank, 0) for run in self.runs)

    def exposures(self) -> Mapping[tuple[str, str], Exposure]:
        """Run code and letter to the time spent in it over all runs."""
        found: dict[tuple[str, str], Exposure] = {}
        for run in self.runs:
            for code, one in zip(run.runs, run.exposures, strict=False):
                before = found.get((code, one.wearer), Exposure(one.wearer, 0.0, 0.0, 0.0, 0.0))
                found[code, one.wearer] = Exposure(
                    one.wearer,
                    before.suit + one.suit,
                    before.closed + one.closed,
                    before.away + one.away,
                    before.pack + one.pack,
                )
        return found


def in_order(runs: Iterable[RunSummary]) -> tuple[RunSummary, ...]:
    """Runs in order of time; those never opened come last."""
    return tuple(
        sorted(
            runs, key=lambda r: (r.opened is None, r.opened.timestamp() if r.opened else 0, r.name)
        )
    )
