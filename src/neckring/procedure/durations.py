"""How long one thing takes: three points, a 90th percentile, practice, the later of two."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from neckring.procedure.model import Duration
from neckring.values import FloatArray, Values, require_within

# Standard deviations from the median to the 90th percentile.
NINETIETH = 1.2816

LONGEST = 1e6
"""Longest duration that is computed with [s]."""


@dataclass(frozen=True)
class Moments:
    """Mean and standard deviation [s]."""

    mean: float
    deviation: float


def require_ordered(duration: Duration, whose: str) -> None:
    """Refuse a duration that is no range.

    Args:
        duration: At least, most likely, at most.
        whose: For the message, e.g. "step 3".

    Raises:
        ValueError: Negative, not a number, too long, or not rising.
    """
    points = (duration.low, duration.likely, duration.high)
    if not 0.0 <= points[0] <= points[1] <= points[2] <= LONGEST:
        read = ", ".join(f"{point:g}" for point in points)
        raise ValueError(
            f"duration of {whose} is {read} s; accepted: at least, most likely, at most, each not "
            f"less than the one before, from 0 to {LONGEST:g} s"
        )


def pert(duration: Duration) -> Moments:
    """Mean and standard deviation of a three-point duration.

    Source: Malcolm, Roseboom, Clark and Fazar 1959, Operations Research 7:646 (from memory).
    """
    require_ordered(duration, "a step")
    low, likely, high = duration.low, duration.likely, duration.high
    return Moments((low + 4.0 * likely + high) / 6.0, (high - low) / 6.0)


def pert_beta(duration: Duration, share: FloatArray) -> FloatArray:
    """Duration below which a share of all cases lies, by the beta distribution that PERT means.

    Its mean is exactly PERT's; its standard deviation is PERT's only about the middle.

    Args:
        duration: At least, most likely, at most.
        share: 0..1, any shape.

    Returns:
        [s], same shape.

    Source: shape 1 + 4 (likely - low)/(high - low), as customary (from memory).
    """
    low, likely, high = duration.low, duration.likely, duration.high
    if high == low:
        return np.full(share.shape, low)
    from scipy.special import betaincinv

    lean = 4.0 * (likely - low) / (high - low)
    return np.asarray(low + (high - low) * betaincinv(1.0 + lean, 5.0 - lean, share))


def triangular(duration: Duration, share: FloatArray) -> FloatArray:
    """Duration below which a share of all cases lies, by the triangular distribution.

    Wider than the beta distribution of the same three points.

    Args:
        duration: At least, most likely, at most.
        share: 0..1, any shape.

    Returns:
        [s], same shape.
    """
    low, likely, high = duration.low, duration.likely, duration.high
    width = high - low
    if width == 0.0:
        return np.full(share.shape, low)
    rising = low + np.sqrt(share * width * (likely - low))
    falling = high - np.sqrt((1.0 - share) * width * (high - likely))
    return np.where(share * width <= likely - low, rising, falling)


@dataclass(frozen=True)
class LognormalDuration:
    """A duration that is never negative and has a long tail.

    Attributes:
        median: [s], above 0.
        sigma: Standard deviation of its natural logarithm.
    """

    median: float
    sigma: float

    @property
    def moments(self) -> Moments:
        """Mean and standard deviation [s]."""
        mean = self.median * math.exp(self.sigma**2 / 2.0)
        return Moments(mean, mean * math.sqrt(math.expm1(self.sigma**2)))

    def beyond(self, deviations: float) -> float:
        """Duration some standard deviations of the logarithm above the median [s]."""
        return self.median * math.exp(self.sigma * deviations)


def lognormal_duration(median: float, ninetieth: float) -> LognormalDuration:
    """The lognormal duration of a median and a 90th percentile.

    Args:
        median: [s], above 0.
        ninetieth: Exceeded once in ten times [s], at least the median.

    Raises:
        ValueError: A value out of range.
    """
    require_within("median", median, math.ulp(0.0), LONGEST, "s")
    require_within("90th percentile", ninetieth, median, LONGEST, "s")
    return LognormalDuration(median, math.log(ninetieth / median) / NINETIETH)


def practised(first: Values, time: int, rate: float) -> Values:
    """How long something takes when it is done once more.

    Args:
        first: When done for the first time [s], any shape.
        time: The how-manieth time, from 1.
        rate: What is left after each doubling of practice, above 0 and at most 1.

    Returns:
        [s], same shape.

    Raises:
        ValueError: A value out of range.

    Source: Wright 1936, Journal of the Aeronautical Sciences 3:122 (from memory).
    """
    require_within("repeat", time, 1, 1e9, "")
    require_within("learning rate", rate, 0.01, 1.0, "")
    left: float = time ** math.log2(rate)
    return first * left


def practised_total(first: float, times: int, rate: float) -> float:
    """How long all of several repeats take together [s].

    Args:
        first: When done for the first time [s].
        times: How often.
        rate: What is left after each doubling of practice, above 0 and at most 1.

    Raises:
        ValueError: A value out of range.

    Source: sum over Wright's unit times.
    """
    require_within("repeats", times, 1, 1e6, "")
    return math.fsum(float(practised(first, time, rate)) for time in range(1, times + 1))


def later_of_two(one: Moments, other: Moments, correlation: float = 0.0) -> Moments:
    """When both of two are ready, each ready at a normally distributed time.

    The mean is later than the later of the means: at every meeting of two who are about equally
    fast, time is lost that adding up the likely durations does not show.

    Args:
        one: Of the first [s].
        other: Of the second [s].
        correlation: Between the two, -1..1.

    Returns:
        Of the later one [s].

    Raises:
        ValueError: A correlation or a deviation out of range.

    Source: Clark 1961, Operations Research 9:145 (from memory).
    """
    require_within("correlation", correlation, -1.0, 1.0, "")
    for moments in (one, other):
        require_within("standard deviation", moments.deviation, 0.0, LONGEST, "s")
    return _clark(one.mean, one.deviation, other.mean, other.deviation, correlation)


def _clark(m1: float, s1: float, m2: float, s2: float, r: float) -> Moments:
    a = math.sqrt(max(0.0, s1**2 + s2**2 - 2.0 * r * s1 * s2))
    if a == 0.0:
        return Moments(m1, s1) if m1 >= m2 else Moments(m2, s2)
    alpha = (m1 - m2) / a
    density = math.exp(-(alpha**2) / 2.0) / math.sqrt(2.0 * math.pi)
    first = 0.5 * math.erfc(-alpha / math.sqrt(2.0))
    second = 0.5 * math.erfc(alpha / math.sqrt(2.0))
    gain = a * density
    mean = m1 * first + m2 * second + gain
    # About the mean: the published difference of two large squares loses the small variance.
    d1, d2 = m1 - mean, m2 - mean
    variance = (d1**2 + s1**2) * first + (d2**2 + s2**2) * second + (d1 + d2) * gain
    return Moments(mean, math.sqrt(max(0.0, variance)))
