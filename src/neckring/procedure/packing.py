"""States packed into words, and conditions into tables, for kernels that no model makes anew.

Each variable that any action changes is a field of bits in one of two words of 64, holding the
number of one of the values it may ever have; the others keep their start value and take no bits.
Fields that together take at most 8 bits make a group. A group's bits have few values, so whatever
a condition asks of one group alone, be it negated or of many values, is looked up: one row for
each value, in it one bit for each condition. A conjunction over groups is then the AND of one row
from each group, for 64 conditions at once.

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
from numpy import int64, uint64
from numpy.typing import NDArray

from neckring.procedure.model import (
    All,
    Among,
    AnyOf,
    Condition,
    Model,
    Not,
    State,
    variables_of,
)

Words = NDArray[uint64]
Numbers = NDArray[int64]

WORD = 64
WORDS = 2
GROUP = 8
ALL_BITS = (1 << WORD) - 1


class TooWideError(ValueError):
    """A state does not fit into the words; the message says how many bits it takes."""


@dataclass(frozen=True)
class Field:
    """Where a variable lies.

    Attributes:
        variable: Its number.
        values: Values it may ever have, in ascending order; what is stored is the place in them.
        word: Number of the word.
        shift: Bits below it.
        bits: How many it takes; none when there is one value only.
    """

    variable: int
    values: tuple[int, ...]
    word: int = 0
    shift: int = 0
    bits: int = 0

    @property
    def mask(self) -> int:
        """Its bits, at the lower end."""
        return (1 << self.bits) - 1


@dataclass(frozen=True)
class Group:
    """Fields side by side in one word, read at once.

    Attributes:
        fields: In order from the lowest bit.
        word: Number of the word.
        shift: Bits below.
        bits: Of all fields.
    """

    fields: tuple[Field, ...]
    word: int
    shift: int
    bits: int


@dataclass(frozen=True)
class Layout:
    """How the states of a model lie in words.

    Attributes:
        fields: Of each variable, by its number.
        groups: Those of the first word first.
        words: 1 or 2.
    """

    fields: tuple[Field, ...]
    groups: tuple[Group, ...]
    words: int

    def packed(self, state: Sequence[int]) -> tuple[int, int]:
        """The two words of a state."""
        words = [0, 0]
        for part in self.fields:
            words[part.word] |= part.values.index(state[part.variable]) << part.shift
        return words[0], words[1]

    def unpacked(self, first: int, second: int) -> State:
        """The state of two words."""
        words = (first, second)
        return tuple(
            part.values[(words[part.word] >> part.shift) & part.mask] for part in self.fields
        )


def layout(model: Model, changes: Iterable[tuple[int, int]] = ()) -> Layout:
    """Places for all variables of a model.

    Args:
        model: Its actions say which values a variable may have.
        changes: Further changes that may happen: variables and the values they then have.

    Raises:
        TooWideError: when two words do not hold a state.
    """
    loose = [Field(n, values) for n, values in enumerate(possible_values(model, changes))]
    loose = [Field(f.variable, f.values, bits=(len(f.values) - 1).bit_length()) for f in loose]
    groups = placed(binned(freest_first(model, [part for part in loose if part.bits])))
    found = {part.variable: part for group in groups for part in group.fields}
    fields = tuple(found.get(part.variable, part) for part in loose)
    return Layout(fields, groups, 1 + max(group.word for group in groups))


def possible_values(model: Model, changes: Iterable[tuple[int, int]]) -> list[tuple[int, ...]]:
    """Values that each variable may ever have."""
    values = [{variable.start} for variable in model.variables]
    for action in model.actions:
        for variable, value in action.effects:
            values[variable].add(value)
    for variable, value in changes:
        values[variable].add(value)
    return [tuple(sorted(some)) for some in values]


def freest_first(model: Model, fields: list[Field]) -> list[Field]:
    """Fields in the order of their places: first those that leave no pattern of bits unused.

    States that differ only in the lowest bits share an entry of the search's set, so these should
    belong to variables that are free of one another: full fields, little spoken of by rules.
    """
    spoken: dict[int, int] = defaultdict(int)
    for condition in (rule.bad for rule in model.rules):
        for variable in variables_of(condition):
            spoken[variable] += 1
    return sorted(
        fields, key=lambda f: (-len(f.values) / (1 << f.bits), spoken[f.variable], f.variable)
    )


def binned(fields: list[Field]) -> list[list[Field]]:
    """Fields put together, each into the first bin with room for it."""
    bins: list[list[Field]] = []
    for part in fields:
        room = (b for b in bins if sum(f.bits for f in b) + part.bits <= GROUP)
        some = next(room, None)
        if some is None:
            bins.append([part])
        else:
            some.append(part)
    return bins or [[]]


def placed(bins: list[list[Field]]) -> tuple[Group, ...]:
    """Bins laid side by side into words."""
    groups: list[Group] = []
    used = [0] * WORDS
    for fields in bins:
        bits = sum(part.bits for part in fields)
        word = next((w for w in range(WORDS) if used[w] + bits <= WORD), None)
        if word is None:
            total = sum(part.bits for some in bins for part in some)
            raise TooWideError(f"a state takes {total} bits, and there are {WORD * WORDS}")
        groups.append(group_at(fields, word, used[word], bits))
        used[word] += bits
    return tuple(sorted(groups, key=lambda group: group.word))


def group_at(fields: list[Field], word: int, shift: int, bits: int) -> Group:
    """A group whose fields lie one above the other from a bit on."""
    there, above = [], shift
    for part in fields:
        there.append(Field(part.variable, part.values, word, above, part.bits))
        above += part.bits
    return Group(tuple(there), word, shift, bits)


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


def changes_in_words(
    place: Layout, effects: Iterable[tuple[int, int]]
) -> tuple[int, int, int, int]:
    """Effects as bits kept of both words, then bits set in both."""
    kept, written = [ALL_BITS, ALL_BITS], [0, 0]
    for variable, value in effects:
        part = place.fields[variable]
        kept[part.word] &= ~(part.mask << part.shift) & ALL_BITS
        written[part.word] |= part.values.index(value) << part.shift
    return kept[0], kept[1], written[0], written[1]
