"""Conditions of many states at once, and what follows from them: rules broken, acts possible.

Conditions lie in bits, those of all actions first and those of all rules after them; see
`neckring.procedure.packed_tables.PackedTables`.
"""

from __future__ import annotations

import numpy as np
from numpy import int64, uint64
from numpy.typing import NDArray

from neckring.compiled import compiled

Words = NDArray[uint64]
Numbers = NDArray[int64]

# States taken up at a time.
BATCH = 64
# Where a search notes the first rule that breaks, and the first state in which it does.
RULE, BREAKS = 4, 5
NO_RULE = 1 << 30
ZERO = uint64(0)
ONE = uint64(1)
FULL = uint64(0xFFFFFFFFFFFFFFFF)


@compiled
def evaluate(
    queue: Words,
    width: int,
    begin: int,
    end: int,
    first_groups: int,
    shift: Words,
    mask: Words,
    base: Words,
    rows: Words,
    members: Words,
    kept: Words,
    bits: Words,
) -> None:
    """Fill `bits`, shape (BATCH, words), with the conditions that hold in each of some states.

    States come in batches because arrays handed to a function have their references counted,
    which for a state at a time would cost more than the work.

    Args:
        queue: States, shape (states x width,).
        width: Words of a state.
        begin: Number of the first.
        end: Number after the last; at most BATCH on.
        first_groups: This and all up to `kept` as in
            `neckring.procedure.packed_tables.PackedTables`.
        shift: Of each group.
        mask: Of each group.
        base: Of each group.
        rows: Of each group and value.
        members: Of each gate.
        kept: Of each gate.
        bits: Filled.
    """
    words = rows.shape[1]
    for number in range(begin, end):
        own = number - begin
        first = queue[number * width]
        second = queue[number * width + 1] if width == 2 else ZERO
        for word in range(words):
            bits[own, word] = FULL
        for group in range(shift.shape[0]):
            part = first if group < first_groups else second
            row = base[group] + ((part >> shift[group]) & mask[group])
            for word in range(words):
                bits[own, word] &= rows[row, word]
        for gate in range(members.shape[0]):
            some = ZERO
            for word in range(words):
                some |= bits[own, word] & members[gate, word]
            if some == ZERO:
                for word in range(words):
                    bits[own, word] &= kept[gate, word]


@compiled
def hold_rules(
    queue: Words,
    width: int,
    begin: int,
    end: int,
    first_groups: int,
    shift: Words,
    mask: Words,
    base: Words,
    rows: Words,
    members: Words,
    kept: Words,
    action_count: int,
    rule_count: int,
    found: Numbers,
) -> None:
    """Note in `found` the first rule that breaks in some states, and the first state there."""
    broken = np.empty((BATCH, rows.shape[1]), np.uint64)
    worst = found[RULE]
    for low in range(begin, end, BATCH):
        high = min(low + BATCH, end)
        evaluate(
            queue, width, low, high, first_groups, shift, mask, base, rows, members, kept, broken
        )
        for number in range(low, high):
            for rule in range(min(rule_count, worst)):
                bit = action_count + rule
                if broken[number - low, bit >> 6] >> uint64(bit & 63) & ONE:
                    worst = rule
                    found[RULE], found[BREAKS] = rule, number
                    break


@compiled
def count_transitions(
    queue: Words,
    width: int,
    begin: int,
    end: int,
    first_groups: int,
    shift: Words,
    mask: Words,
    base: Words,
    rows: Words,
    members: Words,
    kept: Words,
    action_count: int,
) -> int:
    """Actions that may be done, over some states."""
    guards = np.empty((BATCH, rows.shape[1]), np.uint64)
    transitions = 0
    for low in range(begin, end, BATCH):
        high = min(low + BATCH, end)
        evaluate(
            queue, width, low, high, first_groups, shift, mask, base, rows, members, kept, guards
        )
        for own in range(high - low):
            for action in range(action_count):
                if guards[own, action >> 6] >> uint64(action & 63) & ONE:
                    transitions += 1
    return transitions
