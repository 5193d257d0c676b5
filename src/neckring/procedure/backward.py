"""From where a goal can be reached in so many steps or seconds: ways out, all states at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from heapq import heappop, heappush
from math import ceil, isfinite

from neckring.procedure.diagrams import Diagrams, Move, StateSet, led_into
from neckring.procedure.model import Action


def steps_to(
    diagrams: Diagrams, goal: StateSet, actions: Iterable[Action], within: StateSet
) -> list[StateSet]:
    """States by the least number of actions that lead from them to a goal.

    Args:
        diagrams: The model.
        goal: The states wanted.
        actions: What may be done on the way.
        within: States that the way, its ends too, may not leave.

    Returns:
        The goal, the states one action away from it, two actions away ... No state is in two of
        them; a state within which is in none has no way to the goal.
    """
    moves = diagrams.moves(actions)
    layer = known = goal & within
    layers = []
    while layer != diagrams.empty:
        layers.append(layer)
        layer = led_into(diagrams, layer, moves) & within & ~known
        known = known | layer
    return layers or [layer]


def seconds_to(
    diagrams: Diagrams,
    goal: StateSet,
    actions: Iterable[Action],
    within: StateSet,
    seconds_of: Callable[[Action], float],
) -> list[tuple[int, StateSet]]:
    """States from which a goal can be reached in at most so many seconds, one action at a time.

    Dijkstra with sets: as soon as the states of a time are known, each action sets down those it
    leads from, later by as long as it takes.

    Args:
        diagrams: The model.
        goal: The states wanted.
        actions: What may be done on the way.
        within: States that the way, its ends too, may not leave.
        seconds_of: How long an action takes [s]; each is rounded up to whole seconds.

    Returns:
        Each whole second at which the set grows, and the set: from every state of it the goal can
        be reached in at most so many seconds, and from no other. The first is 0 s and the goal.

    Raises:
        ValueError: when an action takes less than nothing or for ever.
    """
    moves = moves_by_seconds(diagrams, actions, seconds_of)
    waiting: dict[int, StateSet] = {0: goal & within}
    times, known = [0], diagrams.empty
    found: list[tuple[int, StateSet]] = []
    while times:
        now = heappop(times)
        new = at_once(diagrams, waiting.pop(now) & ~known, moves.get(0, []), within & ~known)
        if new == diagrams.empty and found:
            continue
        known = known | new
        found.append((now, known))
        for taken, of_that_length in moves.items():
            before = led_into(diagrams, new, of_that_length) & within & ~known
            if before != diagrams.empty:
                if now + taken not in waiting:
                    heappush(times, now + taken)
                waiting[now + taken] = waiting.get(now + taken, diagrams.empty) | before
    return found


def moves_by_seconds(
    diagrams: Diagrams, actions: Iterable[Action], seconds_of: Callable[[Action], float]
) -> dict[int, list[Move]]:
    """Actions by how long they take in whole seconds, rounded up."""
    sorted_out: dict[int, list[Action]] = defaultdict(list)
    for action in actions:
        seconds = seconds_of(action)
        if not (isfinite(seconds) and seconds >= 0.0):
            raise ValueError(f"action {action.name!r} takes {seconds} s; it must be 0 s or more")
        sorted_out[ceil(seconds)].append(action)
    return {taken: diagrams.moves(alike) for taken, alike in sorted_out.items()}


def at_once(diagrams: Diagrams, states: StateSet, moves: list[Move], within: StateSet) -> StateSet:
    """Some states, and those that actions which take no time lead from into them."""
    grown, before = states, diagrams.empty
    while grown != before:
        before = grown
        grown = grown | led_into(diagrams, grown, moves) & within
    return grown
