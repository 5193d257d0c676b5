"""The arrays that the compiled walk through slips fills."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy import float64, int64, uint64
from numpy.typing import NDArray

from neckring.procedure.slip_endings import NotRunningError, Numbers, ending_of
from neckring.procedure.slip_kernel import endings
from neckring.procedure.steps import Procedure

Floats = NDArray[float64]


@dataclass
class Walked:
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
    def with_room(cls, room: int, procedure: Procedure, most_slips: int) -> Walked:
        """Room for so many situations, and so many slips at one position."""
        length, failing = len(procedure.steps), len(procedure.failures)
        none = np.empty(0, int64)
        return cls(
            words=np.empty((room, 4), uint64),
            clocks=np.empty((room, len(procedure.timed)), float64),
            table=np.full(2 * room, -1, int64),
            following=np.empty(room, int64),
            slip_runs=np.empty((room, most_slips), int64),
            failure_runs=np.empty((room, failing), int64),
            both_runs=np.empty((length, failing, most_slips), int64),
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

    def after(self, count: int) -> Walked:
        """With the endings of all situations.

        Raises:
            NotRunningError: when the procedure as written does not run.
        """
        self.nominal = np.concatenate([[0], self.ends[:-1]])
        ended = self.following[:count].copy()
        # Beyond where the walk as written stops there is nothing; the first stop is what counts.
        goes_on = ended[np.minimum(self.nominal[:-1], count - 1)]
        if (goes_on < 0).any():
            raise NotRunningError(*ending_of(-int(goes_on[goes_on < 0][0])))
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
