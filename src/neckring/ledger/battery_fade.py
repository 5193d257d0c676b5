"""How much charge a battery still holds: a line through its full cycles, with a band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from neckring.ledger.records import Record

FEWEST = 4
"""Cycles from which on a line and its band are drawn."""
SURE = 0.9
"""Share of the band."""


@dataclass(frozen=True)
class Fade:
    """What the cycles of a battery say.

    Attributes:
        cycles: How many were recorded.
        charge: Charge that it holds now [C].
        low: Lower end of the 90 % band [C]; None below four cycles.
        high: Upper end [C].
        per_cycle: Change with each cycle [C]; None below four cycles.
        energy: Energy that the last measured cycle gave [J]; None where no voltage was noted.
    """

    cycles: int
    charge: float
    low: float | None
    high: float | None
    per_cycle: float | None
    energy: float | None


def fade(cycles: Sequence[Record]) -> Fade | None:
    """What the cycles of a battery say; None before the first.

    A straight line by least squares over the number of the cycle; the band is that of the line at
    the last cycle, not of one more measurement.

    Args:
        cycles: Its records, the oldest first.

    Source: confidence band of a straight line, Draper and Smith 1998, Applied Regression Analysis,
        section 3.1: t s sqrt(1/n + (x - mean)^2 / Sxx) with n - 2 degrees of freedom.
    """
    charges = [charge for one in cycles if (charge := one.figure("charge")) is not None]
    if not charges:
        return None
    energy = _energy(cycles)
    if len(charges) < FEWEST:
        return Fade(len(charges), charges[-1], None, None, None, energy)
    count = len(charges)
    middle = (count - 1) / 2.0
    mean = sum(charges) / count
    spread = sum((place - middle) ** 2 for place in range(count))
    slope = sum((place - middle) * (c - mean) for place, c in enumerate(charges)) / spread
    now = mean + slope * middle
    left = sum((c - mean - slope * (place - middle)) ** 2 for place, c in enumerate(charges))
    reach = student_quantile(0.5 + SURE / 2.0, count - 2) * math.sqrt(
        left / (count - 2) * (1.0 / count + middle**2 / spread)
    )
    return Fade(count, now, now - reach, now + reach, slope, energy)


def _energy(cycles: Sequence[Record]) -> float | None:
    for one in reversed(cycles):
        charge, voltage = one.figure("charge"), one.figure("voltage")
        if charge is not None and voltage is not None:
            return charge * voltage
    return None


def student_quantile(share: float, freedom: int) -> float:
    """The t that a Student variable stays below with a probability.

    Args:
        share: The probability, above one half.
        freedom: Degrees of freedom, from 1.

    Source: Abramowitz and Stegun 1964, Handbook of Mathematical Functions, 26.7.3 and 26.7.4: the
        two-sided probability as a finite sum of powers of cos(atan(t / sqrt(freedom))).
    """
    low, high = 0.0, math.pi / 2.0
    # The probability grows with the angle, which lies in an interval: halve until it is a point.
    while low < (middle := (low + high) / 2.0) < high:
        if (1.0 + _inside(middle, freedom)) / 2.0 < share:
            low = middle
        else:
            high = middle
    return math.sqrt(freedom) * math.tan(middle)


def _inside(angle: float, freedom: int) -> float:
    """Probability that a Student variable lies between -t and t, t = sqrt(freedom) tan(angle)."""
    cosine, sine, odd = math.cos(angle), math.sin(angle), freedom % 2
    term = total = 0.0 if freedom == 1 else (cosine if odd else 1.0)
    for k in range(2 + odd, freedom - 1, 2):
        term *= cosine * cosine * (k - 1) / k
        total += term
    return 2.0 / math.pi * (angle + sine * total) if odd else sine * total
