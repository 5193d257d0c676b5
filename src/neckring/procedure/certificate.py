"""Whether a set of states proves that no rule can break, asked without any search."""

from __future__ import annotations

from collections.abc import Collection

from neckring.procedure.model import Model, State, after, holds


def faults(model: Model, closed: Collection[State], most: int = 10) -> list[str]:
    """Why a set of states is no proof; empty when it is one.

    A set that holds the start, that no action leaves and in which no rule breaks holds every state
    that can be reached, however it was found.

    Args:
        model: What may happen and what must not.
        closed: The states, e.g. all those that a search has reached.
        most: How many reasons are given before the check ends.
    """
    found = [] if model.start in closed else [f"the start {model.start} is not in the set"]
    for state in closed:
        found += faults_of(model, closed, state)
        if len(found) >= most:
            break
    return found[:most]


def faults_of(model: Model, closed: Collection[State], state: State) -> list[str]:
    """What speaks against the set at one of its states."""
    if not is_state(model, state):
        return [f"{state} is no state of the model"]
    broken = [
        f"rule {rule.name!r} breaks in {state}" for rule in model.rules if holds(rule.bad, state)
    ]
    left = [
        f"{action.name!r} leads from {state} out of the set"
        for action in model.actions
        if holds(action.guard, state) and after(action, state) not in closed
    ]
    return broken + left


def is_state(model: Model, state: State) -> bool:
    """Whether each variable has one of its values."""
    return len(state) == len(model.variables) and all(
        0 <= value < len(variable.states)
        for value, variable in zip(state, model.variables, strict=True)
    )
