"""Which pads, straps and sizes to begin with: solved as one whole-number programme.

Room is linear in the positions. The places that bar come first: the positions are those that keep
the worst of them as many deviations inside its bounds as can be; then the worst of those that hurt;
then, with both kept, all others as well, with no padding that wins nothing. Where nothing fits the
answer is the least bad one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from neckring.fitting.clearance import bounds_of, doubt_of, left_over
from neckring.fitting.measures import Measure
from neckring.fitting.places import RULES
from neckring.station.fit import Fit
from neckring.values import FloatArray

BoolArray = NDArray[np.bool_]

ENOUGH = 3.0
"""Deviations inside its bounds beyond which a place is as good as certain [1]."""

SMALLEST_DOUBT = 0.001
"""[m]; nothing in a suit is known better."""

SLACK = 1e-6
UNBOUNDED = 1e6
PADDING_COST = 1e-4
"""Deviations that a millimetre of padding must win to be worth it [1]: next to none."""


@dataclass(frozen=True)
class Problem:
    """A fit as inequalities: for each place two, one for each bound.

    Attributes:
        effects: Deviations that one step of each adjuster adds to each margin, shape (rows, n).
        margins: Deviations inside the bound with all adjusters at their start, shape (rows,).
        bars: Whether a row's bound bars the wearer, shape (rows,).
        last: Number of each adjuster's last position, shape (n,).
        costs: Millimetres of padding in one step of each, shape (n,).
    """

    effects: FloatArray
    margins: FloatArray
    bars: Sequence[bool]
    last: FloatArray
    costs: FloatArray


def suggested(fit: Fit, measures: Mapping[str, Measure]) -> dict[str, int]:
    """The positions to begin with.

    Args:
        fit: Of the suit.
        measures: By place; places without one play no part.

    Returns:
        Position of each adjuster.
    """
    if not fit.adjusters:
        return {}
    problem = posed(fit, measures)
    floors = np.full(len(problem.margins), -np.inf)
    for group in (True, False):
        rows = np.array([bars is group for bars in problem.bars], dtype=bool)
        if rows.any():
            floors[rows] = _worst_margin(problem, rows, floors) - SLACK
    found = _all_margins(problem, floors)
    return {name: round(at) for name, at in zip(fit.adjusters, found, strict=True)}


def posed(fit: Fit, measures: Mapping[str, Measure]) -> Problem:
    """Write a fit as inequalities."""
    adjusters = list(fit.adjusters.values())
    effects, margins, bars = [], [], []
    for name, place in fit.named_places().items():
        if name not in measures:
            continue
        scale = max(doubt_of(name, measures[name]), SMALLEST_DOUBT)
        start = room_at(fit, name, {})
        at_start = float(left_over(name, start, fit.layers.nominal, measures[name].value))
        steps = np.array([a.effect(name) * a.step.nominal for a in adjusters]) / scale
        least, most = bounds_of(place)
        effects.append(steps)
        margins.append((at_start - least) / scale)
        bars.append(RULES[name].tight_harm == "bars")
        if np.isfinite(most):
            effects.append(-steps)
            margins.append((most - at_start) / scale)
            bars.append(RULES[name].loose_harm == "bars")
    padding = [1e3 * a.step.nominal if a.kind == "pad" else 0.0 for a in adjusters]
    return Problem(
        np.array(effects).reshape(len(margins), len(adjusters)),
        np.array(margins),
        bars,
        np.array([float(a.last) for a in adjusters]),
        np.array(padding),
    )


def room_at(fit: Fit, place: str, positions: Mapping[str, int]) -> float:
    """Room of a place with the adjusters at some positions [m]; what is not named is at its start.

    The room in the file is the room with every adjuster at its start.
    """
    room: float = fit.named_places()[place].room.nominal
    for name, position in positions.items():
        adjuster = fit.adjusters[name]
        share = adjuster.effect(place)
        room += share * position * adjuster.step.nominal
    return room


def _worst_margin(problem: Problem, rows: BoolArray, floors: FloatArray) -> float:
    """How many deviations inside its bound the worst of some rows can be, at most `ENOUGH`.

    Rows settled before keep their floors. The last variable is the margin looked for.
    """
    count = len(problem.last)
    chosen = np.hstack([problem.effects[rows], -np.ones((int(rows.sum()), 1))])
    found = _solved(
        np.append(np.zeros(count), -1.0),
        [LinearConstraint(chosen, -problem.margins[rows], np.inf), *_kept(problem, floors, 1)],
        problem.last,
        1,
    )
    inside = problem.margins + problem.effects @ found
    return float(min(inside[rows].min(), ENOUGH))


def _all_margins(problem: Problem, floors: FloatArray) -> FloatArray:
    """Positions that keep the floors, and beyond them serve all places with the least padding.

    The variables after the positions are the margins, each counted up to `ENOUGH` and no further.
    """
    rows = len(problem.margins)
    chosen = np.hstack([problem.effects, -np.eye(rows)])
    goal = np.append(PADDING_COST * problem.costs, -np.ones(rows))
    limits = [LinearConstraint(chosen, -problem.margins, np.inf), *_kept(problem, floors, rows)]
    return _solved(goal, limits, problem.last, rows)


def _kept(problem: Problem, floors: FloatArray, more: int) -> list[LinearConstraint]:
    settled = np.isfinite(floors)
    if not settled.any():
        return []
    effects = np.hstack([problem.effects[settled], np.zeros((int(settled.sum()), more))])
    return [LinearConstraint(effects, floors[settled] - problem.margins[settled], np.inf)]


def _solved(
    goal: FloatArray, limits: Sequence[LinearConstraint], last: FloatArray, margins: int
) -> FloatArray:
    """Positions that make the goal least; after them stand so many margins, which may be any."""
    count = len(last)
    found = milp(
        goal,
        constraints=limits,
        integrality=np.append(np.ones(count), np.zeros(margins)),
        bounds=Bounds(
            np.append(np.zeros(count), np.full(margins, -UNBOUNDED)),
            np.append(last, np.full(margins, ENOUGH)),
        ),
        options={"mip_rel_gap": 0.0},
    )
    assert found.x is not None, "positions within their bounds always exist"
    return np.asarray(np.round(found.x[:count]))
