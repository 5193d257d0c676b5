"""How high letters must be to be read from a distance.

Source: NUREG-0700 revision 2, 1.3.1-4 (height = 6.283 D MA / 21600; 20 to 22 minutes of arc are
preferred, 16 are the least); ISO 9241-3 says the same, as quoted by a maker of screens.
"""

from __future__ import annotations

import math

PREFERRED = 20.0
"""[minutes of arc]"""

LEAST = 16.0
"""[minutes of arc]"""

ARM = 0.6
"""From the eye to a sheet held at arm's length [m]; practice."""

FACTORS = {"air": 1.0, "clear visor": 1.0, "curved or fogged visor": 2.0}
"""How much higher letters are made for what lies between; 2 is our own choice, no standard's."""

ROUNDED_UP_TO = 0.5e-3
"""Heights are printed in steps of this [m]."""

POINT = 0.0254 / 72.0
"""[m]"""

CAPITALS_PER_SIZE = 1493.0 / 2048.0
"""Height of capitals of DejaVu Sans, of its size (its OS/2 table, sCapHeight)."""


def letter_height(distance: float, minutes: float = PREFERRED) -> float:
    """Height of a capital that fills an angle at the eye [m].

    Args:
        distance: From the eye [m].
        minutes: The angle [minutes of arc].
    """
    return distance * math.tan(math.radians(minutes / 60.0))


def label_height(distance: float, seen_through: str) -> float:
    """Height of the capitals of a label [m], rounded up.

    Args:
        distance: From the eye to the label, by way of a mirror if there is one [m].
        seen_through: A key of `FACTORS`.
    """
    height = FACTORS[seen_through] * letter_height(distance)
    return math.ceil(height / ROUNDED_UP_TO - 1e-9) * ROUNDED_UP_TO


def size_of(height: float) -> float:
    """Size of type whose capitals are so high [points].

    Args:
        height: Of capitals [m].
    """
    return height / CAPITALS_PER_SIZE / POINT


ACT_SIZE = math.ceil(2.0 * size_of(letter_height(ARM))) / 2.0
"""Of what is done, on a sheet at arm's length [points], up to the next half."""

LINE_SIZE = math.ceil(2.0 * size_of(letter_height(ARM, LEAST))) / 2.0
"""Of what is said, seen, or done if not [points]."""
