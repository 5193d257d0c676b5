"""How a heart comes down after work."""

from __future__ import annotations

from typing import Literal

Recovery = Literal["satisfactory", "high", "none"]

SLOW_THIRD = 90.0 / 60.0
"""[1/s]; of the third reading."""
SMALL_FALL = 10.0 / 60.0
"""[1/s]; from the first to the third."""


def recovery_pattern(first: float, third: float) -> Recovery:
    """How a heart recovers, from two readings at rest after work.

    The table prints 90 and 10 with no sign beside them for the last two rows; here 90 bpm and more
    is slow, and a fall of less than 10 none.

    Args:
        first: Between 30 and 60 s after work [1/s].
        third: Between 2.5 and 3 min after work [1/s].

    Source: OSHA Technical Manual, section III chapter 4, table III:4-4, as quoted in a site's
        health plan that was read.
    """
    if third < SLOW_THIRD - 1e-9:
        return "satisfactory"
    return "high" if first - third >= SMALL_FALL - 1e-9 else "none"
