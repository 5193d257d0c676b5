"""A gate: readings in order of time against what the team signed, with rest and repeat.

Before a run it lets in, sends to rest, hands to the medic or excludes; after it, it releases. A
gate never opens by the clock alone: every figure it names has to be measured, and to pass.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from neckring.crew.baseline import Against, against_card
from neckring.station.gates import Gate, GateRule
from neckring.station.people import CardReading
from neckring.station.vitals import MEASURED_AS, UNITS, WORDS
from neckring.units import format_quantity

Outcome = Literal["open", "measure", "rest", "medic decides", "shut", "refer"]


@dataclass(frozen=True)
class Reading:
    """What was measured at one time.

    Attributes:
        at: [s], from any common zero.
        values: Code of the vital to value [SI].
    """

    at: float
    values: Mapping[str, float]


@dataclass(frozen=True)
class GateFinding:
    """What a gate says.

    Attributes:
        outcome: "open"; "measure": something was not measured; "rest": measure again at `next_at`;
            "medic decides"; "shut": no repeat is left; "refer": hand on to medical care.
        why: Each reason in words.
        next_at: When to measure again [s]; None for not at all.
        against: The last readings against the person's own card.
        repeats_left: How often it may still be measured.
    """

    outcome: Outcome
    why: tuple[str, ...]
    next_at: float | None
    against: tuple[Against, ...]
    repeats_left: int


def pass_gate(
    gate: Gate,
    readings: Sequence[Reading],
    card: Sequence[CardReading] = (),
    answers: Mapping[str, bool] | None = None,
    rest_first: bool = False,
) -> GateFinding:
    """What a signed gate says of readings.

    A reading taken before the rest was over does not count as a repeat: it neither opens the gate
    nor uses a repeat up; but what has become worse in it counts. A later reading that is crossed
    shuts a gate that was open.

    Args:
        gate: The signed gate.
        readings: In order of time.
        card: The person's own readings.
        answers: Code of a question to whether it was answered with yes.
        rest_first: After a run nobody is released before one rest is over: the first reading
            counts only for what comes after it.
    """
    counted = _counted(gate, readings, rest_first)
    if not counted:
        return GateFinding("measure", ("nothing was measured yet",), None, (), gate.repeats)
    left = gate.repeats - _used(gate, counted, rest_first)
    last = counted[-1]
    against = tuple(_against(gate, last, card))
    missing = _missing(gate, last)
    crossed = _all_crossed(gate, last)
    asked = list(_asked(gate, answers or {}))
    next_at = last.at + gate.rest.nominal
    if crossed:
        return _crossed_finding(gate, counted, crossed, against, left, next_at)
    if rest_first and len(counted) == 1:
        why = ("the rest is not over: nobody is released by the first reading",)
        return GateFinding("rest", why, next_at, against, left)
    if missing:
        return GateFinding("measure", tuple(missing), None, against, left)
    unusual = [_unusual_words(one) for one in against if one.unusual]
    if asked or unusual:
        return GateFinding("medic decides", (*asked, *unusual), None, against, left)
    return GateFinding("open", ("every figure of the signed gate passes",), None, against, left)


def _counted(gate: Gate, readings: Sequence[Reading], rest_first: bool) -> list[Reading]:
    """The readings that count: the first, and each taken when a rest was over.

    Figures left out of a repeat are not carried over: all are measured again.
    """
    counted: list[Reading] = []
    for reading in readings:
        if not counted:
            counted.append(reading)
        elif reading.at < counted[-1].at + gate.rest.nominal - 1e-6:
            counted[-1] = _added(gate, counted[-1], reading)
        elif not _all_crossed(gate, counted[-1]) or _may_repeat(gate, counted, rest_first):
            counted.append(reading)
    return counted


def _added(gate: Gate, last: Reading, soon: Reading) -> Reading:
    """A reading with what was measured before its rest was over.

    What was forgotten may be added, and what has become worse counts and begins the rest anew; but
    nothing gets better by being measured over too soon.
    """
    worse = {rule.quantity for rule in _all_crossed(gate, soon)}
    values = {**soon.values, **last.values}
    values.update({code: soon.values[code] for code in worse})
    return Reading(soon.at if worse else last.at, values)


def _used(gate: Gate, counted: Sequence[Reading], rest_first: bool) -> int:
    """How many repeats were used up: readings that followed one that was crossed."""
    return sum(bool(_all_crossed(gate, one)) for one in counted[int(rest_first) : -1])


def _may_repeat(gate: Gate, counted: Sequence[Reading], rest_first: bool) -> bool:
    first_rest = rest_first and len(counted) == 1
    return first_rest or _used(gate, counted, rest_first) < gate.repeats


def _all_crossed(gate: Gate, reading: Reading) -> list[GateRule]:
    return [rule for rule in gate.rules if _crossed(rule, reading)]


def _missing(gate: Gate, reading: Reading) -> list[str]:
    wanted = dict.fromkeys(rule.quantity for rule in gate.rules)
    return [f"{WORDS[code]} was not measured" for code in wanted if code not in reading.values]


def _crossed(rule: GateRule, reading: Reading) -> bool:
    value = reading.values.get(rule.quantity)
    return value is not None and rule.stops(value)


def _asked(gate: Gate, answers: Mapping[str, bool]) -> Iterator[str]:
    for code, words in gate.questions.items():
        if code not in answers:
            yield f"not asked: {words}"
        elif answers[code]:
            yield f"yes to: {words}"


def _crossed_finding(
    gate: Gate,
    counted: Sequence[Reading],
    crossed: Sequence[GateRule],
    against: tuple[Against, ...],
    left: int,
    next_at: float,
) -> GateFinding:
    last = counted[-1]
    why = tuple(
        f"{_shown(rule.quantity, last.values[rule.quantity])}, signed: {rule.words} stops"
        for rule in crossed
    )
    late = gate.refer_after is not None and last.at - counted[0].at >= gate.refer_after.nominal
    if late:
        return GateFinding("refer", why, None, against, left)
    if left > 0:
        return GateFinding("rest", why, next_at, against, left)
    return GateFinding("shut", why, None, against, 0)


def _against(gate: Gate, reading: Reading, card: Sequence[CardReading]) -> Iterator[Against]:
    for quantity, value in reading.values.items():
        found = against_card(quantity, value, card, gate.baseline)
        if found is not None:
            yield found


def _unusual_words(one: Against) -> str:
    usual = _shown(one.quantity, one.usual)
    score = one.score or 0.0
    side = "above" if score > 0 else "below"
    return f"{abs(score):.1f} standard deviations {side} the person's own {usual}"


def _shown(quantity: str, value: float) -> str:
    dimension = MEASURED_AS[quantity].dimension
    return f"{WORDS[quantity]} {format_quantity(value, dimension, UNITS[quantity])}"
