"""What the slack picture shows: which failures get a band, on which scale, in which stretches."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from neckring.outing.findings import FloatArray
from neckring.outing.outlook import FailureFinding, Outlook

RESERVES_IN_VIEW = 4.0
ALIKE = 0.03  # of the height of a band, about as much as a line is thick
NEXT_MINUTE = 90.0  # s, instants further apart than this are not joined
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0)  # minutes


@dataclass(frozen=True)
class Scale:
    """The vertical range of one band, in minutes of slack.

    Attributes:
        bottom: Lowest slack in view; nothing finite lies below.
        top: Highest slack in view; what lies above is marked.
    """

    bottom: float
    top: float


@dataclass(frozen=True)
class Folded:
    """Failures that get no band of their own.

    Attributes:
        beyond: Their slack is more than what is computed at every minute, in nearly all members.
        impossible: They cannot happen at any minute of the run.
    """

    beyond: tuple[FailureFinding, ...]
    impossible: tuple[FailureFinding, ...]


def folded(outlook: Outlook) -> Folded:
    """Find the failures that need no band."""
    impossible = tuple(f for f in outlook.failures if not len(f.instants))
    beyond = tuple(f for f in outlook.failures if len(f.instants) and _is_always_beyond(f))
    return Folded(beyond, impossible)


def _is_always_beyond(failure: FailureFinding) -> bool:
    return bool(np.all(np.isposinf(failure.slack[0]) & np.isposinf(failure.slack_at_confidence)))


def bands(outlook: Outlook) -> list[tuple[FailureFinding, ...]]:
    """Gather the failures that get a band, worst first; those drawn alike share one."""
    put_aside = folded(outlook)
    aside = {id(failure) for failure in (*put_aside.beyond, *put_aside.impossible)}
    groups: list[list[FailureFinding]] = []
    for failure in outlook.failures:
        if id(failure) in aside:
            continue
        same = next(
            (group for group in groups if _are_alike(group[0], failure, outlook.computed)), None
        )
        if same is None:
            groups.append([failure])
        else:
            same.append(failure)
    return [tuple(group) for group in groups]


def _are_alike(one: FailureFinding, other: FailureFinding, computed: float) -> bool:
    """Tell whether two bands would be drawn over each other, on the scale of the first."""
    if one.reserve != other.reserve or not np.array_equal(one.instants, other.instants):
        return False
    scale = scale_of(one, computed)
    apart = np.abs(_drawn_at(one, scale) - _drawn_at(other, scale))
    return bool(apart.max() <= ALIKE * (scale.top - scale.bottom))


def _drawn_at(failure: FailureFinding, scale: Scale) -> FloatArray:
    """Stack all that is drawn of a band where it is drawn [min]."""
    rows = np.vstack([failure.slack, failure.slack_at_confidence]) / 60
    return np.clip(np.nan_to_num(rows, nan=np.inf), scale.bottom, scale.top)


def scale_of(failure: FailureFinding, computed: float) -> Scale:
    """Choose a band's scale: from its lowest slack to some reserves, so that the worst shows.

    Args:
        failure: With at least one instant.
        computed: Slack beyond the reserve up to which clocks are computed [s].

    Returns:
        The range in minutes; zero, the reserve and the worst slack lie inside.
    """
    low, high = _extremes(failure)
    worst = failure.worst.slack if math.isfinite(failure.worst.slack) else 0.0
    wanted = max(RESERVES_IN_VIEW * failure.reserve, 1.5 * worst, failure.reserve + 60)
    most = (failure.reserve + computed) / 60
    step = _step(max(wanted, -low) / 60)
    top = min(math.ceil(min(wanted, max(high, 2 * failure.reserve)) / 60 / step) * step, most)
    bottom = math.floor(min(0.0, low) / 60 / step) * step
    if np.isneginf(failure.slack_at_confidence).any():
        bottom = min(bottom, -top / 2)
    return Scale(bottom, max(top, worst / 60, failure.reserve / 60 + step))


def _extremes(failure: FailureFinding) -> tuple[float, float]:
    """Find the lowest and the highest finite slack that is drawn [s]."""
    drawn = np.concatenate([failure.slack.ravel(), failure.slack_at_confidence])
    finite = drawn[np.isfinite(drawn)]
    return (float(finite.min()), float(finite.max())) if len(finite) else (0.0, 0.0)


def _step(minutes: float) -> float:
    """Choose the step to which a scale's ends are rounded, about a fourth of it."""
    return next((step for step in STEPS if step >= minutes / 4 - 1e-9), 60.0)


def stretches_of(instants: FloatArray) -> list[slice]:
    """Part instants where one or more minutes are missing.

    Args:
        instants: Rising [s], shape (instants,).

    Returns:
        Slices that together hold every instant once.
    """
    breaks = np.flatnonzero(np.diff(instants) > NEXT_MINUTE) + 1
    edges = [0, *(int(at) for at in breaks), len(instants)]
    return [slice(a, b) for a, b in pairwise(edges) if b > a]


def gaps_of(failure: FailureFinding, duration: float) -> list[tuple[float, float]]:
    """Find when a failure cannot happen, as begin and end [s]; only gaps of minutes count."""
    inside = [failure.instants[part] for part in stretches_of(failure.instants)]
    ends = [0.0, *(float(end) for part in inside for end in (part[0], part[-1])), duration]
    pairs = zip(ends[0::2], ends[1::2], strict=True)
    return [(begins, until) for begins, until in pairs if until - begins > NEXT_MINUTE]


def runs_of(marked: np.ndarray) -> list[slice]:
    """Find where neighbouring values are all true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]]).astype(int)))
    return [slice(int(a), int(b)) for a, b in zip(edges[0::2], edges[1::2], strict=True)]
