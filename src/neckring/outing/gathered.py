"""What chunks of members found, put together: in the same way whatever the chunks were.

The first thousands are kept as they are, for percentiles; of all the others only counts are kept,
so that memory does not grow with members.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from neckring.outing.branches import Clocks
from neckring.outing.instants import unbroken
from neckring.outing.trunk import MINUTE, Instant

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Members whose clocks are kept for percentiles.
KEPT_MEMBERS = 4096
# Minutes of the longest run that is counted.
LONGEST = 7 * 24 * 60


@dataclass(frozen=True)
class Chunk:
    """What one chunk of members found.

    Attributes:
        first: Number of its first member.
        clocks: By the failure's code.
        reached: When each limit of the sheet was crossed with nothing failing [s], infinite when
            never, shape (limits, members).
    """

    first: int
    clocks: dict[str, Clocks]
    reached: FloatArray


@dataclass
class Gathered:
    """All chunks so far.

    Attributes:
        reserves: Of the air and of everything else [s], shape (2,).
        beyond: Slack beyond the reserve that counts as endless between two instants [s].
        members: How many.
        clocks: By failure and instant, the first KEPT_MEMBERS of those computed there.
        lost: How many members first lose their reserve in each minute, shape (LONGEST,).
        reached: Of the first KEPT_MEMBERS, (limits, members).
        crossings: How many members cross each limit with nothing failing, shape (limits,).
    """

    reserves: FloatArray
    beyond: float
    members: int = 0
    clocks: dict[str, dict[Instant, Clocks]] = field(default_factory=dict)
    lost: IntArray = field(default_factory=lambda: np.zeros(LONGEST, dtype=np.int64))
    reached: FloatArray | None = None
    crossings: IntArray | None = None

    def add(self, chunks: Iterable[Chunk]) -> None:
        """Put chunks to what is there; they come in the order of their members."""
        for chunk in chunks:
            count = chunk.reached.shape[1]
            self._count(chunk, count)
            if self.members < KEPT_MEMBERS:
                self._keep(first_of(chunk, KEPT_MEMBERS - self.members))
            self.members += count

    def insert(self, chunks: Iterable[Chunk]) -> None:
        """Put further instants of the members that are there, all computed at the same ones."""
        more = Gathered(self.reserves, self.beyond)
        more.add(chunks)
        for code, times in more.clocks.items():
            self.clocks[code] |= times
        self.recount()

    def recount(self) -> None:
        """Count anew when members lose their reserve, over all instants that are there."""
        whole = {code: beside(in_order(times)) for code, times in self.clocks.items()}
        self.lost[:] = 0
        self._count_losses(whole, self.members)

    def _count_losses(self, clocks: Mapping[str, Clocks], members: int) -> None:
        lost = first_loss(clocks, self.reserves, self.beyond, members)
        minutes = np.floor(lost[np.isfinite(lost)] / MINUTE).astype(np.int64)
        np.add.at(self.lost, np.minimum(minutes, LONGEST - 1), 1)

    def _count(self, chunk: Chunk, count: int) -> None:
        self._count_losses(chunk.clocks, count)
        crossed = np.isfinite(chunk.reached).sum(axis=1)
        self.crossings = crossed if self.crossings is None else self.crossings + crossed

    def _keep(self, chunk: Chunk) -> None:
        known = [chunk.reached] if self.reached is None else [self.reached, chunk.reached]
        self.reached = np.concatenate(known, axis=1)
        for code, clocks in chunk.clocks.items():
            here = self.clocks.setdefault(code, {})
            for place, instant in enumerate(clocks.instants):
                one = clocks.part(slice(place, place + 1))
                here[instant] = joined(here[instant], one) if instant in here else one

    def near(self, near: FloatArray) -> dict[str, frozenset[float]]:
        """Times at which some member comes within so much of its reserve.

        Args:
            near: Of the air and of everything else [s], shape (2,).
        """
        found = {}
        for code, times in self.clocks.items():
            close = [
                instant.time
                for instant, clocks in times.items()
                if (clocks.margin(self.reserves).min(axis=(1, 2)) < near).any()
            ]
            if close:
                found[code] = frozenset(close)
        return found

    def kept_until(self, time: float) -> float:
        """Share of members that have kept every reserve up to and including a time [s]."""
        minutes = int(min(time, LONGEST * MINUTE) // MINUTE) + 1
        lost = int(self.lost[:minutes].sum())
        return 1.0 - lost / self.members


def first_of(chunk: Chunk, count: int) -> Chunk:
    """So many of a chunk's first members."""
    clocks = {code: found.part(members=slice(count)) for code, found in chunk.clocks.items()}
    return Chunk(chunk.first, clocks, chunk.reached[:, :count])


def beside(clocks: list[Clocks]) -> Clocks:
    """The clocks of the same members at several instants."""
    return Clocks(
        tuple(at.instants[0] for at in clocks),
        np.concatenate([at.runs for at in clocks]),
        *_concatenated(clocks, axis=1),
    )


def joined(before: Clocks, after: Clocks) -> Clocks:
    """The clocks of more members at the same instants."""
    return Clocks(before.instants, before.runs, *_concatenated([before, after], axis=2))


def _concatenated(clocks: list[Clocks], axis: int) -> tuple[FloatArray, FloatArray, IntArray]:
    """Harm, help and limit of several."""
    return (
        np.concatenate([at.harm for at in clocks], axis),
        np.concatenate([at.help for at in clocks], axis),
        np.concatenate([at.limit for at in clocks], axis),
    )


def first_loss(
    clocks: Mapping[str, Clocks], reserves: FloatArray, beyond: float, members: int
) -> FloatArray:
    """When each member first has less slack than its reserve for any failure [s], (members,).

    Between two instants the slack runs straight; infinite where the reserve is always kept.
    """
    lost = np.full(members, np.inf)
    for found in clocks.values():
        times = np.array([instant.time for instant in found.instants])
        margin = np.minimum(found.margin(reserves).min(axis=0), beyond)
        for run in unbroken(found.runs):
            lost = np.minimum(lost, _first_below(times[run], margin[run]))
    return lost


def _first_below(times: FloatArray, margin: FloatArray) -> FloatArray:
    """When each column of (instants, members) first falls below nought, by straight lines."""
    below = margin < 0.0
    place = below.argmax(axis=0)
    column = np.arange(margin.shape[1])
    after, before = margin[place, column], margin[np.maximum(place - 1, 0), column]
    way = np.where(place > 0, before / np.maximum(before - after, 1e-300), 0.0)
    begun = times[np.maximum(place - 1, 0)]
    return np.where(below.any(axis=0), begun + way * (times[place] - begun), np.inf)


def in_order(times: Mapping[Instant, Clocks]) -> list[Clocks]:
    """The clocks at each instant, in the order of time."""
    return [times[instant] for instant in sorted(times, key=lambda i: i.time)]
