"""States packed into words, for kernels that no model makes anew.

Each variable that any action changes is a field of bits in one of two words of 64, holding the
number of one of the values it may ever have; the others keep their start value and take no bits.
Fields that together take at most 8 bits make a group, which `neckring.procedure.packed_tables`
looks up at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from neckring.procedure.model import Model, State, variables_of

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
