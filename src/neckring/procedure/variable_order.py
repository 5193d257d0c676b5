"""In which order a decision diagram asks for the variables: those that meet often, together."""

from __future__ import annotations

from collections.abc import Iterable
from random import Random

from neckring.procedure.model import Model, variables_of

# Orders from which the pulling starts: the one written, then shuffled ones.
STARTS = 5
ROUNDS = 30
# After so many rounds without a better order none is expected.
PATIENCE = 4


def good_order(model: Model) -> list[int]:
    """Variables in an order that keeps those close which one action or one rule speaks of.

    Each action or rule pulls its variables towards the middle of where they stand, each variable
    goes to the middle of what pulls it, and the order in which the sum of all spans was least wins.
    The same model always gets the same order.

    Source: Aloul, Markov, Sakallah 2003, Proc. GLSVLSI, "FORCE: a fast and easy-to-implement
    variable-ordering heuristic" (from memory).
    """
    ties = ties_of(model)
    order, shuffled = list(range(len(model.variables))), Random(0)
    found = [pulled_together(order, ties)]
    for _ in range(STARTS - 1):
        shuffled.shuffle(order)
        found.append(pulled_together(list(order), ties))
    return min(found, key=lambda one: total_span(one, ties))


def pulled_together(order: list[int], ties: list[tuple[int, ...]]) -> list[int]:
    """The best order on the way from one start."""
    best, least, waited = order, total_span(order, ties), 0
    for _ in range(ROUNDS):
        order = pulled(order, ties)
        span = total_span(order, ties)
        waited = 0 if span < least else waited + 1
        if span < least:
            best, least = order, span
        if waited == PATIENCE:
            break
    return best


def ties_of(model: Model) -> list[tuple[int, ...]]:
    """Which variables each action and each rule speaks of."""
    spoken = [
        variables_of(action.guard).union(variable for variable, _ in action.effects)
        for action in model.actions
    ]
    spoken += [variables_of(rule.bad) for rule in model.rules]
    return [tuple(tie) for tie in dict.fromkeys(spoken) if tie]


def places(order: Iterable[int]) -> dict[int, int]:
    """Place of each variable in an order."""
    return {variable: place for place, variable in enumerate(order)}


def total_span(order: list[int], ties: list[tuple[int, ...]]) -> int:
    """Sum over all ties of the distance between their outermost variables."""
    place = places(order)
    spread = ([place[variable] for variable in tie] for tie in ties)
    return sum(max(taken) - min(taken) for taken in spread)


def pulled(order: list[int], ties: list[tuple[int, ...]]) -> list[int]:
    """The order after one round of pulling."""
    place = places(order)
    pull, count = [0.0] * len(order), [0] * len(order)
    for tie in ties:
        middle = sum(place[variable] for variable in tie) / len(tie)
        for variable in tie:
            pull[variable] += middle
            count[variable] += 1
    return sorted(order, key=lambda v: pull[v] / count[v] if count[v] else float(place[v]))
