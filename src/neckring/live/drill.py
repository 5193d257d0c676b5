"""After a rehearsal: for each fault, who noticed when, what was done, and help against its clock.

Everything is read from the log book alone. Run time is the time of the suit; people act in real
time, and at more than real speed the two are not the same: both stand here, and what was not seen
is said to have been missed, never scored.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from neckring.live.alarm_list import LISTED
from neckring.live.alarm_list_instruments import FLAW_CODES
from neckring.live.alarm_list_limits import limit_code
from neckring.live.alarm_list_people import STOP_CALLED
from neckring.live.entries import Entry, Kind, Role
from neckring.live.fault_catalogue import AT, catalogue

_OUTLOOK = (
    "slack-below-reserve",
    "slack-in-doubt",
    "turn-back-passed",
    "turn-back-soon",
    "turn-back-near",
)
_SUSPECTED = ("suspicion", "suspicion-strong")
_AIR = (
    "air-lost",
    "co2-trend",
    *(limit_code(quantity) for quantity in ("inspired_co2", "inspired_o2", "fog_margin")),
)
_HEAT = (
    "water-lost",
    *(
        limit_code(quantity)
        for quantity in (
            "core_temperature",
            "core_rise",
            "mean_skin_temperature",
            "lowest_skin_temperature",
            "skin_core_gap",
            "heart_rate",
            "heat_storage",
            "water_inlet_temperature",
        )
    ),
)
_POWER = ("battery-low", "battery-empty", limit_code("battery_charge"))
_PEOPLE = ("call-missed", "symptom", STOP_CALLED)
_SENSOR = (*FLAW_CODES.values(), "source-gone", "sensors-many")

FITTING: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("fans", "one-fan", "weak-fans", "air-hose", "both-fans", "fan_weak"), _AIR),
    **dict.fromkeys(
        (
            "pump",
            "weak-pump",
            "main-kinked",
            "branch-kinked",
            "flattened",
            "leak-outside",
            "leak-inside",
            "not-chilled",
            "facility-warm",
            "main_kinked",
            "branch_kinked",
            "pump_weak",
        ),
        _HEAT,
    ),
    "battery": (*_POWER, *_AIR, *_HEAT),
    "cold-battery": _POWER,
    "battery_weak": _POWER,
    "facility": (*_AIR, *_HEAT),
    "harder_work": _HEAT,
    "fall": (*_AIR, *_PEOPLE),
    **dict.fromkeys(("down", "down-unheard", "no-contact", "no-answer", "slow"), _PEOPLE),
    **dict.fromkeys(("helmet", "umbilical"), _PEOPLE),
}
"""Fault to the causes of alarms that tell of it; the outlook and suspicions fit every one."""

ACTIONS: frozenset[Kind] = frozenset(
    {
        Kind.STOP,
        Kind.HOLD,
        Kind.TURN_BACK,
        Kind.CARD_OPENED,
        Kind.CARD_STEP_DONE,
        Kind.STEP_FAILED,
    }
)
"""Deeds that do something about a fault; steps of the procedure that goes on anyway do not."""

TOLD: frozenset[Kind] = frozenset({Kind.SYMPTOM, Kind.NOTE})


@dataclass(frozen=True)
class HelpTime:
    """What the plan's help clock says of a fault at its instant [s]; None where it says nothing.

    Attributes:
        failure: Code of the plan's failure.
        noticed: Until it is noticed and acted on, the longest that is assumed.
        air: Until fresh air at the face.
        cooling: Until cooling, or out of the suit.
    """

    failure: str
    noticed: float | None
    air: float | None
    cooling: float | None


@dataclass(frozen=True)
class Fresh:
    """How a wearer's face stands from an instant on, by the kit as the steps recorded have it.

    Attributes:
        wearer: A or B.
        run_time: [s]
        entry: Number of the entry by which it came.
        free: Whether there is fresh air that the fault does not stop.
    """

    wearer: str
    run_time: float
    entry: int
    free: bool


@dataclass(frozen=True)
class Seen:
    """One thing that was seen in the log book after a fault.

    Attributes:
        who: Code of the person; "desk" for an alarm.
        what: In words.
        after: Run time since the fault [s].
        real: Real time since the fault [s].
        entry: Its number.
    """

    who: str
    what: str
    after: float
    real: float
    entry: int


@dataclass(frozen=True)
class FaultStory:
    """One fault and what came of it; None is what was not seen.

    Attributes:
        fault: Code in the catalogue.
        words: In a sentence.
        wearer: A or B.
        begun: Run time [s].
        ended: Run time [s]; None when it lasted to the end.
        alarm: The first alarm that tells of it.
        acknowledged: When that alarm, or another that tells of it, was first acknowledged.
        told: The first symptom or note about the wearer.
        action: The first deed about it.
        fresh_air: When there was fresh air at the face again; None where air was no question too.
        needs_air: Whether fresh air is what ends the harm.
        help: The plan's clock.
        speed: Run time against real time, between the fault and what was seen last.
    """

    fault: str
    words: str
    wearer: str
    begun: float
    ended: float | None
    alarm: Seen | None
    acknowledged: Seen | None
    told: Seen | None
    action: Seen | None
    fresh_air: Seen | None
    needs_air: bool
    help: HelpTime | None
    speed: float

    @property
    def noticed(self) -> Seen | None:
        """What a person did first, of all that was seen; an alarm alone is nobody's noticing."""
        seen = [one for one in (self.acknowledged, self.told, self.action) if one is not None]
        return min(seen, key=lambda one: one.entry, default=None)

    @property
    def missed(self) -> tuple[str, ...]:
        """What was not seen, in words."""
        wanted = [
            (self.alarm, "no alarm told of it"),
            (self.noticed, "nobody showed that they had noticed"),
            (self.action, "nothing was done about it"),
        ]
        if self.needs_air:
            wanted.append((self.fresh_air, "no fresh air at the face was recorded"))
        return tuple(words for seen, words in wanted if seen is None)


