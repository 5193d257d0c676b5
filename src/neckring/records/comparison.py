"""Several plans beside each other: what each finds, told in the same words, one row a question."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from neckring.outing.findings import Plan
from neckring.outing.outlook import Outlook
from neckring.records import outlook_words, reading
from neckring.records.presentation import GAP, MASS_FINE, NOT_COMPUTED, presentation_of

Named = tuple[str, Plan]


@dataclass(frozen=True)
class Row:
    """One question, and each plan's answer to it in the plans' order."""

    question: str
    answers: tuple[str, ...]


def compared(plans: Sequence[Named]) -> list[Row]:
    """Ask every plan the same questions.

    Args:
        plans: Name and plan, in the order of the columns.

    Returns:
        Rows with one answer for each plan.
    """
    return [Row(name, tuple(ask(plan) for _, plan in plans)) for name, ask in QUESTIONS]


def cautions_of(plans: Sequence[Named]) -> list[str]:
    """Gather the cautions of all plans, each once, in the order in which they first come."""
    return list(dict.fromkeys(caution for _, plan in plans for caution in plan.cautions))


def _verdict(plan: Plan) -> str:
    return reading.VERDICT_WORDS[plan.verdict]


def _first_limit(plan: Plan) -> str:
    """Name the first limit that ends the run, or the nearest one."""
    limit = plan.binding_limit
    if limit is None:
        return "none is set"
    name = f"{presentation_of(limit.quantity).label} {reading.limit_words(limit)}"
    if limit.reached is None:
        return f"none; nearest {name}"
    return f"{name} at {reading.moment(plan, limit.reached)}"


def _of_outlook(tell: Callable[[Plan, Outlook], str]) -> Callable[[Plan], str]:
    """Ask only plans that look ahead."""

    def answer(plan: Plan) -> str:
        return NOT_COMPUTED if plan.outlook is None else tell(plan, plan.outlook)

    return answer


def _worst_failure(plan: Plan, outlook: Outlook) -> str:
    if not outlook.failures:
        return "none was looked at"
    worst = outlook.failures[0]
    name = outlook_words.name_words(worst, outlook)
    return f"{name} at {reading.moment(plan, worst.worst.time)}, {worst.worst.place}"


def _slack(_: Plan, outlook: Outlook) -> str:
    if not outlook.failures:
        return "–"
    worst = outlook.failures[0]
    slack = outlook_words.slack_words(worst.worst.slack, worst.reserve, outlook.computed)
    return f"{slack}, reserve {outlook_words.reserve_words(worst.reserve)}"


def _turn_back(plan: Plan, outlook: Outlook) -> str:
    if outlook_words.keeps_to_the_end(outlook):
        return "its end"
    return "none" if outlook.turn_back is None else reading.moment(plan, outlook.turn_back)


def _kept(_: Plan, outlook: Outlook) -> str:
    asked = outlook_words.percent(outlook.confidence)
    return f"{outlook_words.share_words(outlook.kept)} ({asked} asked)"


def _highest(quantity: str) -> Callable[[Plan], str]:
    return lambda plan: _extreme(plan, quantity, np.nanmax)


def _lowest(quantity: str) -> Callable[[Plan], str]:
    return lambda plan: _extreme(plan, quantity, np.nanmin)


def _extreme(plan: Plan, quantity: str, pick: Callable[..., float]) -> str:
    values = plan.trace.get(quantity)
    if values is None or not np.isfinite(values).any():
        return NOT_COMPUTED
    return presentation_of(quantity).text(float(pick(values)))


def _ice(plan: Plan) -> str:
    left = plan.remaining.ice
    return "none from the start" if left is None else _left(left)


def _left(share: float) -> str:
    return f"{math.floor(100 * share + 1e-9)}{GAP}%" if math.isfinite(share) else NOT_COMPUTED


QUESTIONS: tuple[tuple[str, Callable[[Plan], str]], ...] = (
    ("verdict", _verdict),
    ("wearer, suit", lambda plan: f"{plan.wearer}, {plan.suit}"),
    ("length", lambda plan: f"{reading.whole_minutes(plan.duration)}{GAP}min"),
    ("first limit, nothing failing", _first_limit),
    ("worst failure", _of_outlook(_worst_failure)),
    ("its slack", _of_outlook(_slack)),
    ("turn back by", _of_outlook(_turn_back)),
    ("reserve kept by", _of_outlook(_kept)),
    ("highest heart rate", _highest("heart_rate")),
    ("highest core temperature", _highest("core_temperature")),
    ("lowest inspired O₂", _lowest("inspired_o2")),
    ("highest inspired CO₂", _highest("inspired_co2")),
    ("ice left", _ice),
    ("charge left", lambda plan: _left(plan.remaining.battery)),
    ("water lost", lambda plan: MASS_FINE.text(plan.advice.body_water_loss)),
)
