"""The way out: from every state that people, slips and the kit can lead to, how fast is relief?

Three kinds of company (alone, with another wearer in a suit, with a tender) and up to three kinds
of relief (fresh air at the face, cooling, out of the suit). One act is done after another, so two
who help at once may be quicker than is said here, never slower.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, reduce
from math import ceil
from operator import or_

from neckring.procedure.backward import seconds_to, steps_to
from neckring.procedure.diagrams import Diagrams, StateSet
from neckring.procedure.grounding import TENDER, Doing, GroundKit
from neckring.procedure.model import Action, Duration, State, after, holds

Seconds = Callable[[Action], float]


class Company(StrEnum):
    """Who can help."""

    ALONE = "alone"
    PARTNER = "with the partner"
    TENDER = "with a tender"
    ONLY_TENDER = "by a tender alone"


class Goal(StrEnum):
    """What help must reach."""

    FRESH_AIR = "fresh air at the face"
    COOLING = "cooling"
    OUT = "out of the suit"


@dataclass(frozen=True)
class WayOut:
    """How fast one relief is from all states, in one company.

    Attributes:
        goal: Which relief.
        company: Who can help.
        states: How many states there are with the wearer inside.
        steps: Number of states by the least acts it takes from them.
        likely_seconds: Number of states by the least time [s], each act as long as is likely.
        longest_seconds: The same, each act as long as at most.
        without: From how many states there is no way.
        example: A state without a way; None when there is none.
        worst: The state from which it takes longest, and the acts of its fastest way.
    """

    goal: Goal
    company: Company
    states: int
    steps: tuple[tuple[int, int], ...]
    likely_seconds: tuple[tuple[int, int], ...]
    longest_seconds: tuple[tuple[int, int], ...]
    without: int
    example: State | None
    worst: tuple[State, tuple[str, ...]] | None

    def share_within(self, seconds: float) -> float:
        """Share of all states from which relief comes within a time, acts as long as at most."""
        soon = sum(count for taken, count in self.longest_seconds if taken <= seconds)
        return soon / self.states if self.states else 1.0

    def quantile(self, share: float) -> float:
        """Time [s] within which relief comes from a share of all states; infinite if never."""
        passed = 0
        for taken, count in self.longest_seconds:
            passed += count
            if passed >= share * self.states:
                return float(taken)
        return float("inf")


@dataclass(frozen=True)
class FastestWay:
    """The fastest way from one state.

    Attributes:
        acts: Names of the acts.
        duration: Of all of them.
    """

    acts: tuple[str, ...]
    duration: Duration


class WaysOut:
    """Ways out of one kit.

    Args:
        ground: The kit on its wearers; with two, the partner is one of them.
        wearer: Whose ways.
        library: Of decision diagrams, as in `Diagrams`.
    """

    def __init__(self, ground: GroundKit, wearer: str = "A", library: str = "") -> None:
        self.ground = ground
        self.wearer = wearer
        self.model = ground.model(disciplined=False)
        self.diagrams = Diagrams(self.model, library)
        self.doings = tuple(ground.doings())

    @cached_property
    def met(self) -> StateSet:
        """Every state that may be met.

        In whatever order everybody keeps to what the team keeps to; after any one slip from there
        (a move made although it should not be, or half); and after any one breakdown from any of
        these.
        """
        diagrams = self.diagrams
        kept = diagrams.reached(diagrams.initial, self.ground.model(disciplined=True).actions)
        slipped = self._led_to(kept, (*self.model.actions, *self.ground.halves()))
        broken = self._led_to(kept | slipped, self.ground.breakdowns())
        return kept | slipped | broken

    def _led_to(self, states: StateSet, actions: Iterable[Action]) -> StateSet:
        images = (self.diagrams.image(states, action) for action in actions)
        return reduce(or_, images, self.diagrams.empty)

    def goal(self, goal: Goal) -> StateSet | None:
        """States in which a relief is reached; None where the kit has no words for it."""
        relief = self.ground.kit.relief
        text = {
            Goal.FRESH_AIR: relief.fresh_air,
            Goal.COOLING: relief.cooling,
            Goal.OUT: relief.out,
        }[goal]
        return (
            None if text is None else self.diagrams.encode(self.ground.condition(text, self.wearer))
        )

    @property
    def inside(self) -> StateSet:
        """States with the wearer in the suit."""
        return self.diagrams.encode(
            self.ground.condition(self.ground.kit.relief.inside, self.wearer)
        )

    def acts(self, company: Company) -> tuple[Action, ...]:
        """What those who are there can do for the wearer."""
        able = {
            Company.ALONE: (self.wearer,),
            Company.TENDER: (self.wearer, TENDER),
            Company.ONLY_TENDER: (TENDER,),
        }
        helpers = able.get(company, self.ground.wearers)
        return tuple(
            action
            for doing, action in zip(self.doings, self.model.actions, strict=True)
            if self._helps(doing, helpers)
        )

    def _helps(self, doing: Doing, helpers: tuple[str, ...]) -> bool:
        # A partner may first have to free their own hands.
        return doing.by in helpers and (doing.on == self.wearer or doing.by == doing.on)

    def way_out(self, goal: Goal, company: Company) -> WayOut | None:
        """How fast a relief is from every state that may be met with the wearer inside."""
        wanted = self.goal(goal)
        if wanted is None:
            return None
        states, acts, diagrams = self.met & self.inside, self.acts(company), self.diagrams
        near = diagrams.reached(states, acts)
        layers = steps_to(diagrams, wanted, acts, near)
        likely = seconds_to(diagrams, wanted, acts, near, likely_of)
        longest = seconds_to(diagrams, wanted, acts, near, most_of)
        reached = longest[-1][1]
        left = states & ~reached
        lost = diagrams.count(left)
        slowest = _last_that_meets(longest, states, diagrams)
        return WayOut(
            goal,
            company,
            diagrams.count(states),
            tuple(
                (n, c) for n, layer in enumerate(layers) if (c := diagrams.count(layer & states))
            ),
            _counted(likely, states, diagrams),
            _counted(longest, states, diagrams),
            lost,
            diagrams.pick(left) if lost else None,
            None if slowest is None else (slowest, self._way(slowest, longest, acts, most_of).acts),
        )

    def fastest(
        self, goal: Goal, company: Company, states: Sequence[State]
    ) -> list[FastestWay | None]:
        """The fastest way from each of some states, by likely times; None where there is none."""
        wanted, acts = self.goal(goal), self.acts(company)
        if wanted is None:
            return [None for _ in states]
        # Only what can be reached from these states matters, and is far smaller than everything.
        begun = reduce(or_, map(self.diagrams.one, states), self.diagrams.empty)
        near = self.diagrams.reached(begun, acts)
        growing = seconds_to(self.diagrams, wanted, acts, near, likely_of)
        return [
            self._way(state, growing, acts, likely_of)
            if self.diagrams.has(growing[-1][1], state)
            else None
            for state in states
        ]

    def _way(
        self,
        state: State,
        growing: list[tuple[int, StateSet]],
        acts: tuple[Action, ...],
        seconds_of: Seconds,
    ) -> FastestWay:
        """Follow ever smaller sets to the goal."""
        names, low, likely, high = [], 0.0, 0.0, 0.0
        while _first_with(growing, state, self.diagrams) > 0:
            state, act = self._next(state, growing, acts, seconds_of)
            names.append(act.name)
            low, likely = low + act.duration.low, likely + act.duration.likely
            high += act.duration.high
        return FastestWay(tuple(names), Duration(low, likely, high))

    def _next(
        self,
        state: State,
        growing: list[tuple[int, StateSet]],
        acts: tuple[Action, ...],
        seconds_of: Seconds,
    ) -> tuple[State, Action]:
        """The act with which least time passes in all, the first of several."""
        best: tuple[int, State, Action] | None = None
        for act in acts:
            if not holds(act.guard, state):
                continue
            there = after(act, state)
            place = _first_with(growing, there, self.diagrams)
            if place < len(growing):
                total = growing[place][0] + ceil(seconds_of(act))
                if best is None or total < best[0]:
                    best = (total, there, act)
        assert best is not None, "every set but the first is led into a smaller one"
        return best[1], best[2]


def likely_of(act: Action) -> float:
    """How long an act most likely takes [s]."""
    return act.duration.likely


def most_of(act: Action) -> float:
    """How long an act takes at most [s]."""
    return act.duration.high


def _first_with(growing: list[tuple[int, StateSet]], state: State, diagrams: Diagrams) -> int:
    """Number of the first set with a state; their count when none has it."""
    low, high = 0, len(growing)
    while low < high:
        middle = (low + high) // 2
        if diagrams.has(growing[middle][1], state):
            high = middle
        else:
            low = middle + 1
    return low


def _counted(
    growing: list[tuple[int, StateSet]], states: StateSet, diagrams: Diagrams
) -> tuple[tuple[int, int], ...]:
    """States by the second in which they join."""
    found, before = [], diagrams.empty
    for seconds, grown in growing:
        new = diagrams.count(grown & ~before & states)
        if new:
            found.append((seconds, new))
        before = grown
    return tuple(found)


def _last_that_meets(
    growing: list[tuple[int, StateSet]], states: StateSet, diagrams: Diagrams
) -> State | None:
    """A state that joins last."""
    for place in range(len(growing) - 1, -1, -1):
        before = growing[place - 1][1] if place else diagrams.empty
        new = growing[place][1] & ~before & states
        if new != diagrams.empty:
            return diagrams.pick(new)
    return None