@dataclass(frozen=True)
class DrillReport:
    """A whole rehearsal.

    Attributes:
        stories: One for each fault, in the order in which they began.
        without_fault: Fitting deeds of people while no fault was there: "stop by L1 at 12 min".
    """

    stories: tuple[FaultStory, ...]
    without_fault: tuple[str, ...] = field(default=())


Help = Callable[[str, str, float], HelpTime | None]
"""Wearer, fault, run time to what the plan's clock says."""


def no_help(_wearer: str, _fault: str, _run_time: float) -> HelpTime | None:
    """No plan to compare with."""
    return None


def drill_report(
    entries: Iterable[Entry], fresh: Sequence[Fresh] = (), help_time: Help = no_help
) -> DrillReport:
    """Read a rehearsal's log book.

    Args:
        entries: All of it, in order.
        fresh: How each wearer's face stood through the run, in order.
        help_time: What the plan says.
    """
    book = [entry for entry in entries if entry.deed.kind is not Kind.REFUSED]
    begun = [entry for entry in book if entry.deed.kind is Kind.FAULT_BEGUN]
    stories = tuple(_story(book, entry, fresh, help_time) for entry in begun)
    return DrillReport(stories, tuple(_without_fault(book)))


def _of(entry: Entry, key: str) -> str:
    value = entry.deed.body.get(key, "")
    return value if isinstance(value, str) else ""


def fits(fault: str, cause: str) -> bool:
    """Whether an alarm's cause tells of a fault."""
    if AT in fault:
        return cause in (*_SENSOR, *_SUSPECTED)
    return cause in (*FITTING.get(fault, ()), *_OUTLOOK, *_SUSPECTED)


def _story(
    book: Sequence[Entry], start: Entry, fresh: Sequence[Fresh], help_time: Help
) -> FaultStory:
    wearer, fault = _of(start, "wearer"), _of(start, "fault")
    end = _end(book, start)
    later = [
        entry
        for entry in book
        if entry.number > start.number and (end is None or entry.number <= end.number)
    ]
    # What people still do once the fault is gone counts until another fault of the wearer begins.
    after = [entry for entry in book if start.number < entry.number < _next_fault(book, start)]
    alarms = [entry for entry in later if _tells(entry, fault, wearer)]
    keys = {_of(entry, "alarm") for entry in alarms}
    acknowledged = [
        entry
        for entry in after
        if entry.deed.kind is Kind.ALARM_ACKNOWLEDGED and _of(entry, "alarm") in keys
    ]
    told = [entry for entry in after if entry.deed.kind in TOLD and _by_person(entry, wearer)]
    acted = [entry for entry in after if entry.deed.kind in ACTIONS and _by_person(entry, wearer)]
    needs_air = _AIR[0] in FITTING.get(fault, ())
    face = _face(book, fresh, start, wearer) if needs_air else None
    return FaultStory(
        fault,
        _words_of(fault),
        wearer,
        start.stamp.run_time,
        None if end is None else end.stamp.run_time,
        _first(alarms, start),
        _first(acknowledged, start),
        _first(told, start),
        _first(acted, start),
        face,
        needs_air,
        help_time(wearer, fault, start.stamp.run_time),
        _speed(start, after),
    )


