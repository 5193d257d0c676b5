"""How long an act takes: at least, most likely and at most, as `4..6..12 s`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from neckring.station.fields import Accepted, Kind, UnacceptableError
from neckring.units import QuantityError, parse_quantity

SHORTEST, LONGEST = 0.5, 3600.0
EXAMPLE = "4..6..12 s"


@dataclass(frozen=True)
class Lasting:
    """Three points of a time [s]."""

    low: float
    likely: float
    high: float


def read_lasting(text: str) -> Lasting:
    """Read one, two or three points of a time.

    Raises:
        UnacceptableError: It is none, or its points do not rise.
    """
    *firsts, last = text.split("..")
    unit = last.strip().lstrip("0123456789. ")
    try:
        points = [parse_quantity(f"{part.strip()} {unit}", "time").nominal for part in firsts]
        points.append(parse_quantity(last, "time").nominal)
    except QuantityError as refused:
        raise UnacceptableError(refused.read_as, refused.hint) from None
    if len(points) > 3 or sorted(points) != points:
        raise UnacceptableError("points that do not rise" if len(points) <= 3 else "")
    if not points[0] >= SHORTEST or points[-1] > LONGEST:
        raise UnacceptableError
    likely = points[1] if len(points) == 3 else 0.5 * (points[0] + points[-1])
    return Lasting(points[0], likely, points[-1])


@dataclass(frozen=True)
class LastingKind(Kind):
    """A time in one, two or three points."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> Lasting:
        """Read the time."""
        return read_lasting(text)

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """The form with an example."""
        return (
            f'a time at least..most likely..at most, as in "{EXAMPLE}"; also two points or one; '
            "from 0.5 s to 60 min (in s, min or h)"
        )

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text with an example."""
        return {"type": "string", "description": self.accepted(), "examples": [EXAMPLE]}
