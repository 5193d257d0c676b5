"""Choosing who is in a cloud: by weight, by mode, in which number."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Share of the particles that each fault keeps at least, and of those how many are new each round.
SCOUTS = 0.02
LEAST_SCOUTS = 32
# Sizes of clouds follow their weight in so many steps, so that they do not change all the time.
SIZES = 8


def systematic(weights: FloatArray, count: int, start: float) -> IntArray:
    """Numbers of the members chosen, each about as often as its weight asks.

    Args:
        weights: Not negative, shape (members,); at least one above nought.
        count: How many to choose.
        start: Of the comb, 0..1.

    Source: systematic resampling, Kitagawa 1996, J Comput Graph Stat 5:1, appendix.
    """
    added = np.cumsum(weights)
    teeth = (np.arange(count) + start) / count * added[-1]
    return np.asarray(np.minimum(np.searchsorted(added, teeth, side="right"), len(weights) - 1))


def effective(weights: FloatArray) -> float:
    """Effective number of members; 0 when nothing weighs.

    Source: Kong, Liu and Wong 1994, J Am Stat Assoc 89:278.
    """
    squared = float((weights**2).sum())
    return float(weights.sum()) ** 2 / squared if squared > 0.0 else 0.0


def sizes(mass: FloatArray, count: int) -> IntArray:
    """How many particles each mode gets, from its share of the belief; they add up to `count`."""
    least = max(int(SCOUTS * count), min(LEAST_SCOUTS, count // 16))
    spare = count - least * len(mass)
    parts = np.floor(mass[1:] * SIZES + 0.5) / SIZES
    parts *= min(1.0, 1.0 / max(float(parts.sum()), 1e-12))
    faults = least + np.floor(spare * parts).astype(np.int64)
    return np.concatenate([[count - int(faults.sum())], faults]).astype(np.int64)


@dataclass
class Chosen:
    """Who is in the cloud from now on: one entry a particle."""

    source: IntArray
    mode: IntArray
    weight: FloatArray
    fresh: NDArray[np.bool_]
    thinned: NDArray[np.bool_]


def evenly(modes: IntArray, draw: np.random.Generator) -> FloatArray:
    """Severities of new faults, spread evenly over each fault's degrees."""
    found = np.zeros(len(modes))
    for mode in np.unique(modes):
        mine = np.flatnonzero(modes == mode)
        found[mine] = (np.arange(len(mine)) + draw.random(len(mine))) / len(mine)
    return found


def entries(
    source: IntArray, mode: int, weight: float, fresh: bool, thinned: bool = False
) -> Chosen:
    """Entries of one mode that all weigh the same."""
    count = len(source)
    marks = (np.full(count, mark, dtype=bool) for mark in (fresh, thinned))
    return Chosen(source, np.full(count, mode), np.full(count, weight), *marks)


def all_of(parts: list[Chosen]) -> Chosen:
    """All parts of a cloud together."""
    names = ("source", "mode", "weight", "fresh", "thinned")
    return Chosen(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def scaled(weights: FloatArray, logs: FloatArray) -> FloatArray:
    """Weights times the exponentials, adding up to 1."""
    total = np.log(np.maximum(weights, 1e-300)) + logs
    raised = np.exp(total - total.max())
    return np.asarray(raised / raised.sum())
