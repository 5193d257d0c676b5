"""Slack over the rest of the run, from few instants: the plan as written gives the shape.

Slack jumps where a spell begins, and bends in between. The plan as written is known at every
minute; how far members lie from it changes slowly, and that is what a straight line is drawn
through.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.outing.branches import Clocks
from neckring.outing.ensemble import Question, as_written
from neckring.outing.scenario import Scenario
from neckring.station.limits import LimitSheet

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Slack beyond the reserve that counts as endless [s], and below which a failure is near, of the
# air and of the rest.
ENDLESS = 300.0
# Help that never comes counts as so late [s].
LATEST = 1e5
NEAR = np.array([25.0, 300.0])


@dataclass(frozen=True)
class Shape:
    """One failure in the plan as written, at every minute at which it can happen.

    Attributes:
        spell: Number of the spell, shape (minutes,).
        share: How much of it is done, same shape.
        margin: Slack beyond the reserve [s], at most ENDLESS, by relief, shape (2, minutes).
    """

    spell: IntArray
    share: FloatArray
    margin: FloatArray

    def can(self, spell: int) -> bool:
        """Whether the failure can happen in a spell."""
        return bool((self.spell == spell).any())

    def at(self, spell: int, share: float) -> FloatArray:
        """Slack beyond the reserve at a point of a spell [s], shape (2,); never past its ends."""
        here = np.flatnonzero(self.spell == spell)
        return np.array([np.interp(share, self.share[here], m[here]) for m in self.margin])


@dataclass(frozen=True)
class Near:
    """Every failure in the plan as written, by its code."""

    shapes: Mapping[str, Shape]


def near_in_plan(scenario: Scenario, sheet: LimitSheet, workers: int = 1) -> Near:
    """Every failure at every minute of the plan as written; done once, before the run.

    Args:
        scenario: As written, one member.
        sheet: The signed limits.
        workers: Threads.
    """
    question = Question(scenario, sheet)
    _, written = as_written(question, workers)
    return Near({c: _shape(clocks, question.reserves) for c, clocks in written.items()})


def _shape(clocks: Clocks, reserves: FloatArray) -> Shape:
    return Shape(
        np.array([instant.spell for instant in clocks.instants]),
        np.array([instant.share for instant in clocks.instants]),
        margins(clocks, reserves)[:, :, 0],
    )


def margins(clocks: Clocks, reserves: FloatArray) -> FloatArray:
    """Slack of members beyond the reserve [s], at most ENDLESS, shape (2, instants, members)."""
    return np.maximum(np.minimum(clocks.margin(reserves), ENDLESS), -LATEST)


def filled(
    times: FloatArray, known: FloatArray, grid: FloatArray, shape: FloatArray, legs: IntArray
) -> FloatArray:
    """Least slack beyond the reserve of members at every minute of a grid [s], (grid, members).

    Args:
        times: At which members are known [s], a part of the grid.
        known: Their slack beyond the reserve there, shape (2, times, members).
        grid: Whole minutes [s], rising.
        shape: The plan as written on the grid, shape (2, grid).
        legs: Leg that each minute lies in, shape (grid,).
    """
    places = np.searchsorted(grid, times)
    away = known - shape[:, places, None]
    line = _straight(times, away, grid)
    for leg in np.unique(legs[places]):
        # Who is known in a leg lies there as far from the plan as that, whatever lies beyond it.
        here, mine = legs == leg, legs[places] == leg
        line[:, here] = _straight(times[mine], away[:, mine], grid[here])
    return np.asarray((shape[:, :, None] + line).min(axis=0))


def _straight(times: FloatArray, values: FloatArray, grid: FloatArray) -> FloatArray:
    """Straight lines through values (2, times, members), level beyond their ends."""
    if len(times) == 1:
        return np.repeat(values, len(grid), axis=1)
    after = np.clip(np.searchsorted(times, grid), 1, len(times) - 1)
    before = after - 1
    apart = times[after] - times[before]
    # Where one leg ends and the next begins two stand at the same minute.
    along = np.divide(grid - times[before], apart, out=np.zeros(len(grid)), where=apart > 0.0)
    part = np.clip(along, 0.0, 1.0)
    low, high = values[:, before], values[:, after]
    return np.asarray(low + part[None, :, None] * (high - low))
