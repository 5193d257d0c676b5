"""All single deviations of a procedure and all pairs, by the compiled walk.

What it all means is written in `neckring.procedure.slips`; `neckring.procedure.slip_oracle` tells
the same of one sequence, and more.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy import float64, int64, uint64
from numpy.typing import NDArray

from neckring.procedure.model import (
    All,
    Among,
    AnyOf,
    Condition,
    Not,
    holds,
    variables_of,
)
from neckring.procedure.packing import Layout, changes_in_words, layout
from neckring.procedure.slip_kernel import (
    ACCEPT,
    BLOCKED,
    CAUGHT,
    CHECK,
    EARLY,
    FAILURE,
    HARM,
    HARMLESS,
    INSTEAD,
    LATE,
    LATENT,
    MOVE,
    OMIT,
    OTHER_STEP,
    OUTCOME_BITS,
    REJECT,
    REPEAT,
    RULE_SHIFT,
    STEP_BITS,
    STEP_SHIFT,
    VOID,
    endings,
    pair_up,
    unfold,
)
from neckring.procedure.slips import (
    Deviation,
    Outcome,
    SlipKind,
    early_targets,
    failures,
    late_targets,
    slips,
)
from neckring.procedure.steps import Procedure, Step, StepKind

Numbers = NDArray[int64]
Floats = NDArray[float64]

OUTCOMES = {
    HARMLESS: Outcome.HARMLESS,
    CAUGHT: Outcome.CAUGHT,
    BLOCKED: Outcome.BLOCKED,
    LATENT: Outcome.LATENT,
    HARM: Outcome.HARM,
}
FIRST_ROOM = 1 << 13
PAIRS_ROOM = 1 << 17
# What is late or early is kept in 16 bits each.
MOST_STEPS = 60_000


class NotRunningError(ValueError):
    """The procedure as written does not run to its end.

    Attributes:
        outcome: Caught, blocked or harm.
        step: Position of the step at which it ends so.
        rule: Number of the rule that breaks.
    """

    def __init__(self, outcome: Outcome, step: int | None, rule: int | None) -> None:
        self.outcome, self.step, self.rule = outcome, step, rule
        super().__init__(f"the procedure as written does not run: {outcome}")


@dataclass(frozen=True)
class Found:
    """One deviation alone and how it ends.

    Attributes:
        deviation: A slip or a failure.
        outcome: Harmless, caught, blocked, latent or harm.
        step: Position of the step at which it ends so; None at the end of the procedure.
        rule: Number of the rule that breaks: first the model's rules, then the timed ones.
    """

    deviation: Deviation
    outcome: Outcome
    step: int | None
    rule: int | None


@dataclass(frozen=True)
class Pairs:
    """All pairs of deviations.

    Attributes:
        deviations: What the numbers below stand for.
        outcomes: Pairs in which both happened, by outcome.
        settled_by_first: Pairs that were over before the second could happen, by outcome.
        void: Pairs that cannot happen so, and are not counted.
        shares: Counted pairs that a deviation is part of, shape (deviations, outcomes in the order
            of `Outcome`).
        harmful_numbers: Harmful pairs in which both happened, shape (pairs, 2).
    """

    deviations: tuple[Deviation, ...]
    outcomes: dict[Outcome, int]
    settled_by_first: dict[Outcome, int]
    void: int
    shares: Numbers
    harmful_numbers: Numbers

    @cached_property
    def harmful(self) -> tuple[tuple[Deviation, Deviation], ...]:
        """Harmful pairs in which both happened."""
        pairs = self.harmful_numbers.tolist()
        return tuple((self.deviations[one], self.deviations[other]) for one, other in pairs)


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


class SlipSearch:
    """A procedure made ready for the compiled walk.

    Args:
        procedure: Whose slips are asked for.

    Raises:
        TooWideError: when a state does not fit into two words.
        ValueError: when there are more than MOST_STEPS steps.
    """

    def __init__(self, procedure: Procedure) -> None:
        if len(procedure.steps) > MOST_STEPS:
            raise ValueError(f"a procedure has at most {MOST_STEPS} steps")
        self.procedure = procedure
        self.slips = slips(procedure)
        self.failures = failures(procedure)
        items, own = items_of(procedure)
        place = layout(procedure.model, (pair for item in items for pair in item.effects))
        tests = Tests(place)
        rules = [rule.bad for rule in procedure.model.rules]
        begins, touched = _touched(procedure, items, rules)
        self._slip_begin = _begins(self.slips, len(procedure.steps))
        self._timed = len(procedure.timed)
        self._arguments: tuple[Any, ...] = (
            np.array(place.packed(procedure.model.start), uint64),
            _numbers(item.kind for item in items),
            _numbers(
                ACCEPT if item.kind == OTHER_STEP else tests.entry(item.guard) for item in items
            ),
            _numbers(item.step for item in items),
            np.array([item.high for item in items], float64),
            np.array([changes_in_words(place, _done(item)) for item in items], uint64).reshape(
                len(items), 4
            ),
            begins,
            touched,
            *self._tested(tests, rules),
            self._slip_begin,
            *self._slip_columns(own),
            _numbers(range(len(items) - len(procedure.failures), len(items))),
        )

    def _tested(self, tests: Tests, rules: list[Condition]) -> tuple[Numbers | Floats, ...]:
        rule_entry = _numbers(tests.entry(bad) for bad in rules)
        timed_entry = _numbers(tests.entry(rule.bad) for rule in self.procedure.timed)
        longest = np.array([rule.longest for rule in self.procedure.timed], float64)
        rows = np.array(tests.rows, int64).reshape(len(tests.rows), 6)
        return rows, _numbers(tests.allowed), rule_entry, timed_entry, longest

    def _slip_columns(self, own: dict[Deviation, int]) -> tuple[Numbers, Numbers]:
        late, early = late_targets(self.procedure), early_targets(self.procedure)
        kinds, arguments = [], []
        for slip in self.slips:
            match slip.kind:
                case SlipKind.LATE:
                    pair = LATE, late[slip.position][slip.argument]
                case SlipKind.EARLY:
                    pair = EARLY, early[slip.position][slip.argument]
                case SlipKind.OMIT:
                    pair = OMIT, 0
                case SlipKind.REPEAT:
                    pair = REPEAT, 0
                case _:
                    pair = INSTEAD, own[slip]
            kinds.append(pair[0])
            arguments.append(pair[1])
        return _numbers(kinds), _numbers(arguments)

    def singles(self) -> tuple[Found, ...]:
        """Every slip alone, then every failure alone; what is void is left out.

        Raises:
            NotRunningError: when the procedure as written does not run.
        """
        walked = self._walked(with_slips=False, with_failures=False)
        codes = walked.single_codes(self._slip_begin).tolist()
        both = zip(self.slips + self.failures, codes, strict=True)
        return tuple(Found(deviation, *_ending(code)) for deviation, code in both if code != VOID)

    def single_codes(self) -> Numbers:
        """The same as bare codes of endings, shape (slips and failures,)."""
        walked = self._walked(with_slips=False, with_failures=False)
        return walked.single_codes(self._slip_begin)

    def pairs(self) -> Pairs:
        """Every two slips at different positions.

        Raises:
            NotRunningError: when the procedure as written does not run.
        """
        return self._paired(two_slips=True)

    def pairs_with_failure(self) -> Pairs:
        """Every slip together with every failure, before it, after it or just before its step.

        Raises:
            NotRunningError: when the procedure as written does not run.
        """
        return self._paired(two_slips=False)

    def _paired(self, two_slips: bool) -> Pairs:
        walked = self._walked(with_slips=two_slips, with_failures=not two_slips)
        deviations = self.slips if two_slips else self.slips + self.failures
        counts, alone = np.zeros(7, int64), np.zeros(7, int64)
        shares = np.zeros((len(deviations), 7), int64)
        harmful = np.zeros((1 << 16, 2), int64)
        while True:
            counts[:], alone[:], shares[:] = 0, 0, 0
            harms = pair_up(
                self._slip_begin,
                len(self.procedure.failures),
                two_slips,
                walked.nominal,
                walked.following,
                walked.ended,
                walked.slip_runs,
                walked.failure_runs,
                walked.both_runs,
                counts,
                alone,
                shares,
                harmful,
            )
            if harms <= len(harmful):
                break
            harmful = np.zeros((harms, 2), int64)
        order = {outcome: number for number, outcome in OUTCOMES.items()}
        return Pairs(
            deviations,
            {outcome: int(counts[order[outcome]]) for outcome in Outcome},
            {outcome: int(alone[order[outcome]]) for outcome in Outcome},
            int(counts[VOID] + alone[VOID]),
            shares[:, [order[outcome] for outcome in Outcome]],
            harmful[:harms].copy(),
        )

    def _walked(self, with_slips: bool, with_failures: bool) -> _Walked:
        room = PAIRS_ROOM if with_slips or with_failures else FIRST_ROOM
        while True:
            walked = _Walked.with_room(room, self, with_slips, with_failures)
            arguments = (*self._arguments, with_slips, with_failures, *walked.filled())
            count = unfold(*arguments)
            if count >= 0:
                break
            room *= 4
        return walked.after(count)

    @property
    def most_slips(self) -> int:
        """Most slips at one position."""
        return int(np.diff(self._slip_begin).max(initial=0))


@dataclass
class _Walked:
    """Arrays that the kernel fills; named as in `neckring.procedure.slip_kernel.unfold`."""

    words: NDArray[uint64]
    clocks: Floats
    table: Numbers
    following: Numbers
    slip_runs: Numbers
    failure_runs: Numbers
    both_runs: Numbers
    ends: Numbers
    ended: Numbers
    nominal: Numbers

    @classmethod
    def with_room(
        cls, room: int, search: SlipSearch, with_slips: bool, with_failures: bool
    ) -> _Walked:
        """Room for so many situations."""
        length, failing = len(search.procedure.steps), len(search.procedure.failures)
        none = np.empty(0, int64)
        return cls(
            words=np.empty((room, 4), uint64),
            clocks=np.empty((room, len(search.procedure.timed)), float64),
            table=np.full(2 * room, -1, int64),
            following=np.empty(room, int64),
            slip_runs=np.empty((room, search.most_slips), int64),
            failure_runs=np.empty((room, failing), int64),
            both_runs=np.empty((length, failing, search.most_slips), int64),
            ends=np.zeros(length + 1, int64),
            ended=none,
            nominal=none,
        )

    def filled(self) -> tuple[Any, ...]:
        """What `unfold` fills, in its order."""
        return (
            self.words,
            self.clocks,
            self.table,
            self.following,
            self.slip_runs,
            self.failure_runs,
            self.both_runs,
            self.ends,
        )

    def after(self, count: int) -> _Walked:
        """With the endings of all situations.

        Raises:
            NotRunningError: when the procedure as written does not run.
        """
        self.nominal = np.concatenate([[0], self.ends[:-1]])
        ended = self.following[:count].copy()
        # Beyond where the walk as written stops there is nothing; the first stop is what counts.
        goes_on = ended[np.minimum(self.nominal[:-1], count - 1)]
        if (goes_on < 0).any():
            raise NotRunningError(*_ending(-int(goes_on[goes_on < 0][0])))
        endings(ended, count)
        self.ended = ended
        return self

    def single_codes(self, slip_begin: Numbers) -> Numbers:
        """Codes of the endings of every single slip, then of every single failure."""
        nodes = self.nominal[:-1]
        slips = np.arange(self.slip_runs.shape[1]) < np.diff(slip_begin)[:, None]
        runs = np.concatenate([self.slip_runs[nodes][slips], self.failure_runs[nodes].ravel()])
        codes: Numbers = np.where(runs < 0, -runs, -self.ended[np.maximum(runs, 0)])
        return codes


def _ending(code: int) -> tuple[Outcome, int | None, int | None]:
    step, rule = (code >> STEP_SHIFT) & STEP_BITS, code >> RULE_SHIFT
    return OUTCOMES[code & OUTCOME_BITS], step - 1 if step else None, rule - 1 if rule else None


def _numbers(some: Iterable[int]) -> Numbers:
    return np.array(list(some), int64)


def _done(item: Item) -> tuple[tuple[int, int], ...]:
    # A check changes nothing, whatever is written.
    return item.effects if item.kind in (MOVE, FAILURE) else ()


def _begins(some: Sequence[Deviation], length: int) -> Numbers:
    positions = [deviation.position for deviation in some]
    return np.searchsorted(positions, np.arange(length + 1)).astype(int64)


def _touched(
    procedure: Procedure, items: list[Item], rules: list[Condition]
) -> tuple[Numbers, Numbers]:
    # Only a rule that speaks of something changed can begin to be broken. If one is broken at the
    # start already, the first move must find it, whatever it changes.
    everything = any(holds(bad, procedure.model.start) for bad in rules)
    spoken = [variables_of(bad) for bad in rules]
    lists = []
    for item in items:
        changed = {variable for variable, _ in _done(item)}
        asked = item.kind in (MOVE, FAILURE)
        lists.append(
            [n for n, some in enumerate(spoken) if asked and (everything or some & changed)]
        )
    begins = np.cumsum([0, *map(len, lists)]).astype(int64)
    return begins, _numbers(number for some in lists for number in some)


def all_singles(procedure: Procedure) -> tuple[Found, ...]:
    """Every slip alone, then every failure alone; what is void is left out.

    Raises:
        NotRunningError: when the procedure as written does not run.
    """
    return SlipSearch(procedure).singles()


def all_pairs(procedure: Procedure) -> Pairs:
    """Every two slips at different positions.

    Raises:
        NotRunningError: when the procedure as written does not run.
    """
    return SlipSearch(procedure).pairs()
