"""Conditions as tables to be looked up, for kernels that no model makes anew.

A group's bits have few values, so whatever a condition asks of one group alone, be it negated or of
many values, is looked up: one row for each value, in it one bit for each condition. A conjunction
over groups is then the AND of one row from each group, for 64 conditions at once.

A disjunction across groups is not multiplied out, for that can explode: each of its parts becomes
a conjunction with a bit of its own, and a gate clears the bit of the conjunction that contains
the disjunction when all its parts' bits are clear. Gates stand in order from the inside out. Size
is linear in the length of the conditions, whatever their shape.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy import uint64
from numpy.typing import NDArray

from neckring.procedure.model import All, Among, AnyOf, Condition, Model, Not, variables_of
from neckring.procedure.packing import ALL_BITS, WORD, Layout

Words = NDArray[uint64]


def without_not(model: Model, condition: Condition, wanted: bool = True) -> Condition:
    """The same condition, or its contrary, with no Not in it."""
    match condition:
        case Among(variable, values):
            every = frozenset(range(len(model.variables[variable].states)))
            return condition if wanted else Among(variable, every - values)
        case Not(part):
            return without_not(model, part, not wanted)
        case All(parts) | AnyOf(parts):
            inner = tuple(without_not(model, part, wanted) for part in parts)
            return All(inner) if isinstance(condition, All) is wanted else AnyOf(inner)


def union(sets: Iterable[int]) -> int:
    """What is in any of some sets of bits."""
    every = 0
    for some in sets:
        every |= some
    return every


@dataclass
class Gate:
    """Clears bits when none of its members is set.

    Attributes:
        members: A bit for each part of a disjunction.
        cleared: The bits cleared.
    """

    members: int
    cleared: int = 0


@dataclass
class Tables:
    """Conditions as rows to be looked up, and gates.

    Attributes:
        layout: Where the variables lie.
        allowed: Of each group: for each bit that asks something of it, the rows that allow it, as
            one number.
        gates: From the inside out.
        count: Bits in use; those of the conditions come first, in their order.
    """

    layout: Layout
    allowed: list[dict[int, int]]
    gates: list[Gate] = field(default_factory=list)
    count: int = 0

    _known: dict[Condition, Gate] = field(default_factory=dict)
    _sets: dict[int, list[int]] = field(default_factory=dict)

    @cached_property
    def _group_of(self) -> dict[int, int]:
        return {
            part.variable: number
            for number, group in enumerate(self.layout.groups)
            for part in group.fields
        }

    def group_of(self, condition: Condition) -> int | None:
        """The one group a condition speaks of; the first when of none; None when of several."""
        groups = {self._group_of.get(variable) for variable in variables_of(condition)} - {None}
        return None if len(groups) > 1 else next(iter(groups), 0)

    def demand(self, bit: int, condition: Condition) -> None:
        """Let a bit stand for what it stood for, and a condition with no Not in it besides."""
        group = self.group_of(condition)
        if group is not None:
            self._look_up(bit, condition, group)
        elif isinstance(condition, All):
            for part in condition.parts:
                self.demand(bit, part)
        elif isinstance(condition, AnyOf):
            self._gate(condition).cleared |= 1 << bit

    def _look_up(self, bit: int, condition: Condition, group: int) -> None:
        known = self.allowed[group].get(bit, -1)
        self.allowed[group][bit] = known & self._rows_of(condition, group)

    def _rows_of(self, condition: Condition, group: int) -> int:
        # A set of rows is a whole number with a bit for each.
        match condition:
            case Among(variable, values):
                part = self.layout.fields[variable]
                if not part.bits:
                    return -1 if part.values[0] in values else 0
                sets = self._value_rows(variable)
                return union(sets[n] for n, value in enumerate(part.values) if value in values)
            case Not(inner):
                return ~self._rows_of(inner, group)
            case All(parts):
                every = -1
                for each in parts:
                    every &= self._rows_of(each, group)
                return every
            case AnyOf(parts):
                return union(self._rows_of(each, group) for each in parts)

    def _value_rows(self, variable: int) -> list[int]:
        # For each value of a variable, the rows of its group in which it has it.
        if variable not in self._sets:
            part = self.layout.fields[variable]
            group = self.layout.groups[self._group_of[variable]]
            below = part.shift - group.shift
            run = ((1 << (1 << below)) - 1, 1 << (below + part.bits))
            spread = union(1 << at for at in range(0, 1 << group.bits, run[1]))
            self._sets[variable] = [
                (run[0] * spread) << (value << below) for value in range(len(part.values))
            ]
        return self._sets[variable]

    def rows(self, words: int) -> Words:
        """The rows of all groups, shape (rows, words)."""
        blocks = []
        for group, allowed in zip(self.layout.groups, self.allowed, strict=True):
            size = 1 << group.bits
            block = np.full((size, words), ALL_BITS, uint64)
            for bit, some in allowed.items():
                as_bytes = (some & ((1 << size) - 1)).to_bytes(-(-size // 8), "little")
                wanted = np.unpackbits(np.frombuffer(as_bytes, np.uint8), bitorder="little")
                block[wanted[:size] == 0, bit // WORD] &= uint64(ALL_BITS ^ (1 << bit % WORD))
            blocks.append(block)
        return np.concatenate(blocks)

    def _gate(self, condition: AnyOf) -> Gate:
        if condition not in self._known:
            gate = Gate(0)
            for part in self._merged(condition):
                bit, self.count = self.count, self.count + 1
                gate.members |= 1 << bit
                self.demand(bit, part)
            self.gates.append(gate)
            self._known[condition] = gate
        return self._known[condition]

    def _merged(self, condition: AnyOf) -> list[Condition]:
        # Parts that speak of one and the same group are one look-up.
        by_group: dict[int | None, list[Condition]] = defaultdict(list)
        for part in condition.parts:
            by_group[self.group_of(part)].append(part)
        across = by_group.pop(None, [])
        return across + [AnyOf(tuple(parts)) for parts in by_group.values()]


@dataclass(frozen=True)
class PackedTables:
    """Tables as flat arrays; `words` is how many words of bits there are.

    Attributes:
        first_groups: How many groups lie in the first word; the others lie in the second.
        shift: Of each group, shape (groups,).
        mask: Of each group, at the lower end, shape (groups,).
        base: First row of each group, shape (groups,).
        rows: Shape (rows of all groups, words).
        members: Of each gate, shape (gates, words).
        kept: Of each gate, all but the bits it clears, shape (gates, words).
    """

    first_groups: int
    shift: Words
    mask: Words
    base: Words
    rows: Words
    members: Words
    kept: Words


def tables(model: Model, place: Layout, conditions: Sequence[Condition]) -> PackedTables:
    """Conditions, one bit each in their order, packed for the kernels."""
    whole = Tables(place, [{} for _ in place.groups], count=len(conditions))
    for bit, condition in enumerate(conditions):
        whole.demand(bit, without_not(model, condition))
    words = max(1, -(-whole.count // WORD))
    sizes = [1 << group.bits for group in place.groups]
    return PackedTables(
        first_groups=sum(group.word == 0 for group in place.groups),
        shift=np.array([group.shift for group in place.groups], uint64),
        mask=np.array([(1 << group.bits) - 1 for group in place.groups], uint64),
        base=np.cumsum([0, *sizes[:-1]]).astype(uint64),
        rows=whole.rows(words),
        members=in_words([gate.members for gate in whole.gates], whole.count, words),
        kept=in_words([~gate.cleared for gate in whole.gates], whole.count, words),
    )


def in_words(numbers: Sequence[int], bits: int, words: int) -> Words:
    """The lower bits of whole numbers as words, lowest first, shape (numbers, words)."""
    some = (1 << bits) - 1
    return np.array(
        [[((n & some) >> (WORD * word)) & ALL_BITS for word in range(words)] for n in numbers],
        uint64,
    ).reshape(len(numbers), words)
