"""The course of a run that is over: spells, exposure, turn-back, estimates, channels.

Times without another word are run time: seconds since the run was opened.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Stretch:
    """From one time to another [s]."""

    begins: float
    ends: float

    @property
    def lasts(self) -> float:
        """How long [s]."""
        return self.ends - self.begins


@dataclass(frozen=True)
class TurnBackFact:
    """Turn-back time of one wearer, three ways.

    Attributes:
        wearer: A or B.
        planned: Last time by the plan; None where it was not computed, or there is none.
        estimated: Low, middle, high by the live estimate before the way home began, or the last.
        called: When somebody called for it; None for never.
        home: When the first spell of the way home began; None for never.
    """

    wearer: str
    planned: float | None
    estimated: tuple[float | None, float | None, float | None] | None
    called: float | None
    home: float | None


@dataclass(frozen=True)
class SpellFact:
    """One spell as planned and as it was.

    Attributes:
        wearer: A or B.
        number: From 0.
        activity: Its word.
        place: Where it ends.
        away: Whether it leaves the places that the facility reaches.
        begun: When; None for never.
        ended: When the next began or the run ended; None for never.
        planned: As planned, shifted to the real first dressing; None without a plan.
    """

    wearer: str
    number: int
    activity: str
    place: str
    away: bool
    begun: float | None
    ended: float | None
    planned: Stretch | None


@dataclass(frozen=True)
class Exposure:
    """How long one wearer was in it.

    Attributes:
        wearer: A or B.
        suit: In the suit [s].
        closed: With the face closed in: no fresh air but what is brought to it [s].
        away: Away from what the facility reaches [s].
        pack: On air that only the pack's fans move [s].
    """

    wearer: str
    suit: float
    closed: float
    away: float
    pack: float


@dataclass(frozen=True)
class EstimateFact:
    """One live estimate.

    Attributes:
        wearer: A or B.
        at: When it was recorded.
        quantities: Name to low, middle, high [SI].
        turn_back: Low, middle, high [s]; None for none.
        binding: What binds, in words.
    """

    wearer: str
    at: float
    quantities: Mapping[str, tuple[float, float, float]]
    turn_back: tuple[float | None, float | None, float | None] | None
    binding: str


@dataclass(frozen=True)
class SensorFact:
    """One channel of one wearer.

    Attributes:
        wearer: A or B.
        channel: Its name in the suit's file.
        quantity: What it measures; empty where the suit's file does not have it any more.
        dimension: Of its readings.
        count: How many readings.
        good: How many without a flaw.
        flawed: Flaw to whether each reading bears it, shape (count,); only those that came.
        longest_gap: Longest time without a good reading, between the first and the last [s].
        time: Run time of each reading [s], shape (count,).
        value: Of each [SI], shape (count,).
        fine: Whether each is good, shape (count,).
    """

    wearer: str
    channel: str
    quantity: str
    dimension: str
    count: int
    good: int
    flawed: Mapping[str, BoolArray]
    longest_gap: float
    time: FloatArray
    value: FloatArray
    fine: BoolArray
