"""At which instants members are spent: where the curve of slack bends.

The run as written is known at every minute and shows most bends. Where its tails come near the
reserve the curve of drawn members is halved again and again, until a straight line serves.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from neckring.outing.branches import Clocks
from neckring.outing.trunk import MINUTE

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# How far a straight line between two instants may miss the slack [s], of the air and of the rest.
TOLERANCE = np.array([4.0, 30.0])
# Two instants of a failure are never further apart [s].
LONGEST_GAP = 600.0


def first_choice(written: Clocks, reserves: FloatArray, beyond: float) -> frozenset[float]:
    """Times of the instants that the run as written asks for [s].

    Args:
        written: Clocks at every minute, one member.
        reserves: Of the air and of everything else [s], shape (2,).
        beyond: Slack beyond the reserve that counts as no bend any more [s].
    """
    margin = np.minimum(written.margin(reserves)[:, :, 0], beyond)
    curves = (margin / TOLERANCE[:, None]).T
    times = np.array([instant.time for instant in written.instants])
    chosen: set[int] = set()
    for run in unbroken(written.runs):
        _split(times, curves, int(run[0]), int(run[-1]), chosen)
    return frozenset(float(times[place]) for place in chosen)


def unbroken(runs: IntArray) -> list[IntArray]:
    """Places of instants gathered by the run they lie in."""
    return [np.flatnonzero(runs == number) for number in np.unique(runs)]


def _split(times: FloatArray, curves: FloatArray, first: int, last: int, chosen: set[int]) -> None:
    """Keep both ends, and split where the curves leave the straight line between them."""
    chosen |= {first, last}
    if last - first < 2:
        return
    inside = slice(first + 1, last)
    share = (times[inside] - times[first]) / (times[last] - times[first])
    line = curves[first] + share[:, None] * (curves[last] - curves[first])
    missed = np.abs(curves[inside] - line).max(axis=1)
    middle = first + 1 + int(missed.argmax())
    if missed.max() <= 1.0:
        if times[last] - times[first] <= LONGEST_GAP:
            return
        middle = (first + last) // 2
    _split(times, curves, first, middle, chosen)
    _split(times, curves, middle, last, chosen)


class Refinement:
    """Halves the gaps between instants in which the tail of the slack matters and bends."""

    def __init__(self, reserves: FloatArray, beyond: float, share: float) -> None:
        self._reserves = reserves
        self._beyond = beyond
        self._shares = (share, 0.05, 0.5)
        self._straight: set[tuple[str, float, float]] = set()
        self._asked: dict[tuple[str, float], tuple[float, float]] = {}

    def asks_for(self, code: str, clocks: list[Clocks]) -> frozenset[float]:
        """Times in the middle of gaps that are not yet known to be straight [s].

        Args:
            code: Of the failure.
            clocks: At each instant so far, in the order of time.
        """
        times = [at.instants[0].time for at in clocks]
        tails = [self._tail(at) for at in clocks]
        known = dict(zip(times, tails, strict=True))
        self._judge(code, known)
        wanted = set()
        for place in range(len(times) - 1):
            begin, end = times[place], times[place + 1]
            same = clocks[place].runs[0] == clocks[place + 1].runs[0]
            if same and self._open(code, begin, end, tails[place], tails[place + 1]):
                middle = MINUTE * math.floor((begin + end) / 2.0 / MINUTE)
                self._asked[code, middle] = (begin, end)
                wanted.add(middle)
        return frozenset(wanted)

    def _tail(self, at: Clocks) -> FloatArray:
        margin = np.minimum(at.margin(self._reserves)[:, 0], self._beyond)
        tails = np.quantile(margin, self._shares, axis=-1, method="inverted_cdf")
        return np.asarray(tails / TOLERANCE)

    def _open(
        self, code: str, begin: float, end: float, first: FloatArray, last: FloatArray
    ) -> bool:
        if end - begin < 1.5 * MINUTE or (code, begin, end) in self._straight:
            return False
        endless = self._beyond / TOLERANCE
        return bool((np.minimum(first, last) < endless).any())

    def _judge(self, code: str, known: dict[float, FloatArray]) -> None:
        """Mark both halves of a gap as straight when its middle lay on the line."""
        for (of, middle), (begin, end) in list(self._asked.items()):
            if of != code or middle not in known:
                continue
            share = (middle - begin) / (end - begin)
            line = known[begin] + share * (known[end] - known[begin])
            if np.abs(known[middle] - line).max() <= 1.0:
                self._straight |= {(code, begin, middle), (code, middle, end)}
            del self._asked[of, middle]
