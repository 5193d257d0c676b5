"""Which few checks catch most: an exact answer, not a guess.

A set-cover problem. It is solved by integer programming, one aim after the other, so that equal
answers are told apart always in the same way.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from neckring.values import require_within

SlipName = TypeVar("SlipName", bound=Hashable)

LONGEST_CHECK = 1e4
"""Most that one check may cost [s]."""

# Costs are whole milliseconds inside: whole numbers can be held equal without a tolerance.
_STEPS_PER_SECOND = 1000

_OPTIMAL = 0

# Small enough that powers of two stay far above the solver's tolerance.
_SETTLED_AT_ONCE = 12


@dataclass(frozen=True)
class Cover(Generic[SlipName]):
    """The checks chosen and what they do.

    Attributes:
        chosen: Names of the checks, sorted.
        cost: Of all of them [s].
        caught: Slips that at least one of them catches.
        missed: Slips that some candidate catches, but none of those chosen.
        beyond: Slips that no candidate catches.
    """

    chosen: tuple[str, ...]
    cost: float
    caught: frozenset[SlipName]
    missed: frozenset[SlipName]
    beyond: frozenset[SlipName]


def best_cover(
    candidates: Mapping[str, tuple[float, frozenset[SlipName]]],
    universe: frozenset[SlipName],
    budget: int | None = None,
) -> Cover[SlipName]:
    """Choose checks.

    Without a budget all slips that can be caught are caught, at the least cost, then with the
    fewest checks. With a budget the most slips are caught, then with the fewest checks, then at
    the least cost. A check beside which another catches as much for as little is not considered.
    Of what is equal still, the choice that comes first in the order of names is taken.

    Args:
        candidates: For each check its cost [s] and the slips it catches.
        universe: Slips that count.
        budget: Most checks; None for as many as are needed.

    Returns:
        The optimum. Costs are told apart to the millisecond.

    Raises:
        ValueError: A cost or a budget out of range.
        ArithmeticError: The solver has not found an optimum.
    """
    for name, (cost, _) in candidates.items():
        require_within(f'cost of "{name}"', cost, 0.0, LONGEST_CHECK, "s")
    if budget is not None:
        require_within("budget", budget, 0, 1_000_000, "checks")
    kept = _undominated(candidates, universe)
    chosen = _Program(kept, universe, budget).solve() if kept and budget != 0 else ()
    return _told(chosen, candidates, universe)


def _told(
    chosen: tuple[str, ...],
    candidates: Mapping[str, tuple[float, frozenset[SlipName]]],
    universe: frozenset[SlipName],
) -> Cover[SlipName]:
    nothing: frozenset[SlipName] = frozenset()
    caught = universe & nothing.union(*(candidates[name][1] for name in chosen))
    catchable = universe & nothing.union(*(slips for _, slips in candidates.values()))
    cost = sum(candidates[name][0] for name in chosen)
    return Cover(chosen, cost, caught, catchable - caught, universe - catchable)


def _undominated(
    candidates: Mapping[str, tuple[float, frozenset[SlipName]]], universe: frozenset[SlipName]
) -> dict[str, tuple[int, frozenset[SlipName]]]:
    """Checks worth a thought, by name; another that is as good costs more or comes later."""
    priced = {
        name: (round(cost * _STEPS_PER_SECOND), slips & universe)
        for name, (cost, slips) in sorted(candidates.items())
        if slips & universe
    }
    kept: dict[str, tuple[int, frozenset[SlipName]]] = {}
    # Cheap ones first: whoever beats a check has then been kept already.
    order = sorted(priced, key=lambda name: (priced[name][0], -len(priced[name][1]), name))
    for name in order:
        cost, slips = priced[name]
        if not any(slips <= other for _, other in kept.values()):
            kept[name] = (cost, slips)
    return dict(sorted(kept.items()))


class _Program:
    """The integer program: one unknown for each check, one for each kind of slip.

    Slips that the same checks catch are one kind with a weight.
    """

    def __init__(
        self,
        kept: Mapping[str, tuple[int, frozenset[SlipName]]],
        universe: frozenset[SlipName],
        budget: int | None,
    ) -> None:
        self.names = tuple(kept)
        self.budget = budget
        caught_by = (
            tuple(place for place, (_, slips) in enumerate(kept.values()) if slip in slips)
            for slip in universe
        )
        kinds = sorted(item for item in Counter(caught_by).items() if item[0])
        checks, self.size = len(kept), len(kept) + len(kinds)
        # A kind is caught only if a check that catches it is chosen.
        self.links = np.zeros((len(kinds), self.size))
        for row, (places, _) in enumerate(kinds):
            self.links[row, list(places)] = 1.0
            self.links[row, checks + row] = -1.0
        self.catch, self.count, self.cost = np.zeros((3, self.size))
        self.catch[checks:] = [-weight for _, weight in kinds]
        self.count[:checks] = 1.0
        self.cost[:checks] = [cost for cost, _ in kept.values()]
        self.low, self.high = np.zeros(self.size), np.ones(self.size)

    def solve(self) -> tuple[str, ...]:
        """Names of the checks of the first among the best answers."""
        limits: list[tuple[NDArray[np.float64], float]] = []
        if self.budget is not None:
            limits.append((self.count, float(self.budget)))
            aims = (self.catch, self.count, self.cost)
        else:
            aims = (self.catch, self.cost, self.count)
        for aim in aims:
            best = self._least(aim, limits)
            limits.append((aim, float(aim @ best)))
        return self._first_of_equals(limits)

    def _first_of_equals(self, limits: list[tuple[NDArray[np.float64], float]]) -> tuple[str, ...]:
        """Settle the checks by name, a few at a time: the first counts more than all after it."""
        for first in range(0, len(self.names), _SETTLED_AT_ONCE):
            some = slice(first, min(first + _SETTLED_AT_ONCE, len(self.names)))
            aim = np.zeros(self.size)
            aim[some] = -(2.0 ** np.arange(some.stop - some.start)[::-1])
            best = self._least(aim, limits)
            self.low[some] = self.high[some] = best[some]
        return tuple(name for place, name in enumerate(self.names) if self.low[place])

    def _least(
        self, aim: NDArray[np.float64], limits: list[tuple[NDArray[np.float64], float]]
    ) -> NDArray[np.float64]:
        """An optimum within the limits, in whole numbers."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        checks = len(self.names)
        rules = [LinearConstraint(self.links, lb=0.0)]
        # All is whole, so half a unit of room excludes nothing and lets nothing in.
        rules += [LinearConstraint(row[np.newaxis], ub=most + 0.5) for row, most in limits]
        answer: Any = milp(
            aim,
            integrality=np.arange(self.size) < checks,
            bounds=Bounds(self.low, self.high),
            constraints=rules,
            options={"mip_rel_gap": 0.0},
        )
        if answer.status != _OPTIMAL:
            raise ArithmeticError(f"the checks to choose were not found: {answer.message}")
        whole: NDArray[np.float64] = np.round(answer.x)
        whole[checks:] = self.links[:, :checks] @ whole[:checks] > 0.0
        if any(row @ whole > most + 0.25 for row, most in limits):
            raise ArithmeticError("the checks that were found break a limit")
        return whole
