"""`measures:` of a wearer, by the names of ISO 7250-1, and the unit most likely meant.

A slip of the unit is the commonest fault in a list of measures. Every range here is narrower than
the factor of 2.54 between inches and centimetres, so that no measure of a person who fits the range
can be typed in the wrong one of the two and pass.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from neckring.station.fields import UnacceptableError
from neckring.station.measured import Measured
from neckring.station.written import Complaint, Written
from neckring.units import Quantity, convert, format_quantity

_NUMBER = re.compile(r"\s*([0-9]+(?:\.[0-9]*)?|\.[0-9]+)")
_UNITS = {"length": ("mm", "cm", "m", "in", "ft"), "mass": ("kg", "lb")}
"""Units in which people measure people."""


@dataclass(frozen=True)
class BodyMeasure(Measured):
    """A measure of a body; says which unit was most likely meant when one cannot be."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> Quantity:
        """Read the measure; a number without its unit is told which units it could have."""
        try:
            return super().read(text, among)
        except UnacceptableError as refused:
            if refused.read_as != "a number without a unit":
                raise
            meant = self._meant(text)
            hint = f"write the unit: {_either(meant)}" if meant else refused.hint
            raise UnacceptableError(refused.read_as, hint) from None

    def _refuse_outside(self, quantity: Quantity) -> None:
        low, high = self.bounds
        if not low <= quantity.nominal <= high:
            meant = [each for each in self._meant(quantity.text) if each != quantity.text.strip()]
            unit = f"the unit may be wrong: did you mean {_either(meant)}?" if meant else ""
            shown = format_quantity(quantity.nominal, self.dimension)
            same = shown == " ".join(quantity.text.split())
            raise UnacceptableError("" if same else shown, unit)
        super()._refuse_outside(quantity)

    def _meant(self, text: str) -> list[str]:
        """The written number in every unit in which it is a person's."""
        found = _NUMBER.match(text)
        if found is None:
            return []
        low, high = self.bounds
        number = float(found.group(1))
        fitting = (u for u in _UNITS[self.dimension] if _within(number, u, self, low, high))
        return [f"{found.group(1)} {unit}" for unit in fitting]


def _within(number: float, unit: str, kind: Measured, low: float, high: float) -> bool:
    return low <= convert(number, unit, kind.dimension) <= high


def _either(texts: list[str]) -> str:
    return " or ".join(f'"{text}"' for text in texts)


def _length(low: str, high: str) -> BodyMeasure:
    return BodyMeasure("length", low, high)


class Measures(Written):
    """What was measured on the wearer beside height and mass, bare; each may be left out."""

    biacromial_breadth: Annotated[Quantity | None, _length("260 mm", "520 mm")] = None
    bideltoid_breadth: Annotated[Quantity | None, _length("330 mm", "750 mm")] = None
    chest_depth: Annotated[Quantity | None, _length("150 mm", "380 mm")] = None
    chest_depth_full_breath: Annotated[Quantity | None, _length("160 mm", "400 mm")] = None
    chest_circumference: Annotated[Quantity | None, _length("650 mm", "1600 mm")] = None
    hip_breadth: Annotated[Quantity | None, _length("240 mm", "560 mm")] = None
    vertical_trunk_circumference: Annotated[Quantity | None, _length("1150 mm", "2200 mm")] = None
    shoulder_height: Annotated[Quantity | None, _length("0.95 m", "1.95 m")] = None
    crotch_height: Annotated[Quantity | None, _length("550 mm", "1150 mm")] = None
    sitting_height: Annotated[Quantity | None, _length("600 mm", "1200 mm")] = None
    arm_length: Annotated[Quantity | None, _length("400 mm", "780 mm")] = None
    span: Annotated[Quantity | None, _length("1.2 m", "2.4 m")] = None
    hand_length: Annotated[Quantity | None, _length("130 mm", "250 mm")] = None
    hand_breadth: Annotated[Quantity | None, _length("55 mm", "120 mm")] = None
    foot_length: Annotated[Quantity | None, _length("190 mm", "350 mm")] = None
    head_length: Annotated[Quantity | None, _length("150 mm", "240 mm")] = None
    head_breadth: Annotated[Quantity | None, _length("115 mm", "195 mm")] = None
    head_circumference: Annotated[Quantity | None, _length("450 mm", "690 mm")] = None

    def disagreements(self) -> Iterator[Complaint]:
        """What no body can be: one measure above another that contains it."""
        for smaller, larger in CONTAINED:
            part, whole = getattr(self, smaller), getattr(self, larger)
            if part and whole and part.low >= whole.high:
                yield Complaint((smaller,), f"less than {larger}, {whole.text}", hint=SWAPPED)


CONTAINED = (
    ("biacromial_breadth", "bideltoid_breadth"),
    ("chest_depth", "chest_depth_full_breath"),
    ("chest_depth", "chest_circumference"),
    ("crotch_height", "shoulder_height"),
    ("hand_breadth", "hand_length"),
    ("head_breadth", "head_circumference"),
    ("arm_length", "span"),
)
"""Pairs of measures of which the first can never be the larger."""

SWAPPED = "two figures may have been exchanged, or measured at another place"

PARTS_OF_HEIGHT = ("shoulder_height", "crotch_height", "sitting_height")


def height_complaints(height: Quantity, measures: Measures | None) -> Iterator[Complaint]:
    """Heights of parts of the body that are above the whole."""
    for name in PARTS_OF_HEIGHT:
        part = getattr(measures, name, None)
        if part and part.low >= height.high:
            accepted = f"less than the height, {height.text}"
            yield Complaint(("measures", name), accepted, hint=SWAPPED)


def kind_of(measure: str) -> BodyMeasure:
    """The kind of a key of `Measures`, for its range."""
    return next(
        part for part in Measures.model_fields[measure].metadata if isinstance(part, BodyMeasure)
    )