def _words_of(fault: str) -> str:
    channel = fault.split(AT)[1:]
    known = catalogue(channel).get(fault)
    return known.words if known else fault


def _end(book: Sequence[Entry], start: Entry) -> Entry | None:
    same = (_of(start, "wearer"), _of(start, "fault"))
    ends = (
        entry
        for entry in book
        if entry.number > start.number
        and entry.deed.kind is Kind.FAULT_ENDED
        and (_of(entry, "wearer"), _of(entry, "fault")) == same
    )
    return next(ends, None)


def _next_fault(book: Sequence[Entry], start: Entry) -> float:
    numbers = (
        entry.number
        for entry in book
        if entry.number > start.number
        and entry.deed.kind is Kind.FAULT_BEGUN
        and _of(entry, "wearer") == _of(start, "wearer")
    )
    return next(numbers, float("inf"))


def _tells(entry: Entry, fault: str, wearer: str) -> bool:
    return (
        entry.deed.kind is Kind.ALARM_RAISED
        and _of(entry, "wearer") in (wearer, "")
        and fits(fault, _of(entry, "cause"))
    )


def _by_person(entry: Entry, wearer: str) -> bool:
    """Whether somebody who did not know did it, about this wearer or about everybody."""
    if entry.deed.role in (Role.DESK, Role.TRAINER):
        return False
    return _of(entry, "wearer") in (wearer, "", "both")


def _first(found: Sequence[Entry], start: Entry) -> Seen | None:
    return _seen(found[0], start) if found else None


def _seen(entry: Entry, start: Entry) -> Seen:
    words = next(
        (
            _of(entry, key)
            for key in ("words", "reason", "what", "card", "alarm")
            if _of(entry, key)
        ),
        "",
    )
    cause = _of(entry, "cause")
    told = LISTED[cause].code if cause in LISTED else entry.deed.kind.value
    return Seen(
        entry.deed.actor,
        f"{told}: {words}" if words else told,
        entry.stamp.run_time - start.stamp.run_time,
        entry.stamp.monotonic - start.stamp.monotonic,
        entry.number,
    )


def _face(book: Sequence[Entry], fresh: Sequence[Fresh], start: Entry, wearer: str) -> Seen | None:
    by_number = {entry.number: entry for entry in book}
    before = [one for one in fresh if one.wearer == wearer and one.entry < start.number]
    if before and before[-1].free:
        return Seen("kit", "the face was free already", 0.0, 0.0, start.number)
    for one in fresh:
        if one.wearer == wearer and one.free and one.entry > start.number:
            entry = by_number.get(one.entry)
            return None if entry is None else _seen(entry, start)
    return None


def _speed(start: Entry, after: Sequence[Entry]) -> float:
    """Run time against real time, rounded as it was set; 1 when no real time passed."""
    if not after:
        return 1.0
    last = after[-1].stamp
    real = last.monotonic - start.stamp.monotonic
    return round((last.run_time - start.stamp.run_time) / real, 1) if real > 0.0 else 1.0


def _without_fault(book: Sequence[Entry]) -> list[str]:
    """What was done while no fault was there: a false alarm costs trust too."""
    there: set[tuple[str, str]] = set()
    ever, found = False, []
    for entry in book:
        key = (_of(entry, "wearer"), _of(entry, "fault"))
        if entry.deed.kind is Kind.FAULT_BEGUN:
            there.add(key)
            ever = True
        elif entry.deed.kind is Kind.FAULT_ENDED:
            there.discard(key)
        elif entry.deed.kind in (Kind.STOP, Kind.CARD_OPENED) and not there and not ever:
            minute = entry.stamp.run_time / 60.0
            found.append(f"{entry.deed.kind.value} by {entry.deed.actor} at {minute:.0f} min")
    return found
