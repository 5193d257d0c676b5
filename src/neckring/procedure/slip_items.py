"""What may be done in a walk through slips: steps, what is done instead, and breakdowns."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy import int64

from neckring.procedure.model import Condition, holds, variables_of
from neckring.procedure.slip_endings import Numbers
from neckring.procedure.slip_kernel import CHECK, FAILURE, MOVE, OTHER_STEP
from neckring.procedure.slips import Deviation, SlipKind
from neckring.procedure.steps import Procedure, Step, StepKind


@dataclass(frozen=True)
class Item:
    """Something that may be done.

    Attributes:
        kind: MOVE, CHECK, OTHER_STEP or FAILURE.
        step: Position of the step it counts as; -1 for a failure.
        guard: Asked before.
        effects: What it changes.
        high: The longest it takes [s].
    """

    kind: int
    step: int
    guard: Condition
    effects: tuple[tuple[int, int], ...]
    high: float


def items_of(procedure: Procedure) -> tuple[list[Item], dict[Deviation, int]]:
    """Everything that may be done, the steps first, and the item of each deviation that has one."""
    items = [_step_item(position, step) for position, step in enumerate(procedure.steps)]
    own: dict[Deviation, int] = {}
    for position, step in enumerate(procedure.steps):
        kind = items[position].kind
        for number, other in enumerate(step.others):
            own[Deviation(position, SlipKind.OTHER, number)] = len(items)
            high = other.duration.high
            items.append(Item(kind, position, other.guard, other.effects, high))
        if step.half is not None:
            own[Deviation(position, SlipKind.HALF)] = len(items)
            items.append(Item(kind, position, step.guard, step.half, step.duration.high))
    for action in procedure.failures:
        items.append(Item(FAILURE, -1, action.guard, action.effects, 0.0))
    return items, own


def _step_item(position: int, step: Step) -> Item:
    kind = {StepKind.MOVE: MOVE, StepKind.CHECK: CHECK}.get(step.kind, OTHER_STEP)
    return Item(kind, position, step.guard, step.effects, step.duration.high)


def numbers(some: Iterable[int]) -> Numbers:
    """Whole numbers as an array."""
    return np.array(list(some), int64)


def done(item: Item) -> tuple[tuple[int, int], ...]:
    """What it changes when it is done: a check nothing, whatever is written."""
    return item.effects if item.kind in (MOVE, FAILURE) else ()


def touched_rules(
    procedure: Procedure, items: list[Item], rules: list[Condition]
) -> tuple[Numbers, Numbers]:
    """The rules to be asked after each item: where its own begin, shape (items + 1,), and all."""
    # Only a rule that speaks of something changed can begin to be broken. If one is broken at the
    # start already, the first move must find it, whatever it changes.
    everything = any(holds(bad, procedure.model.start) for bad in rules)
    spoken = [variables_of(bad) for bad in rules]
    lists = []
    for item in items:
        changed = {variable for variable, _ in done(item)}
        asked = item.kind in (MOVE, FAILURE)
        lists.append(
            [n for n, some in enumerate(spoken) if asked and (everything or some & changed)]
        )
    begins = np.cumsum([0, *map(len, lists)]).astype(int64)
    return begins, numbers(number for some in lists for number in some)
