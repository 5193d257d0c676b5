"""Emergency cards: which there are, and how each open one stands, with its own timer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from neckring.live.bodies import number_in, text_in
from neckring.live.entries import Json
from neckring.live.run_records import OpenCard, RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import SheetProcedure, SheetStep
from neckring.procedure.grounding import GroundKit
from neckring.station.procedure_sheet import ProcedureSheet


@dataclass(frozen=True)
class CardStep:
    """One step of an open card.

    Attributes:
        step: Its words.
        done: How long after the card was opened [s]; None while it is not.
    """

    step: SheetStep
    done: float | None


@dataclass(frozen=True)
class CardNow:
    """An open card.

    Attributes:
        code: Of the emergency procedure.
        title: As written.
        when: The sign on which it is begun.
        wearer: Who is in trouble: A or B.
        by: Who opened it.
        elapsed: Since it was opened [s].
        steps: All of them, the first first.
        next: The first that is not done; None when all are.
        help: How long help takes, by the last live estimate [s]; None when nobody knows.
    """

    code: str
    title: str
    when: str
    wearer: str
    by: str
    elapsed: float
    steps: tuple[CardStep, ...]
    next: SheetStep | None
    help: float | None


def offered_cards(sheet: RunSheet) -> tuple[SheetProcedure, ...]:
    """The cards that one touch opens, as written for wearer A, in the order of station.yaml."""
    return tuple(card for (_, wearer), card in sheet.cards.items() if wearer == "A")


def open_cards(state: RunState, sheet: RunSheet, run_time: float) -> tuple[CardNow, ...]:
    """Every open card, the first opened first.

    Args:
        state: Now.
        sheet: Of the day.
        run_time: Now [s].
    """
    opened = sorted(state.cards.values(), key=lambda card: (card.opened, card.card, card.wearer))
    return tuple(
        _now(card, sheet.cards[card.card, card.wearer], state, run_time)
        for card in opened
        if (card.card, card.wearer) in sheet.cards
    )


def _now(card: OpenCard, sheet: SheetProcedure, state: RunState, run_time: float) -> CardNow:
    steps = tuple(
        CardStep(step, card.done[step.number] - card.opened if step.number in card.done else None)
        for step in sheet.steps
    )
    return CardNow(
        card.card,
        sheet.title,
        sheet.when,
        card.wearer,
        card.by,
        run_time - card.opened,
        steps,
        next((one.step for one in steps if one.done is None), None),
        _help(card.wearer, sheet, state),
    )


def _help(wearer: str, card: SheetProcedure, state: RunState) -> float | None:
    """The help clock's time for what the card is for: the cautious end of its band."""
    estimate = state.estimates.get(wearer)
    codes = set(failures_of(card.listed.sheet, card.listed.ground))
    if estimate is None or not codes:
        return None
    for failure in _groups(estimate.body.get("failures")):
        if text_in(failure, "code") in codes:
            band = failure.get("help")
            return number_in(band, "high") if isinstance(band, Mapping) else None
    return None


def _groups(value: Json) -> Iterator[Mapping[str, Json]]:
    for each in value if isinstance(value, list) else []:
        if isinstance(each, Mapping):
            yield each


def failures_of(card: ProcedureSheet, on_kit: GroundKit) -> Iterator[str]:
    """Failures of a plan that a card is for: breakdowns that lead to where it begins."""
    begins = {name.rpartition(".")[2]: state for name, state in card.begins.items()}
    for breakdown in on_kit.kit.breakdowns.values():
        if breakdown.plan and breakdown.changes.items() <= begins.items():
            yield breakdown.plan
