"""What the log book says of holds, stops, deviations, alarms, calls, cards and clocks. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from neckring.live.alarm_list import LISTED
from neckring.live.bodies import group_in, text_in, whole_in
from neckring.live.entries import Entry, Kind
from neckring.live.entry_reading import held_by
from neckring.live.reserve_clocks import CAUSE
from neckring.live.run_sheet import RunSheet, SheetClock
from neckring.live.step_folds import measured_words
from neckring.procedure.model import holds
from neckring.records.report_event_records import (
    AlarmFact,
    CallFact,
    CardFact,
    ClockFact,
    Happening,
    Interruption,
)
from neckring.records.report_step_records import Deviation
from neckring.records.report_walk import KitAt

TOLD = ("what", "why", "words", "reason")
"""Keys of a body in which people wrote something."""
CLOCKS = "clock"
"""Family of the alarms of reserve clocks."""
KEY_PARTS = re.compile("[:/]")
_INTERRUPTS = {Kind.HOLD: "hold", Kind.STOP: "stop", Kind.TURN_BACK: "turn back"}


def interruptions(entries: Iterable[Entry], sheet: RunSheet) -> tuple[Interruption, ...]:
    """Holds, stops and turn backs, with who let the run go on."""
    found: list[Interruption] = []
    for entry in entries:
        kind = entry.deed.kind
        if kind in _INTERRUPTS:
            found.append(_interruption(entry, sheet))
        elif kind is Kind.RESUME:
            found = [_resumed(each, entry) for each in found]
    return tuple(found)


def _interruption(entry: Entry, sheet: RunSheet) -> Interruption:
    held, wearer = held_by(entry), text_in(entry.deed.body, "wearer")
    whom = (wearer,) if wearer in sheet.letters else sheet.letters
    kind = _INTERRUPTS[entry.deed.kind]
    return Interruption(kind, whom, held.by, held.reason, held.run_time, held.late)


def _resumed(one: Interruption, entry: Entry) -> Interruption:
    if one.ended is not None or one.kind == "turn back":
        return one
    deed = entry.deed
    return replace(
        one,
        ended=entry.stamp.run_time,
        resumed_by=deed.actor,
        resumed_why=text_in(deed.body, "reason"),
    )


def deviations(entries: Iterable[Entry], sheet: RunSheet) -> tuple[Deviation, ...]:
    """What was done otherwise than written, each with what the prover had shown."""
    return tuple(one for one in (_deviation(entry, sheet) for entry in entries) if one)


def _deviation(entry: Entry, sheet: RunSheet) -> Deviation | None:
    deed, body = entry.deed, entry.deed.body
    if deed.kind is Kind.STEP_LEFT_OUT:
        kind, what = "left out", step_words(body, sheet)
    elif deed.kind is Kind.STEP_MOVED:
        kind = "moved"
        what = f"{step_words(body, sheet)}, to before step {whole_in(body, 'before')}"
    elif body.get("accepts") is True and deed.kind is not Kind.REFUSED:
        kind, what = "accepted all the same", _accepted_words(entry, sheet)
    else:
        return None
    told = text_in(body, "reason"), text_in(body, "shown")
    return Deviation(kind, what, deed.actor, *told, entry.stamp.run_time)


def _accepted_words(entry: Entry, sheet: RunSheet) -> str:
    deed = entry.deed
    about = step_words(deed.body, sheet) or text_in(deed.body, "procedure")
    measured = measured_words(deed)
    parts = (deed.kind.value, about, f"read: {measured}" if measured else "")
    return ", ".join(part for part in parts if part)


def step_words(body: Mapping[str, object], sheet: RunSheet) -> str:
    """The step a body names, as it is spoken of; empty when it names none."""
    code, number = body.get("procedure"), body.get("step")
    if not isinstance(code, str) or not isinstance(number, int):
        return ""
    procedure = sheet.procedures.get(code)
    step = procedure.step(number) if procedure else None
    return f"{code}, {step.called}" if step else f"{code}, step {number}"


def happenings(entries: Iterable[Entry], sheet: RunSheet, *kinds: Kind) -> tuple[Happening, ...]:
    """What people recorded of some kinds, in order."""
    return tuple(_happening(entry, sheet) for entry in entries if entry.deed.kind in kinds)


def _happening(entry: Entry, sheet: RunSheet) -> Happening:
    deed = entry.deed
    body, what = deed.body, step_words(deed.body, sheet)
    if deed.kind is Kind.REFUSED:
        inner = group_in(body, "body")
        parts = (text_in(body, "kind"), step_words(inner, sheet))
        what = ", ".join(part for part in parts if part)
    words = next((text_in(body, key) for key in TOLD if text_in(body, key)), "")
    return Happening(
        deed.kind.value,
        text_in(body, "wearer"),
        deed.actor,
        deed.role.value,
        what,
        words,
        entry.stamp.run_time,
        entry.number,
    )


def alarm_facts(entries: Iterable[Entry]) -> tuple[AlarmFact, ...]:
    """Alarms in order, each with who acknowledged it and when its cause was gone.

    One that gets worse ends and is raised anew, as it wants to be acknowledged anew.
    """
    found: list[AlarmFact] = []
    present: dict[str, int] = {}
    for entry in entries:
        key, at = text_in(entry.deed.body, "alarm"), entry.stamp.run_time
        if entry.deed.kind is Kind.ALARM_RAISED:
            if key in present:
                found[present[key]] = replace(found[present[key]], ended=at)
            present[key] = len(found)
            found.append(_alarm(entry))
        elif key in present:
            found[present[key]] = _followed(found[present[key]], entry, at)
            if entry.deed.kind is Kind.ALARM_ENDED:
                del present[key]
    return tuple(found)


def _alarm(entry: Entry) -> AlarmFact:
    body = entry.deed.body
    return AlarmFact(
        text_in(body, "alarm"),
        whole_in(body, "rank"),
        text_in(body, "cause"),
        text_in(body, "wearer"),
        text_in(body, "words"),
        entry.stamp.run_time,
    )


def _followed(alarm: AlarmFact, entry: Entry, at: float) -> AlarmFact:
    if entry.deed.kind is Kind.ALARM_ACKNOWLEDGED and alarm.acknowledged is None:
        return replace(alarm, acknowledged=at, acknowledged_by=entry.deed.actor)
    if entry.deed.kind is Kind.ALARM_ENDED and alarm.ended is None:
        return replace(alarm, ended=at)
    return alarm


def call_facts(entries: Sequence[Entry], letters: Iterable[str]) -> tuple[CallFact, ...]:
    """Symptom calls of each wearer: when answered, when missed."""

    def times(kind: Kind, letter: str) -> tuple[float, ...]:
        return tuple(
            entry.stamp.run_time
            for entry in entries
            if entry.deed.kind is kind and entry.deed.body.get("wearer") == letter
        )

    return tuple(
        CallFact(letter, times(Kind.CALL_ANSWERED, letter), times(Kind.CALL_MISSED, letter))
        for letter in letters
    )


def card_facts(entries: Iterable[Entry]) -> tuple[CardFact, ...]:
    """Emergency cards in the order in which they were opened."""
    found: list[CardFact] = []
    for entry in entries:
        deed, at = entry.deed, entry.stamp.run_time
        card, wearer = text_in(deed.body, "card"), text_in(deed.body, "wearer")
        if deed.kind is Kind.CARD_OPENED:
            found.append(CardFact(card, wearer, deed.actor, at, {}, None))
            continue
        if deed.kind not in (Kind.CARD_STEP_DONE, Kind.CARD_CLOSED):
            continue
        for place, one in enumerate(found):
            if (one.card, one.wearer, one.closed) != (card, wearer, None):
                continue
            if deed.kind is Kind.CARD_CLOSED:
                found[place] = replace(one, closed=at)
            else:
                steps = {**one.steps, whole_in(deed.body, "step"): at}
                found[place] = replace(one, steps=steps)
    return tuple(found)


def clock_facts(
    walk: Sequence[KitAt], sheet: RunSheet, alarms: Iterable[AlarmFact], until: float
) -> tuple[ClockFact, ...]:
    """Every running of every reserve clock, in order of time.

    Args:
        walk: The kit through the run.
        sheet: Of the day.
        alarms: Of the run.
        until: End of the run [s].
    """
    over = [alarm for alarm in alarms if _is_of_clock(alarm)]
    found = [
        _with_end(clock, started, ended, over, until)
        for clock in sheet.clocks
        for started, ended in _runs(walk, clock)
    ]
    return tuple(sorted(found, key=lambda one: (one.started, one.code, one.wearer)))


def _is_of_clock(alarm: AlarmFact) -> bool:
    listed = LISTED.get(alarm.cause)
    return alarm.cause == CAUSE or (listed is not None and listed.family == CLOCKS)


def _runs(walk: Sequence[KitAt], clock: SheetClock) -> Iterator[tuple[float, float | None]]:
    """When a clock started and ended; the rules are those of the run's fold."""
    started: float | None = None
    before = walk[0].state
    for at in walk[1:]:
        if started is not None and holds(clock.ends, at.state):
            yield started, at.run_time
            started = None
        elif started is None and holds(clock.starts, at.state) and not holds(clock.starts, before):
            started = at.run_time
        before = at.state
    if started is not None:
        yield started, None


def _with_end(
    clock: SheetClock,
    started: float,
    ended: float | None,
    over: Sequence[AlarmFact],
    until: float,
) -> ClockFact:
    end = until if ended is None else ended
    lasts, at = clock.lasts.seconds, None
    if lasts is not None:
        at = started + lasts if started + lasts < end else None
    else:
        # How long it lasts changed with each estimate: its alarm says when it was over.
        told = (a for a in over if {clock.code, clock.wearer} <= set(KEY_PARTS.split(a.key)))
        at = next((a.raised for a in told if started <= a.raised <= end), None)
    return ClockFact(clock.code, clock.wearer, clock.words, started, ended, lasts, at)
