"""Conditions as tests of one field each, for the compiled walk."""

from __future__ import annotations

from dataclasses import dataclass, field

from neckring.procedure.model import All, Among, AnyOf, Condition, Not
from neckring.procedure.packing import Layout
from neckring.procedure.slip_kernel import ACCEPT, REJECT


@dataclass
class Tests:
    """Conditions as tests of one field each, with where to go on if so and if not.

    Attributes:
        place: Where the variables lie.
        rows: Word, shift, mask, offset of the values wanted, next if so, next if not.
        allowed: Values wanted.
    """

    place: Layout
    rows: list[tuple[int, int, int, int, int, int]] = field(default_factory=list)
    allowed: list[int] = field(default_factory=list)
    _known: dict[Condition, int] = field(default_factory=dict)
    _offsets: dict[Among, int] = field(default_factory=dict)

    def entry(self, condition: Condition) -> int:
        """The first test of a condition."""
        if condition not in self._known:
            self._known[condition] = self._added(condition, ACCEPT, REJECT)
        return self._known[condition]

    def _added(self, condition: Condition, yes: int, no: int) -> int:
        match condition:
            case Among():
                part = self.place.fields[condition.variable]
                wanted = self._offset(condition)
                self.rows.append((part.word, part.shift, part.mask, wanted, yes, no))
                return len(self.rows) - 1
            case Not(inner):
                return self._added(inner, no, yes)
            case All(parts):
                for each in reversed(parts):
                    yes = self._added(each, yes, no)
                return yes
            case AnyOf(parts):
                for each in reversed(parts):
                    no = self._added(each, yes, no)
                return no

    def _offset(self, leaf: Among) -> int:
        if leaf not in self._offsets:
            self._offsets[leaf] = len(self.allowed)
            values = self.place.fields[leaf.variable].values
            self.allowed += [int(value in leaf.values) for value in values]
        return self._offsets[leaf]
