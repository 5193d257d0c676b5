"""Times on an emergency card: how fast it was done in drills, and how fast it must be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from neckring.live.cards import failures_of
from neckring.live.drill_times import FEWEST, Offered, offered
from neckring.live.sheet_steps import SheetProcedure
from neckring.outing.findings import Plan
from neckring.outing.outlook import FailureFinding
from neckring.procedure.listing import states_as_written
from neckring.procedure.model import Condition, State, holds
from neckring.procedure.steps import Step
from neckring.records.outlook_words import harm_words, help_words, span_words
from neckring.records.reading import moment
from neckring.station.drills import DRILL_KEYS, Drill
from neckring.station.fault import listed
from neckring.station.suit import Suit

IN_TROUBLE = "A"
"""Cards are written for wearer A in trouble."""

KEY_WORDS = {
    "notice_air": "lost air is noticed and acted on",
    "notice": "any other fault is noticed and told",
    "open_helmet": "the wearer opens the helmet alone",
    "open_helmet_by_other": "somebody beside the wearer opens the helmet",
    "free_helmet": "a helmet that will not unlock is freed",
    "connect": "facility air and water onto the suit",
    "free_umbilical": "a snagged umbilical is freed",
    "undress": "out of the suit",
    "undress_lying": "out of the suit, the wearer lying",
}


@dataclass(frozen=True)
class DrillLine:
    """How fast one act of a card was done.

    Attributes:
        words: The act, with the suit.
        drilled: P50 and P90 of the team's own drills, or that there are too few.
        in_force: What a plan reckons with.
    """

    words: str
    drilled: str
    in_force: str


@dataclass(frozen=True)
class ClockLine:
    """One sentence of the help clock."""

    words: str


def keys_of(card: SheetProcedure) -> tuple[str, ...]:
    """Which times of the help clock a card is about, by what its steps bring about.

    Args:
        card: With the kit's relief: fresh air, cooling, out of the suit.

    Returns:
        Keys of a suit's `help`; all of them when the steps bring no relief.
    """
    found = dict.fromkeys(_brought(card))
    return tuple(key for key in DRILL_KEYS if key in found) or DRILL_KEYS


def _brought(card: SheetProcedure) -> Iterator[str]:
    ground, procedure = card.listed.ground, card.listed.procedure
    relief = ground.kit.relief
    states = states_as_written(procedure)
    air = ground.condition(relief.fresh_air, IN_TROUBLE)
    for step in _that_bring(air, states, procedure.steps):
        own = procedure.lanes[step.lane] == IN_TROUBLE
        yield "open_helmet" if own else "open_helmet_by_other"
    for _ in _that_bring(ground.condition(relief.out, IN_TROUBLE), states, procedure.steps):
        yield from ("undress", "undress_lying")
    if relief.cooling is not None:
        cooling = ground.condition(relief.cooling, IN_TROUBLE)
        for _ in _that_bring(cooling, states, procedure.steps):
            yield "connect"
    if not holds(air, states[0]):
        yield "notice_air"
    else:
        yield "notice"


def _that_bring(
    wanted: Condition, states: Sequence[State], steps: Iterable[Step]
) -> Iterator[Step]:
    for step, before, then in zip(steps, states, states[1:], strict=False):
        if step.lane >= 0 and holds(wanted, then) and not holds(wanted, before):
            yield step


def drill_lines(
    card: SheetProcedure, suits: Iterable[Suit], drills: Sequence[Drill]
) -> Iterator[DrillLine]:
    """What drills say of a card, suit by suit.

    Args:
        card: The card.
        suits: That have its kit.
        drills: Of the station.
    """
    told: dict[tuple[str, str, str], list[str]] = {}
    for suit in suits:
        offers = {one.key: one for one in offered(drills, suit.code, suit.help_times)}
        for key in keys_of(card):
            now = getattr(suit.help_times, key)
            written = now.text if now is not None else "cannot be done"
            assumed = ", assumed" if key in suit.help_times.assumed else ""
            line = (KEY_WORDS[key], drilled_words(offers.get(key)), f"{written}{assumed}")
            told.setdefault(line, []).append(suit.name)
    for (words, drilled, in_force), names in told.items():
        yield DrillLine(f"{listed(names, 'and')}: {words}", drilled, in_force)


def drilled_words(found: Offered | None) -> str:
    """P50 and P90 of drills, or why there are none."""
    if found is None:
        return "none timed yet"
    if found.p50 is None or found.p90 is None:
        return f"{found.number} timed, {FEWEST} needed"
    p50, p90 = (span_words(each.value, up=True) for each in (found.p50, found.p90))
    return f"P50 {p50}, P90 {p90} ({found.number} drills)"


def clock_lines(card: SheetProcedure, plans: Iterable[Plan]) -> Iterator[ClockLine]:
    """Harm against help for what a card is for, as plans found it.

    Args:
        card: The card.
        plans: Of the day's runs.
    """
    codes = set(failures_of(card.listed.sheet, card.listed.ground))
    for plan in plans:
        for failure in plan.outlook.failures if plan.outlook else ():
            if failure.code in codes:
                yield _clock(plan, failure)


def _clock(plan: Plan, failure: FailureFinding) -> ClockLine:
    assert plan.outlook is not None
    harm, help_ = harm_words(failure, plan.outlook.computed), help_words(failure)
    at = moment(plan, failure.worst.time)
    return ClockLine(
        f"{plan.wearer} in {plan.suit}: if {failure.words} at {at}, the worst minute of the "
        f"run: harm after {harm}, help after {help_}"
    )
