"""Proof by the compiled search: exact states, transitions, depth, and a shortest way to a break."""

from __future__ import annotations

import numpy as np
from numpy import int32, uint64
from numpy.typing import NDArray

from neckring.procedure.explicit_kernel import (
    RULE_BROKEN,
    TOO_MANY_LAYERS,
    TOO_MANY_STATES,
    explore,
)
from neckring.procedure.findings import Bounds, Break, Proof, Verdict
from neckring.procedure.model import Model, after, holds
from neckring.procedure.packed_tables import Words, tables
from neckring.procedure.packing import Layout, TooWideError, changes_in_words, layout


def prove(model: Model, bounds: Bounds = Bounds()) -> Proof:  # noqa: B008 (a frozen value)
    """Search breadth first until a rule breaks, nothing new is reached or a bound is hit.

    Of several rules that break in one layer the first is named; of several traces to it, the one
    whose actions come first.
    """
    try:
        place = layout(model)
    except TooWideError as wide:
        return Proof(Verdict.NOT_DECIDED, 1, 0, 0, None, str(wide))
    found, queue, parents = explored(model, place, bounds)
    ending, states, transitions, depth, rule, at, *_ = (int(number) for number in found)
    if ending == RULE_BROKEN:
        broken = Break(rule, trace_to(model, place, queue, parents, at))
        return Proof(Verdict.BROKEN, states, transitions, depth, broken)
    bound = {
        TOO_MANY_STATES: f"more than {bounds.states} states",
        TOO_MANY_LAYERS: f"more than {bounds.layers} layers",
    }.get(ending, "")
    verdict = Verdict.NOT_DECIDED if bound else Verdict.PROVED
    return Proof(verdict, states, transitions, depth, None, bound)


def explored(
    model: Model, place: Layout, bounds: Bounds
) -> tuple[NDArray[np.int64], Words, NDArray[int32]]:
    """What `explore` returns for a model."""
    guards, bad = [action.guard for action in model.actions], [rule.bad for rule in model.rules]
    asked = tables(model, place, guards + bad)
    changes = [changes_in_words(place, action.effects) for action in model.actions]
    return explore(
        np.array(place.packed(model.start), uint64),
        1 + place.words,
        bounds.states,
        bounds.layers,
        asked.first_groups,
        asked.shift,
        asked.mask,
        asked.base,
        asked.rows,
        asked.members,
        asked.kept,
        len(model.actions),
        np.array(changes, uint64).reshape(len(changes), 4),
        len(model.rules),
    )


def trace_to(
    model: Model, place: Layout, queue: Words, parents: NDArray[int32], at: int
) -> tuple[int, ...]:
    """The first of the shortest ways to a state, by its number in the order reached."""
    actions: list[int] = []
    while at > 0:
        state = _state(place, queue, at)
        before = _state(place, queue, int(parents[at]))
        actions.append(
            next(
                number
                for number, action in enumerate(model.actions)
                if after(action, before) == state and holds(action.guard, before)
            )
        )
        at = int(parents[at])
    return tuple(reversed(actions))


def _state(place: Layout, queue: Words, at: int) -> tuple[int, ...]:
    width = place.words
    return place.unpacked(int(queue[at * width]), int(queue[at * width + 1]) if width > 1 else 0)
