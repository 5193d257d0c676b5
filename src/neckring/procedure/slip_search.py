"""All single deviations of a procedure and all pairs, by the compiled walk.

What it all means is written in `neckring.procedure.slips`; `neckring.procedure.slip_oracle` tells
the same of one sequence, and more.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy import float64, int64, uint64

from neckring.procedure.condition_tests import Tests
from neckring.procedure.model import Condition
from neckring.procedure.packing import changes_in_words, layout
from neckring.procedure.slip_endings import OUTCOMES, Found, Numbers, Pairs, ending_of
from neckring.procedure.slip_items import done, items_of, numbers, touched_rules
from neckring.procedure.slip_kernel import (
    ACCEPT,
    EARLY,
    INSTEAD,
    LATE,
    OMIT,
    OTHER_STEP,
    REPEAT,
    VOID,
    pair_up,
    unfold,
)
from neckring.procedure.slip_walk import Floats, Walked
from neckring.procedure.slips import (
    Deviation,
    Outcome,
    SlipKind,
    early_targets,
    failures,
    late_targets,
    slips,
)
from neckring.procedure.steps import Procedure

FIRST_ROOM = 1 << 13
PAIRS_ROOM = 1 << 17
# What is late or early is kept in 16 bits each.
MOST_STEPS = 60_000


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
        begins, touched = touched_rules(procedure, items, rules)
        self._slip_begin = _begins(self.slips, len(procedure.steps))
        self._timed = len(procedure.timed)
        self._arguments: tuple[Any, ...] = (
            np.array(place.packed(procedure.model.start), uint64),
            numbers(item.kind for item in items),
            numbers(
                ACCEPT if item.kind == OTHER_STEP else tests.entry(item.guard) for item in items
            ),
            numbers(item.step for item in items),
            np.array([item.high for item in items], float64),
            np.array([changes_in_words(place, done(item)) for item in items], uint64).reshape(
                len(items), 4
            ),
            begins,
            touched,
            *self._tested(tests, rules),
            self._slip_begin,
            *self._slip_columns(own),
            numbers(range(len(items) - len(procedure.failures), len(items))),
        )

    def _tested(self, tests: Tests, rules: list[Condition]) -> tuple[Numbers | Floats, ...]:
        rule_entry = numbers(tests.entry(bad) for bad in rules)
        timed_entry = numbers(tests.entry(rule.bad) for rule in self.procedure.timed)
        longest = np.array([rule.longest for rule in self.procedure.timed], float64)
        rows = np.array(tests.rows, int64).reshape(len(tests.rows), 6)
        return rows, numbers(tests.allowed), rule_entry, timed_entry, longest

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
        return numbers(kinds), numbers(arguments)

    def singles(self) -> tuple[Found, ...]:
        """Every slip alone, then every failure alone; what is void is left out.

        Raises:
            NotRunningError: when the procedure as written does not run.
        """
        walked = self._walked(with_slips=False, with_failures=False)
        codes = walked.single_codes(self._slip_begin).tolist()
        both = zip(self.slips + self.failures, codes, strict=True)
        return tuple(Found(deviation, *ending_of(code)) for deviation, code in both if code != VOID)

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

    def _walked(self, with_slips: bool, with_failures: bool) -> Walked:
        room = PAIRS_ROOM if with_slips or with_failures else FIRST_ROOM
        while True:
            walked = Walked.with_room(room, self.procedure, self.most_slips)
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


def _begins(some: Sequence[Deviation], length: int) -> Numbers:
    positions = [deviation.position for deviation in some]
    return np.searchsorted(positions, np.arange(length + 1)).astype(int64)


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
