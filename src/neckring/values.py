"""One number or an array of them, bands of three, and the root of a falling function.

Every closed form of `body` and `suit` takes numbers or arrays of members and broadcasts them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
Values: TypeAlias = float | FloatArray

LONGEST_SEARCH = 200
SHARE_OF_START = 1e-13


class Band(NamedTuple):
    """A result with its spread; what low and high mean is said where the band is made."""

    likely: Values
    low: Values
    high: Values

    def scaled(self, factor: Values) -> Band:
        """The band with all three values multiplied by one factor."""
        return Band(self.likely * factor, self.low * factor, self.high * factor)


def plain(values: Values) -> Values:
    """Turn an array without axes into a plain number; leave other arrays alone."""
    return float(values) if np.ndim(values) == 0 else values


def require_within(name: str, values: Values, low: float, high: float, unit: str) -> None:
    """Refuse values outside a formula's range; not-a-number is outside.

    Raises:
        ValueError: Naming the quantity, the first value outside and the range.
    """
    array = np.asarray(values, dtype=np.float64)
    outside = ~((array >= low) & (array <= high))
    if outside.any():
        worst = array[outside].flat[0]
        raise ValueError(f"{name} is {worst:g} {unit}; accepted: {low:g} to {high:g} {unit}")


def root_of_falling(
    function: Callable[[FloatArray], FloatArray], low: Values, high: Values
) -> FloatArray:
    """Find where a falling function crosses zero, for many members at once.

    The bracket is kept and each member stops when it has converged, so that a member's answer
    does not depend on its neighbours.

    Args:
        function: Elementwise; positive at `low`, negative at `high`.
        low: Start of the bracket, any shape.
        high: End of the bracket, broadcast against `low`.

    Returns:
        The root, in the broadcast shape of the function's value.

    Raises:
        ArithmeticError: The search has not converged.

    Source: false position with the Illinois rule, Dowell and Jarratt 1971 (BIT 11:168).
    """
    low, high = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    at_low, at_high = function(low), function(high)
    scale = np.abs(at_low)
    low, high, at_low, at_high = (a.copy() for a in np.broadcast_arrays(low, high, at_low, at_high))
    last = np.zeros(low.shape)
    root = np.where(at_high >= 0, high, low)
    done = (at_low <= 0) | (at_high >= 0)
    for _ in range(LONGEST_SEARCH):
        if done.all():
            return root
        root = np.where(done, root, _next_guess(low, high, at_low, at_high))
        value = function(root)
        if np.isnan(value).any():
            break
        right = np.where(value > 0, 1.0, -1.0)
        # The Illinois rule: an end that stays twice in a row counts half.
        at_high = np.where(right < 0, value, np.where(last > 0, at_high / 2, at_high))
        at_low = np.where(right > 0, value, np.where(last < 0, at_low / 2, at_low))
        low, high = np.where(right > 0, root, low), np.where(right > 0, high, root)
        last = right
        done |= (np.abs(value) <= SHARE_OF_START * scale) | (high - low <= 2e-16 * np.abs(high))
    raise ArithmeticError("no crossing was found: the function does not fall through zero")


def _next_guess(
    low: FloatArray, high: FloatArray, at_low: FloatArray, at_high: FloatArray
) -> FloatArray:
    guess = high - at_high * (high - low) / (at_high - at_low)
    inside = (guess > low) & (guess < high)
    return np.where(inside, guess, (low + high) / 2)
