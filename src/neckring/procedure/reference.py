"""The oracle: breadth first and Dijkstra in plain Python, against which every engine is held."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from heapq import heappop, heappush
from itertools import count

from neckring.procedure.findings import Bounds, Break, Proof, Verdict
from neckring.procedure.model import Action, All, Among, Condition, Model, State, after, holds


class BoundHitError(RuntimeError):
    """A search was given up; its message says at which bound."""


class Possible:
    """Which actions may be done in a state.

    What a guard plainly demands, one value of each of some variables, is looked up, so that models
    with very many actions stay quick; every guard looked up is then still asked as a whole.
    """

    def __init__(self, model: Model) -> None:
        self._actions = model.actions
        self._by_values: dict[tuple[int, ...], dict[State, list[int]]] = {}
        for number, action in enumerate(model.actions):
            demanded = plain_demands(action.guard)
            variables, values = tuple(demanded), tuple(demanded.values())
            table = self._by_values.setdefault(variables, defaultdict(list))
            table[values].append(number)

    def __call__(self, state: State) -> list[int]:
        """Numbers of the actions that may be done, in their order."""
        looked_up = [
            number
            for variables, table in self._by_values.items()
            for number in table.get(tuple(state[variable] for variable in variables), ())
        ]
        return sorted(n for n in looked_up if holds(self._actions[n].guard, state))


def plain_demands(condition: Condition) -> dict[int, int]:
    """Variables that must have one certain value for a condition to hold, and that value."""
    match condition:
        case Among(variable, values) if len(values) == 1:
            return {variable: next(iter(values))}
        case All(parts):
            return {v: value for part in parts for v, value in plain_demands(part).items()}
        case _:
            return {}


class Search:
    """A breadth-first search, layer after layer.

    Attributes:
        ways: Every state reached, with the state and the action by which it was reached first.
        layer: States first reached after the greatest number of actions so far.
        depth: That number.
        transitions: Actions that may be done, over all states of the layers gone on from.
    """

    def __init__(self, model: Model, bounds: Bounds) -> None:
        self.model = model
        self.bounds = bounds
        self.possible = Possible(model)
        self.ways: dict[State, tuple[State, int] | None] = {model.start: None}
        self.layer = [model.start]
        self.depth = 0
        self.transitions = 0

    def advance(self) -> bool:
        """Reach the next layer; False when there is none.

        Raises:
            BoundHitError: when this would go beyond a bound.
        """
        following: list[State] = []
        for state in self.layer:
            numbers = self.possible(state)
            self.transitions += len(numbers)
            for number in numbers:
                reached = after(self.model.actions[number], state)
                if reached not in self.ways:
                    self._keep_within_bounds()
                    self.ways[reached] = (state, number)
                    following.append(reached)
        if following:
            self.layer, self.depth = following, self.depth + 1
        return bool(following)

    def _keep_within_bounds(self) -> None:
        if len(self.ways) >= self.bounds.states:
            raise BoundHitError(f"more than {self.bounds.states} states")
        if self.depth >= self.bounds.layers:
            raise BoundHitError(f"more than {self.bounds.layers} layers")

    def broken(self) -> Break | None:
        """The first rule that breaks in the last layer, with the first of the traces there."""
        for number, rule in enumerate(self.model.rules):
            for state in self.layer:
                if holds(rule.bad, state):
                    return Break(number, self.trace(state))
        return None

    def trace(self, state: State) -> tuple[int, ...]:
        """Actions that lead from the start to a state reached."""
        return trace_to(state, self.ways)


def trace_to(state: State, ways: dict[State, tuple[State, int] | None]) -> tuple[int, ...]:
    """Actions that lead to a state, followed back to the state with no way to it."""
    actions: list[int] = []
    while (way := ways[state]) is not None:
        state, number = way
        actions.append(number)
    return tuple(reversed(actions))


def prove(model: Model, bounds: Bounds = Bounds()) -> Proof:  # noqa: B008 (a frozen value)
    """Search breadth first until a rule breaks, nothing new is reached or a bound is hit.

    Of several rules that break in one layer the first is named; of several traces to it, the one
    whose actions come first.
    """
    search = Search(model, bounds)
    try:
        while (broken := search.broken()) is None and search.advance():
            pass
    except BoundHitError as hit:
        states, depth = len(search.ways), search.depth
        return Proof(Verdict.NOT_DECIDED, states, search.transitions, depth, None, str(hit))
    if broken is None:
        states, depth = len(search.ways), search.depth
        return Proof(Verdict.PROVED, states, search.transitions, depth)
    transitions = search.transitions + sum(len(search.possible(state)) for state in search.layer)
    return Proof(Verdict.BROKEN, len(search.ways), transitions, search.depth, broken)


def distances(model: Model, bounds: Bounds = Bounds()) -> dict[State, int]:  # noqa: B008
    """Every state that can be reached, and after how few actions; rules are not looked at.

    Raises:
        BoundHitError: when a bound is hit.
    """
    search = Search(model, bounds)
    found = {model.start: 0}
    while search.advance():
        found.update(dict.fromkeys(search.layer, search.depth))
    return found


def shortest(
    model: Model,
    goal: Condition,
    bounds: Bounds = Bounds(),  # noqa: B008
) -> tuple[int, ...] | None:
    """Fewest actions from the start to a state where a condition holds; None when there is none.

    Raises:
        BoundHitError: when a bound is hit before.
    """
    search = Search(model, bounds)
    while True:
        for state in search.layer:
            if holds(goal, state):
                return search.trace(state)
        if not search.advance():
            return None


def at_most(action: Action) -> float:
    """How long an action takes at most [s]."""
    return action.duration.high


def quickest(
    model: Model, goal: Condition, duration: Callable[[Action], float] = at_most
) -> tuple[float, tuple[int, ...]] | None:
    """Least time from the start to a state where a condition holds, one action at a time.

    Args:
        model: What may be done; its rules are not looked at.
        goal: The condition.
        duration: How long an action takes [s], never less than nothing.

    Returns:
        The time [s] and the actions; None when no way leads there.

    Source: Dijkstra 1959, Numerische Mathematik 1:269-271, problem 2 (from memory).
    """
    possible, order = Possible(model), count()
    ways: dict[State, tuple[State, int] | None] = {}
    waiting: list[tuple[float, int, State, tuple[State, int] | None]] = []
    heappush(waiting, (0.0, next(order), model.start, None))
    while waiting:
        seconds, _, state, way = heappop(waiting)
        if state in ways:
            continue
        ways[state] = way
        if holds(goal, state):
            return seconds, trace_to(state, ways)
        for number in possible(state):
            action = model.actions[number]
            then = (seconds + duration(action), next(order), after(action, state), (state, number))
            heappush(waiting, then)
    return None


def replay(model: Model, trace: Iterable[int]) -> list[State]:
    """States that a trace goes through, the start first.

    Raises:
        ValueError: when an action may not be done where the trace does it.
    """
    states = [model.start]
    for place, number in enumerate(trace, start=1):
        action = action_numbered(model.actions, number)
        if not holds(action.guard, states[-1]):
            raise ValueError(f"action {place} of the trace, {action.name!r}, may not be done there")
        states.append(after(action, states[-1]))
    return states


def action_numbered(actions: Sequence[Action], number: int) -> Action:
    """An action by its number.

    Raises:
        ValueError: when there is none of this number.
    """
    if not 0 <= number < len(actions):
        raise ValueError(f"no action is numbered {number}; there are {len(actions)}")
    return actions[number]
