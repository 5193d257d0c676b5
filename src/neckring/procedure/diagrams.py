"""Sets of states as binary decision diagrams, and what actions make of them.

A variable is a few bits. An action only writes constants, so that the set it leads to is: those of
the set in which it may be done, what it writes forgotten, what it writes written. No second bit for
"afterwards" is needed, which keeps the diagrams small.

Source: Bryant 1986, IEEE Trans. Computers C-35(8):677-691; Burch, Clarke, McMillan, Dill, Hwang
1990, Proc. LICS, "Symbolic model checking: 10^20 states and beyond" (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import reduce
from heapq import heappop, heappush
from importlib import import_module
from operator import or_
from types import ModuleType
from typing import Any, TypeAlias

from neckring.procedure.model import (
    Action,
    All,
    Among,
    AnyOf,
    Condition,
    Model,
    Not,
    State,
    variables_of,
)
from neckring.procedure.variable_order import good_order

# A diagram of the library; two equal sets are one and the same diagram. Sets are joined by
# | & and ~, but ~ alone also lets in bits that stand for no value.
StateSet: TypeAlias = Any
# What a library keeps its diagrams in.
Room: TypeAlias = Any

COMPILED_LIBRARY, PLAIN_LIBRARY = "cudd", "autoref"
# Up to so many bits the library counts exactly, in floating point.
EXACT_BITS = 53
# Places of the compiled library's memory of what it did, at the start; it grows by itself. A kit's
# diagrams are small, and a memory that lies in the processor's own is the faster one.
FIRST_CACHE = 1 << 14
# With a larger share of all pairs of moves that wake one another, rounds are quicker.
DENSE = 0.5
# After so many steps a search that goes on lets its sets be looked at.
LOOK_EVERY = 100


@dataclass(frozen=True)
class Move:
    """Actions with the same effects, as diagrams.

    Attributes:
        guard: Where one of them may be done.
        written: Bits that they write, and what.
        after: Where these bits are as written.
        reads: A bit for each variable that the guards speak of.
        writes: A bit for each variable written.
    """

    guard: StateSet
    written: dict[str, bool]
    after: StateSet
    reads: int = 0
    writes: int = 0

    def with_guard(self, other: Move) -> Move:
        """With another move that has the same effects."""
        either, reads = self.guard | other.guard, self.reads | other.reads
        return Move(either, self.written, self.after, reads, self.writes)

    def wakes(self, others: list[Move]) -> list[int]:
        """Which others may lead on to something new from what this one leads to, by number.

        Be R a set that the other does not lead out of, t in it, and s what this one makes of t. If
        the other does not read what this one writes, it may be done in t too, and leads to some u
        in R. If besides it writes over all that this one wrote, it leads from s to that u. If not,
        but it writes nothing that this one reads or writes, this one may still be done in u, and
        leads to what the other makes of s.
        """
        writes, touches = self.writes, self.reads | self.writes
        return [
            number
            for number, other in enumerate(others)
            if other.reads & writes or (writes & ~other.writes and touches & other.writes)
        ]


def library_named(name: str) -> ModuleType:
    """A library of decision diagrams, the compiled one if it is there and none is named."""
    if name:
        return import_module(f"dd.{name}")
    try:
        return import_module(f"dd.{COMPILED_LIBRARY}")
    except ImportError:
        return import_module(f"dd.{PLAIN_LIBRARY}")


class Diagrams:
    """Sets of states of one model.

    Attributes:
        model: The model.
        empty: No state.
        valid: Every state, that can be reached or not.
        initial: The start alone.
    """

    def __init__(self, model: Model, library: str = "") -> None:
        """Lay out the bits.

        Args:
            model: The model.
            library: "cudd" (compiled) or "autoref" (plain Python); empty takes the better one.
        """
        self.model = model
        self._library = library_named(library)
        self._diagrams = new_diagrams(self._library)
        self._bits = [bits_of(number, len(v.states)) for number, v in enumerate(model.variables)]
        self._all_bits = {bit for bits in self._bits for bit in bits}
        self._levels = {variable: level for level, variable in enumerate(good_order(model))}
        for variable in self._levels:
            self._diagrams.declare(*self._bits[variable])
        # Only the compiled library has both in one; a method kept here would be a circle of
        # references, and the diagrams would not be let go in order.
        self._and_exists = getattr(self._library, "and_exists", None)
        self._leaves: dict[Among, StateSet] = {}
        self._moves: dict[int, tuple[Action, Move]] = {}
        self.empty: StateSet = self._diagrams.false
        self.valid = self._all_values_of(range(len(model.variables)))
        self.initial = self.one(model.start)

    # Sets from words

    def one(self, state: State) -> StateSet:
        """The set of one state."""
        return self._diagrams.cube(self._written(enumerate(state)))

    def encode(self, condition: Condition) -> StateSet:
        """All states in which a condition holds."""
        return self._where(condition) & self.valid

    def _where(self, condition: Condition) -> StateSet:
        """As `encode`, but bits that stand for no value may be in it as well."""
        match condition:
            case Among():
                if condition not in self._leaves:
                    self._leaves[condition] = self._leaf(condition)
                return self._leaves[condition]
            case Not(part):
                return ~self._where(part)
            case All(parts):
                return self._joined(parts, lambda one, other: one & other, self._diagrams.true)
            case AnyOf(parts):
                return self._joined(parts, lambda one, other: one | other, self.empty)

    def _joined(
        self,
        parts: Iterable[Condition],
        join: Callable[[StateSet, StateSet], StateSet],
        of_none: StateSet,
    ) -> StateSet:
        joined = of_none
        for part in parts:
            joined = join(joined, self._where(part))
        return joined

    def _leaf(self, among: Among) -> StateSet:
        held = self.empty
        for value in range(len(self.model.variables[among.variable].states)):
            if value in among.values:
                held = held | self._diagrams.cube(self._written([(among.variable, value)]))
        return held

    def _all_values_of(self, variables: Iterable[int]) -> StateSet:
        allowed = self._diagrams.true
        for number in variables:
            count = len(self.model.variables[number].states)
            allowed = allowed & self._leaf(Among(number, frozenset(range(count))))
        return allowed

    def _written(self, effects: Iterable[tuple[int, int]]) -> dict[str, bool]:
        """Bits that variables with some values have."""
        return {
            bit: bool(value >> place & 1)
            for variable, value in effects
            for place, bit in enumerate(self._bits[variable])
        }

    # Sets from sets

    def move(self, action: Action) -> Move:
        """An action as diagrams, worked out once."""
        known = self._moves.get(id(action))
        if known is None:
            written = self._written(action.effects)
            changed = self._all_values_of(variable for variable, _ in action.effects)
            guard = self._where(action.guard) & changed
            reads = in_bits(variables_of(action.guard))
            writes = in_bits(variable for variable, _ in action.effects)
            after = self._diagrams.cube(written)
            known = (action, Move(guard, written, after, reads, writes))
            # The action is kept so that no other can come to have its identity.
            self._moves[id(action)] = known
        return known[1]

    def moves(self, actions: Iterable[Action]) -> list[Move]:
        """Actions as diagrams, those with the same effects made one."""
        same: dict[tuple[tuple[int, int], ...], Move] = {}
        for action in actions:
            move, known = self.move(action), same.get(action.effects)
            same[action.effects] = move if known is None else known.with_guard(move)
        return list(same.values())

    def image(self, states: StateSet, action: Action) -> StateSet:
        """Where an action leads from some states."""
        return self.moved(states, self.move(action))

    def moved(self, states: StateSet, move: Move) -> StateSet:
        """As `image`, of a move."""
        if self._and_exists is None:
            return self._diagrams.exist(move.written, states & move.guard) & move.after
        return self._and_exists(states, move.guard, move.written) & move.after

    def preimage(self, states: StateSet, action: Action) -> StateSet:
        """From where an action leads into some states."""
        return self.moved_back(states, self.move(action))

    def moved_back(self, states: StateSet, move: Move) -> StateSet:
        """As `preimage`, of a move."""
        if not move.written:
            return states & move.guard
        return self._diagrams.let(move.written, states) & move.guard

    def reached(self, start: StateSet, actions: Iterable[Action]) -> StateSet:
        """Every state that actions lead to, one after another, from some states."""
        # From many states at once rounds are quicker than the order of `reaching`.
        *_, reached = self._in_rounds(start, self.moves(actions))
        return reached

    def _in_rounds(self, start: StateSet, moves: list[Move]) -> Iterator[StateSet]:
        """As `reaching`, every move asked in every round."""
        reached, before = start, self.empty
        while reached != before:
            yield reached
            before = reached
            for move in moves:
                reached = reached | self.moved(reached, move)

    def reaching(self, start: StateSet, actions: Iterable[Action]) -> Iterator[StateSet]:
        """Ever larger sets of states that actions lead to; the last is all of them.

        Each action goes on from what the actions before it have reached, not from whole layers,
        which does not say after how many actions a state is reached. Those that touch only the low
        end of the diagrams come first and are brought to their end before any above is asked, for
        they are quick and leave diagrams small. One that led to nothing new is asked again only
        when another has led to something from where it might: `Move.wakes`.

        Source: Ciardo, Luettgen, Siminiceanu 2001, Proc. TACAS, LNCS 2031, "Saturation" (idea of
        the order, from memory).
        """
        moves = sorted(self.moves(actions), key=self._height)
        woken = [move.wakes(moves) for move in moves]
        if sum(map(len, woken)) > DENSE * len(moves) ** 2:
            # Where each move wakes most others, as in a puzzle with one hole, nothing is spared.
            yield from self._in_rounds(start, moves)
            return
        waiting, asleep = list(range(len(moves))), [False] * len(moves)
        reached, asked = start, 0
        while waiting:
            if asked % LOOK_EVERY == 0:
                yield reached
            number, asked = heappop(waiting), asked + 1
            wider, asleep[number] = reached | self.moved(reached, moves[number]), True
            if wider == reached:
                continue
            reached = wider
            for other in woken[number]:
                if asleep[other]:
                    asleep[other] = False
                    heappush(waiting, other)
        yield reached

    def _height(self, move: Move) -> int:
        # Twice the middle of the levels that a move touches, the lowest levels first.
        touched = move.reads | move.writes
        levels = [level for v, level in self._levels.items() if touched >> v & 1]
        return -min(levels) - max(levels) if levels else 0

    # What is in a set

    def count(self, states: StateSet) -> int:
        """How many states a set has, exactly."""
        bits = len(self._all_bits)
        if bits <= EXACT_BITS:
            return int(self._diagrams.count(states, nvars=bits))
        return counted_exactly(states, bits)

    def has(self, states: StateSet, state: State) -> bool:
        """Whether a state is in a set."""
        return bool(states & self.one(state) != self.empty)

    def pick(self, states: StateSet) -> State:
        """Some state of a set, always the same one.

        Raises:
            ValueError: when the set is empty.
        """
        if states == self.empty:
            raise ValueError("no state can be picked from an empty set")
        return next(self.states(states))

    def states(self, states: StateSet) -> Iterator[State]:
        """Every state of a set."""
        for values in self._diagrams.pick_iter(states, care_vars=self._all_bits):
            yield tuple(
                sum(values[bit] << place for place, bit in enumerate(bits)) for bits in self._bits
            )

    def nodes(self) -> int:
        """How many nodes all diagrams have together."""
        return len(self._diagrams)


def new_diagrams(library: ModuleType) -> Room:
    """Room for diagrams, in which variables stay in the order in which they are declared."""
    if library.__name__.endswith(COMPILED_LIBRARY):
        diagrams = library.BDD(initial_cache_size=FIRST_CACHE)
    else:
        diagrams = library.BDD()
    diagrams.configure(reordering=False)
    return diagrams


def led_to(diagrams: Diagrams, states: StateSet, moves: Iterable[Move]) -> StateSet:
    """Where any of some moves leads from some states."""
    return reduce(or_, (diagrams.moved(states, move) for move in moves), diagrams.empty)


def led_into(diagrams: Diagrams, states: StateSet, moves: Iterable[Move]) -> StateSet:
    """From where any of some moves leads into some states."""
    return reduce(or_, (diagrams.moved_back(states, move) for move in moves), diagrams.empty)


def in_bits(numbers: Iterable[int]) -> int:
    """A bit for each of some numbers."""
    return sum({1 << number for number in numbers})


def bits_of(number: int, values: int) -> list[str]:
    """Names of a variable's bits, as many as its values need."""
    return [f"{number}.{place}" for place in range((values - 1).bit_length())]


def counted_exactly(states: StateSet, bits: int) -> int:
    """States of a set by whole numbers, for more bits than floating point holds.

    Each node is asked what share of all states below it is in the set, in units of 2^-bits.
    """
    shares: dict[int, int] = {}

    def share(node: StateSet) -> int:
        """Of the node taken without its sign."""
        if node.var is None:
            return 1 << bits
        key = int(node)
        if key not in shares:
            shares[key] = (signed(node.low) + signed(node.high)) >> 1
        return shares[key]

    def signed(edge: StateSet) -> int:
        return (1 << bits) - share(~edge) if edge.negated else share(edge)

    return signed(states)
