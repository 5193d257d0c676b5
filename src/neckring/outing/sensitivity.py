"""Which doubt carries how much of the doubt in an answer, and so what to measure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from neckring.outing.draws import Dimension, sobol_points
from neckring.outing.outlook import Doubt

FloatArray = NDArray[np.float64]

RESAMPLES = 1000
BATCHES = 10
"""Resamples are weighed in so many batches, to bound the memory."""
INTERVAL = 0.90
"""Share of resamples that an index's interval holds."""
WORTH_SAYING = 0.10
"""Share of the doubt from which on it is worth a sentence (assumed)."""
ROUNDING = 1e-9
"""Outputs that differ by less than this share of their size count as constant."""


@dataclass(frozen=True)
class Indices:
    """Total-order index of each dimension, all zero when the answer never changes.

    Attributes:
        total: Share of the answer's variance in which a dimension takes part, alone or together
            with others; these shares may add up to more than 1. Shape (dimensions,).
        low: Lower end of the 90 % interval, same shape.
        high: Upper end of it, same shape.
    """

    total: FloatArray
    low: FloatArray
    high: FloatArray


def total_order(
    function: Callable[[FloatArray], FloatArray], dimensions: int, members: int, seed: int
) -> Indices:
    """Total-order Sobol indices of a function of many doubts.

    Args:
        function: Takes points 0..1 of shape (members, dimensions) and gives one finite value for
            each, shape (members,). It is called dimensions + 2 times.
        dimensions: How many doubts there are.
        members: Points in each call; a power of two, for the sake of the sequence.
        seed: Of the points and of the resampling.

    Returns:
        Indices with a 90 % bootstrap interval, the same for the same seed.

    Raises:
        ValueError: Members that are no power of two, or a value that is not finite.

    Source: Saltelli et al. 2010 (Comput Phys Commun 181:259), radial design of section 5 and
        estimator (f) of table 2, due to Jansen 1999; bootstrap of Archer et al. 1997 (J Stat
        Comput Simul 58:99).
    """
    if members < 2 or members & (members - 1):
        raise ValueError(f"{members} members; accepted: a power of two from 2")
    both = sobol_points(2 * dimensions, 0, members, seed)
    first, second = both[:, :dimensions], both[:, dimensions:]
    at_first, at_second = _values(function, first), _values(function, second)
    changes = np.empty((dimensions, members))
    for dimension in range(dimensions):
        swapped = first.copy()
        swapped[:, dimension] = second[:, dimension]
        changes[dimension] = 0.5 * (at_first - _values(function, swapped)) ** 2
    largest = max(np.abs(at_first).max(), np.abs(at_second).max())
    spread = np.ptp(np.concatenate([at_first, at_second]))
    if spread <= ROUNDING * largest and np.sqrt(changes.max()) <= ROUNDING * largest:
        nothing = np.zeros(dimensions)
        return Indices(nothing, nothing.copy(), nothing.copy())
    return _with_interval(at_first, at_second, changes, seed)


def _values(function: Callable[[FloatArray], FloatArray], points: FloatArray) -> FloatArray:
    values = np.asarray(function(points), dtype=np.float64)
    if values.shape != (len(points),) or not np.isfinite(values).all():
        raise ValueError("the answer must be one finite number for each member")
    return values


def _with_interval(
    at_first: FloatArray, at_second: FloatArray, changes: FloatArray, seed: int
) -> Indices:
    """Indices of all members, and their interval over members drawn again with replacement."""
    rng, members = np.random.default_rng(seed), len(at_first)
    middle = 0.5 * (at_first.mean() + at_second.mean())
    parts = (at_first - middle, at_second - middle, changes)
    total = _indices(*parts, np.ones((1, members)))[0]
    even = np.full(members, 1.0 / members)
    again = [
        _indices(*parts, rng.multinomial(members, even, size=RESAMPLES // BATCHES))
        for _ in range(BATCHES)
    ]
    tail = 0.5 * (1.0 - INTERVAL)
    low, high = np.quantile(np.concatenate(again), [tail, 1.0 - tail], axis=0)
    # A skew index of few members may lie outside its own resamples.
    return Indices(total, np.minimum(low, total), np.maximum(high, total))


def _indices(
    first: FloatArray, second: FloatArray, changes: FloatArray, times: NDArray[Any]
) -> FloatArray:
    """Indices when each member counts so many times.

    Args:
        first: Values at the first points less their middle, shape (members,).
        second: At the second points.
        changes: Half the square of what swapping each dimension changes, (dimensions, members).
        times: How often each member counts, shape (resamples, members).

    Returns:
        Shape (resamples, dimensions); zero where nothing varies.
    """
    members = len(first)
    mean = times @ (first + second) / (2.0 * members)
    variance = times @ (first**2 + second**2) / (2.0 * members) - mean**2
    taken = np.asarray(times @ changes.T / members)
    none = np.zeros_like(taken)
    return np.divide(taken, variance[:, None], out=none, where=variance[:, None] > 0.0)


def doubts_of(dimensions: Sequence[Dimension], indices: Indices) -> tuple[Doubt, ...]:
    """What is in doubt and how much it carries, greatest first.

    Args:
        dimensions: In the order of the indices.
        indices: Of the worst slack.
    """
    shares = np.clip([indices.total, indices.low, indices.high], 0.0, 1.0)
    doubts = [
        Doubt(
            dimension.label, dimension.written, float(share), float(low), float(high),
            dimension.measurable,
        )
        for dimension, (share, low, high) in zip(dimensions, shares.T, strict=True)
    ]  # fmt: skip
    return tuple(sorted(doubts, key=lambda doubt: -doubt.share))


def measuring_advice(doubts: Sequence[Doubt]) -> tuple[str, ...]:
    """One sentence for each doubt that carries a tenth or more of all doubt.

    Args:
        doubts: Greatest first.
    """
    return tuple(_sentence(doubt) for doubt in doubts if doubt.share >= WORTH_SAYING)


def _sentence(doubt: Doubt) -> str:
    share = f"{100 * doubt.share:.0f} % ({100 * doubt.low:.0f} to {100 * doubt.high:.0f})"
    if doubt.measurable:
        return f"Measure {doubt.label}: it carries {share} of the doubt in the worst slack."
    subject = doubt.label[0].upper() + doubt.label[1:]
    return (
        f"{subject} carries {share} of the doubt in the worst slack: no measurement before the run "
        "takes that away, only the reserve covers it."
    )
