"""What a picture shows, in words: for people who cannot see it."""

from __future__ import annotations

import numpy as np

from neckring.outing.findings import LimitFinding, Plan
from neckring.records.presentation import presentation_of
from neckring.records.reading import limit_words, moment


def describe_panel(plan: Plan, heading: str, quantities: list[str]) -> str:
    """Tell one panel: where each curve starts, ends, peaks, and how its limits fare.

    Args:
        plan: The run.
        heading: What the panel shows.
        quantities: Trace columns drawn in it.

    Returns:
        Plain sentences.
    """
    curves = [_describe_curve(plan, quantity) for quantity in quantities if quantity in plan.trace]
    limits = [_describe_limit(plan, limit) for limit in plan.limits if limit.quantity in quantities]
    return " ".join([f"{heading}.", *curves, *(limits or ["No limit is set on it."])])


def _describe_curve(plan: Plan, quantity: str) -> str:
    values, shown = plan.trace[quantity], presentation_of(quantity)
    finite = np.flatnonzero(np.isfinite(values))
    if not len(finite):
        return f"{_sentence(shown.label)}: not computed."
    lowest, highest = finite[values[finite].argmin()], finite[values[finite].argmax()]
    first, last = float(values[finite[0]]), float(values[finite[-1]])
    time = plan.trace["time"]
    return (
        f"{_sentence(shown.label)}: {shown.text(first)} at first, {shown.text(last)} at the end, "
        f"lowest {shown.text(float(values[lowest]))} at {moment(plan, float(time[lowest]))}, "
        f"highest {shown.text(float(values[highest]))} at {moment(plan, float(time[highest]))}."
    )


def _describe_limit(plan: Plan, limit: LimitFinding) -> str:
    label = presentation_of(limit.quantity).label
    name = f"Limit: {limit.action} when {label} is {limit_words(limit)},"
    if limit.reached is None:
        return f"{name} not crossed."
    return f"{name} crossed at {moment(plan, limit.reached)}."


def describe_timeline(plan: Plan) -> str:
    """Tell the spells one after the other.

    Args:
        plan: The run.

    Returns:
        Plain sentences.
    """
    spells = "; ".join(
        f"{number}, {spell.activity} at {spell.place} from {moment(plan, spell.begins)}"
        for number, spell in enumerate(plan.spells, start=1)
    )
    return f"Spells: {spells}. Cooling, air and helmet of each stand in the table of spells."


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
