"""Numbers as people write them in the station's files: in the unit and manner that stand there."""

from __future__ import annotations

import math
import re

from neckring.units import DIMENSIONS, Quantity, convert

_NUMBER = re.compile(r"\s*[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?\s*")
_BETWEEN = re.compile(r"\.\.|\+/-|\+-|±|…")


def unit_of(text: str) -> str:
    """The unit of a quantity as written; empty for a plain number."""
    for part in _BETWEEN.split(text):
        rest = _NUMBER.sub("", part, count=1).strip()
        if rest:
            return rest
    return ""


def in_unit_of(value: float, written: Quantity) -> tuple[float, str]:
    """A value in SI as a number in the unit in which a quantity is written, and that unit."""
    unit = unit_of(written.text)
    zero, one = (convert(number, unit, written.kind) for number in (0.0, 1.0))
    return (value - zero) / (one - zero), unit


def normal_text(value: float, deviation: float, written: Quantity | None) -> str:
    """A value with its standard deviation as it would be written: "21.4 W/K +/- 0.8".

    Args:
        value: [SI]
        deviation: [SI], above nought.
        written: What stands there now, for its unit; None for a plain number.
    """
    unit = ""
    if written is not None:
        shown, unit = in_unit_of(value, written)
        top, _ = in_unit_of(value + deviation, written)
        value, deviation = shown, top - shown
    places = decimals(deviation)
    spread = max(round(deviation, places), 10.0**-places)
    return f"{value:.{places}f}{' ' if unit else ''}{unit} +/- {spread:.{places}f}"


def decimals(deviation: float) -> int:
    """Decimal places that show two figures of a deviation, none below a hundred."""
    return int(min(max(1 - math.floor(math.log10(deviation)), 0), 9))


def seconds_text(low: float, likely: float, high: float) -> str:
    """A time in three points, to whole seconds outward: "4..6..12 s"."""
    bottom, top = max(1, math.floor(low)), max(1, math.ceil(high))
    middle = min(max(round(likely), bottom), top)
    if bottom == top:
        return f"{bottom} s"
    return f"{bottom}..{middle}..{top} s"


assert set(DIMENSIONS) >= {"conductance", "volume_flow", "charge", "number"}
