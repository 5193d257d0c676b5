"""A finished run as its log book and its sensors have it: what was done when, and what was read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from neckring.live.doing import Doing
from neckring.live.entries import Entry, Kind

FloatArray = NDArray[np.float64]

ROUND = 60.0
"""One value of each channel is used a round [s]."""

SETTLES = 60.0
"""So long after a spell was begun nothing is compared [s]: a tap tells no second, and the water
that comes through first is that of before; assumed."""

LOOKED_BACK = 20.0
"""A round's value is the median of the good readings in so many seconds before it [s]; assumed."""

SPOILS = {
    Kind.CARD_OPENED: "an emergency card was opened",
    Kind.FAULT_BEGUN: "a trainer broke something",
}
"""From such an entry on the kit or the wearer was not as usual, and nothing is learned."""


@dataclass(frozen=True, eq=False)
class Series:
    """What one channel said, round by round.

    Attributes:
        quantity: What it measures.
        channel: Its name in the suit's file.
        accuracy: One standard deviation of all its error [SI].
        times: Run times [s], rising, shape (rounds,).
        values: [SI], same shape.
        readings: How many good readings these values stand on.
    """

    quantity: str
    channel: str
    accuracy: float
    times: FloatArray
    values: FloatArray
    readings: int


@dataclass(frozen=True, eq=False)
class Logged:
    """One wearer's part of a finished run.

    Attributes:
        name: Of the kept folder, for messages.
        run: Code of the run.
        letter: A or B.
        wearer: Code.
        suit: Code.
        doings: Spells as begun, and the turn back.
        until: Run time up to which it is learned from [s].
        why_until: Why not to the end; empty when to the end.
        series: One for each quantity.
        left_out: Channel to why nothing is learned from it.
    """

    name: str
    run: str
    letter: str
    wearer: str
    suit: str
    doings: tuple[Doing, ...]
    until: float
    why_until: str = ""
    series: tuple[Series, ...] = ()
    left_out: Mapping[str, str] = field(default_factory=dict)

    @property
    def readings(self) -> int:
        """Good readings of all channels."""
        return sum(each.readings for each in self.series)

    def at(self, time: float) -> Doing:
        """What is being done just after a run time [s]."""
        begun = [one for one in self.doings if when(one) <= time + 1e-9]
        return begun[-1] if begun else self.doings[0]


def when(doing: Doing) -> float:
    """Run time from which it counts [s]."""
    return doing.begun if doing.turned is None else doing.turned


def learned_until(entries: Sequence[Entry], letter: str) -> tuple[float, str]:
    """Run time up to which a wearer's readings tell of kit as usual [s], and why no longer.

    Args:
        entries: Of the log book, in order.
        letter: A or B.
    """
    for entry in entries:
        deed, now = entry.deed, entry.stamp.run_time
        if deed.body.get("wearer", letter) != letter:
            continue
        if deed.kind in SPOILS:
            return now, f"{SPOILS[deed.kind]} after {now / 60.0:.0f} min"
        if deed.kind is Kind.RELEASED:
            return now, ""
    return max((entry.stamp.run_time for entry in entries), default=0.0), ""


def round_times(doings: Sequence[Doing], until: float) -> FloatArray:
    """Run times of the rounds, from the first spell on [s], none soon after a spell was begun."""
    first = doings[0].begun
    count = int(max(0.0, until - first) // ROUND)
    every = first + ROUND * np.arange(1, count + 1)
    changes = np.array([when(one) for one in doings])
    since = every[:, None] - changes
    kept = ~((since >= 0.0) & (since < SETTLES)).any(axis=1)
    return np.asarray(every[kept], dtype=np.float64)


def by_round(times: FloatArray, values: FloatArray, rounds: FloatArray) -> tuple[FloatArray, int]:
    """The median of what was read shortly before each round; not a number where nothing was.

    Args:
        times: Of the readings [s], rising.
        values: [SI]
        rounds: Run times [s].

    Returns:
        Shape of `rounds`, and how many readings went into it.
    """
    begins = np.searchsorted(times, rounds - LOOKED_BACK, side="right")
    ends = np.searchsorted(times, rounds, side="right")
    found = [
        float(np.median(values[begin:end])) if end > begin else np.nan
        for begin, end in zip(begins, ends, strict=True)
    ]
    return np.asarray(found, dtype=np.float64), int((ends - begins).sum())


def series_of(
    quantity: str,
    channel: str,
    accuracy: float,
    times: Iterable[float],
    values: Iterable[float],
    rounds: FloatArray,
) -> Series | None:
    """One channel's values round by round; None when there is none.

    Args:
        quantity: What it measures.
        channel: Its name.
        accuracy: [SI]
        times: Of good readings [s].
        values: [SI]
        rounds: Run times [s].
    """
    at, said = np.fromiter(times, dtype=np.float64), np.fromiter(values, dtype=np.float64)
    order = np.argsort(at, kind="stable")
    found, count = by_round(at[order], said[order], rounds)
    there = np.isfinite(found)
    if not there.any():
        return None
    return Series(quantity, channel, accuracy, rounds[there], found[there], count)
