"""What is wrong with a reading: each flaw from the reading, what is expected, and those before.

Nothing is dropped and nothing mended: a reading keeps its value and bears its flaws.

- impossible: outside what is plausible.
- unit mistaken: impossible, but in another usual unit the same figure is plausible and agrees with
  the last trusted reading, if there is one.
- jumped: further from the last trusted reading than `jump` a second and the sensor's noise allow.
- frozen: the very same figure for `frozen_after`.
- clock off: the sensor's time and the desk's differ by more than `CLOCK_SLACK`.
- stale: nothing newer for three intervals and a second.

A jump that stays is believed again: the fifth reading in a row that agrees with those since the
jump is trusted, and what follows is held against it. One that returns is trusted at once.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from neckring.live.reading import Flaw
from neckring.station.sensing import LEAST_READINGS_FROZEN

CLOCK_SLACK = 5.0
"""[s]; a sensor's own clock may be off by so much, its way to the desk included. Assumed."""

SETTLED = 5
"""So many readings in a row must agree before a jump that stays is trusted. Assumed."""

DEVIATIONS = 5.0
"""Standard deviations of the difference of two readings that are noise, not a jump.

Of two-sided normal noise 5.7e-7 of all differences lie beyond: one reading in 1.7 million, 20 days
of one a second.
"""

STALE_INTERVALS = 3.0
STALE_GRACE = 1.0
"""[s]"""


@dataclass(frozen=True)
class Expectation:
    """What is expected of a channel, in SI.

    Attributes:
        low: Least plausible value.
        high: Most.
        jump: Most change in a second.
        every: Usual time between two readings [s].
        frozen_after: [s]; may be infinite.
        accuracy: One standard deviation.
        rests_at_zero: Whether exactly nothing may last.
    """

    low: float
    high: float
    jump: float
    every: float
    frozen_after: float = math.inf
    accuracy: float = 0.0
    rests_at_zero: bool = False

    @property
    def stale_after(self) -> float:
        """Age at which a reading counts no more [s]."""
        return STALE_INTERVALS * self.every + STALE_GRACE

    def is_plausible(self, value: float) -> bool:
        """Whether a value may be."""
        return self.low <= value <= self.high

    def allowed(self, seconds: float) -> float:
        """How far two readings so long apart may lie from one another."""
        noise = DEVIATIONS * math.sqrt(2.0) * self.accuracy
        return self.jump * max(seconds, self.every) + noise


@dataclass(frozen=True)
class Level:
    """A value that readings agree on, and when it was last met [s]."""

    value: float
    at: float
    count: int = 1


@dataclass(frozen=True)
class Memory:
    """What is remembered of a channel from one reading to the next.

    Attributes:
        trusted: The last value that was neither impossible nor jumped.
        rival: Where it seems to have jumped to.
        figure: The last figure, whatever it was.
        since: When that figure came first [s].
        times: How often it came in a row.
        newest: The latest time by the sensor's own clock.
    """

    trusted: Level | None = None
    rival: Level | None = None
    figure: float | None = None
    since: float = 0.0
    times: int = 0
    newest: float = -math.inf


@dataclass(frozen=True)
class Arrived:
    """A value as it arrived.

    Attributes:
        value: [SI]
        at: When it was measured, as far as known, on the desk's monotonic clock [s].
        source_time: By the sensor's own clock, seconds since 1970; None when it has none.
        wall: The desk's clock at arrival, seconds since 1970.
        rivals: The same figure taken in other units [SI], by their code.
        relative: Whether the time was told as so long ago.
    """

    value: float
    at: float
    source_time: float | None
    wall: float
    rivals: Mapping[str, float]
    relative: bool = False


def assess(
    expected: Expectation, memory: Memory, arrived: Arrived
) -> tuple[frozenset[Flaw], Memory]:
    """Judge one reading.

    Args:
        expected: Of its channel.
        memory: Of its channel; `Memory()` at first.
        arrived: The reading.

    Returns:
        Its flaws but staleness, which comes with age; and what to remember.
    """
    flaws: set[Flaw] = set()
    if clock_is_off(arrived):
        flaws.add(Flaw.CLOCK)
    elif arrived.source_time is not None and arrived.source_time < memory.newest:
        # One that was overtaken says nothing about what is now.
        return frozenset(flaws | _worth(expected, memory, arrived)), memory
    memory = _seen(memory, arrived)
    if _is_frozen(expected, memory, arrived):
        flaws.add(Flaw.FROZEN)
    wrong = _worth(expected, memory, arrived)
    if wrong:
        return frozenset(flaws | wrong), replace(memory, rival=None)
    return _held_against_trusted(expected, memory, arrived, flaws)


def clock_is_off(arrived: Arrived) -> bool:
    """Whether the sensor's time cannot be that of a reading that comes now."""
    if arrived.source_time is None:
        return False
    ahead = arrived.source_time - arrived.wall
    # "So long ago" is right by definition, as long as it is not to come.
    return ahead > CLOCK_SLACK or (ahead < -CLOCK_SLACK and not arrived.relative)


def _worth(expected: Expectation, memory: Memory, arrived: Arrived) -> set[Flaw]:
    """Whether the value is impossible, and whether another unit explains it."""
    if expected.is_plausible(arrived.value):
        return set()
    explained = [
        value
        for value in arrived.rivals.values()
        if expected.is_plausible(value) and _agrees(expected, memory.trusted, value, arrived.at)
    ]
    return {Flaw.UNIT} if explained else {Flaw.IMPOSSIBLE}


def _agrees(expected: Expectation, level: Level | None, value: float, at: float) -> bool:
    return level is None or abs(value - level.value) <= expected.allowed(at - level.at)


def _seen(memory: Memory, arrived: Arrived) -> Memory:
    newest = memory.newest
    if arrived.source_time is not None and not clock_is_off(arrived):
        newest = max(newest, arrived.source_time)
    if arrived.value == memory.figure:
        return replace(memory, times=memory.times + 1, newest=newest)
    return replace(memory, figure=arrived.value, since=arrived.at, times=1, newest=newest)


def _is_frozen(expected: Expectation, memory: Memory, arrived: Arrived) -> bool:
    if expected.rests_at_zero and arrived.value == 0.0:
        return False
    lasted = arrived.at - memory.since
    return memory.times >= LEAST_READINGS_FROZEN and lasted >= expected.frozen_after


def _held_against_trusted(
    expected: Expectation, memory: Memory, arrived: Arrived, flaws: set[Flaw]
) -> tuple[frozenset[Flaw], Memory]:
    value, at = arrived.value, arrived.at
    if _agrees(expected, memory.trusted, value, at):
        return frozenset(flaws), replace(memory, trusted=Level(value, at), rival=None)
    rival = memory.rival
    agrees = rival is not None and _agrees(expected, rival, value, at)
    count = rival.count + 1 if rival is not None and agrees else 1
    if count >= SETTLED:
        return frozenset(flaws), replace(memory, trusted=Level(value, at), rival=None)
    jumped = replace(memory, rival=Level(value, at, count))
    return frozenset(flaws | {Flaw.JUMPED}), jumped


def is_stale(expected: Expectation, age: float) -> bool:
    """Whether a reading of an age [s] counts no more."""
    return age > expected.stale_after
