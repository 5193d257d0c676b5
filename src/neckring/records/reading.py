"""A plan read back in words: moments, limits, and how near each limit was.

The terminal, the page and the JSON all say these things the same way, so they are said here.
"""

from __future__ import annotations

import math
from datetime import timedelta

import numpy as np

from neckring.outing.findings import LimitFinding, Plan, Verdict
from neckring.records.presentation import presentation_of

VERDICT_WORDS: dict[Verdict, str] = {"go": "GO", "shorten": "SHORTEN", "no-go": "NO-GO"}
CLOSES_TO_ROUNDING = 1e-9


def whole_minutes(seconds: float) -> int:
    """Round a time down to whole minutes, so that a moment is never shown later than it is.

    Args:
        seconds: Time [s].

    Returns:
        Whole minutes; a thousandth of a second short of a minute still counts as that minute.
    """
    return math.floor(seconds / 60 + 1e-5)


def clock(plan: Plan, seconds: float) -> str:
    """Write the clock time a number of seconds after first dressing, as hours and minutes."""
    return f"{plan.starts + timedelta(minutes=whole_minutes(seconds)):%H:%M}"


def moment(plan: Plan, seconds: float) -> str:
    """Write a time from first dressing in minutes with the clock time beside it."""
    return f"{whole_minutes(seconds)}\u00a0min ({clock(plan, seconds)})"


def limit_words(limit: LimitFinding) -> str:
    """Write a limit's figure: the side, the value, and how long it must hold."""
    figure = f"{limit.direction} {presentation_of(limit.quantity).text(limit.value)}"
    return f"{figure} for {_span(limit.sustained)}" if limit.sustained > 0 else figure


def _span(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.0f}\u00a0s"
    return f"{seconds / 60:.3g}\u00a0min"


def is_beyond(limit: LimitFinding) -> bool:
    """Tell whether the worst value lies on the wrong side of the limit, however briefly."""
    if limit.direction == "above":
        return limit.worst > limit.value
    return limit.worst < limit.value


def reached_words(plan: Plan, limit: LimitFinding) -> str:
    """Say when a limit is crossed, or that it is not, or only too briefly to count."""
    if limit.reached is not None:
        return moment(plan, limit.reached)
    if not math.isfinite(limit.worst):
        return "not computed"
    return "touched briefly" if is_beyond(limit) else "no"


def way_used(plan: Plan, limit: LimitFinding) -> float | None:
    """Compute which share of the way from the run's first value to the limit is used up.

    It has no unit, so it can rank limits on different quantities.

    Args:
        plan: The run.
        limit: One of its limits.

    Returns:
        0 when the worst value is the first, 1 when it stands at the limit, more when beyond;
        None when the run starts at or beyond the limit or the quantity was not computed.
    """
    values = plan.trace.get(limit.quantity)
    if values is None or not np.isfinite(values).any():
        return None
    first = float(values[np.isfinite(values)][0])
    room = limit.value - first if limit.direction == "above" else first - limit.value
    moved = limit.worst - first if limit.direction == "above" else first - limit.worst
    return max(0.0, moved / room) if room > 0 and math.isfinite(moved) else None


def limits_nearest_first(plan: Plan) -> list[LimitFinding]:
    """Sort the limits: crossed ones by time, then the rest by how much of the way is used."""

    def rank(limit: LimitFinding) -> tuple[bool, float]:
        if limit.reached is not None:
            return (False, limit.reached)
        used = way_used(plan, limit)
        return (True, -used if used is not None else -math.inf)

    return sorted(plan.limits, key=rank)


def binding_sentence(plan: Plan) -> str:
    """Say which limit decides, or which comes nearest when none is crossed."""
    limit = plan.binding_limit
    if limit is None:
        return "No limit binds: the sheet holds none for what was computed."
    name = f"{presentation_of(limit.quantity).label} {limit_words(limit)} ({limit.action})"
    if limit.reached is not None:
        return f"What binds: {name}, reached at {moment(plan, limit.reached)}."
    return f"Nearest limit: {name}; worst {presentation_of(limit.quantity).text(limit.worst)}."


def longest_sentence(plan: Plan) -> str:
    """Say up to when the run reaches no limit that ends it."""
    whole = f"{whole_minutes(plan.duration)}\u00a0min"
    if plan.longest >= plan.duration:
        return f"No limit that ends the run is reached in its {whole}."
    return f"No limit that ends the run is reached before {moment(plan, plan.longest)} of {whole}."


def remaining_lines(plan: Plan) -> list[tuple[str, str]]:
    """Say what is left in the pack when the run ends: name and words for each store."""
    left = plan.remaining
    ice = "none from the start"
    if left.ice is not None:
        ice = _share_left(plan, left.ice, left.ice_gone, "last of it melts at")
    return [
        ("ice", ice),
        ("cold of the water", _share_left(plan, left.water_heat)),
        ("battery", _share_left(plan, left.battery, left.battery_dead, "cuts off at")),
    ]


def _share_left(plan: Plan, share: float, gone: float | None = None, what: str = "") -> str:
    if not math.isfinite(share):
        return "not computed"
    words = f"{math.floor(100 * share + 1e-9)}\u00a0% left"
    return f"{words}, {what} {moment(plan, gone)}" if gone is not None else words


def closes(residual: float) -> bool:
    """Tell whether a balance closes to rounding; one that is not a number does not."""
    return abs(residual) < CLOSES_TO_ROUNDING
