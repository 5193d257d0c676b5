"""Quantities that people write: with unit, physical range and perhaps a spread."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from pydantic import Field

from neckring.station.fields import Accepted, Kind, UnacceptableError
from neckring.units import (
    DIMENSIONS,
    Quantity,
    QuantityError,
    accepted_units,
    format_quantity,
    parse_quantity,
)


@dataclass(frozen=True)
class Measured(Kind):
    """A quantity with its unit and physical range.

    Attributes:
        dimension: A key of `neckring.units.DIMENSIONS`.
        lowest: Smallest accepted value, as text.
        highest: Largest accepted value, as text.
        spread: Whether a spread may be written.
    """

    dimension: str
    lowest: str
    highest: str
    spread: bool = True

    @cached_property
    def bounds(self) -> tuple[float, float]:
        """Smallest and largest accepted value [SI]."""
        return (
            parse_quantity(self.lowest, self.dimension).nominal,
            parse_quantity(self.highest, self.dimension).nominal,
        )

    def read(self, text: str, among: tuple[str, ...] = ()) -> Quantity:
        """Read the quantity and hold it against its range."""
        try:
            quantity = parse_quantity(text, self.dimension)
        except QuantityError as refused:
            raise UnacceptableError(refused.read_as, refused.hint) from None
        self._refuse_spread(quantity)
        self._refuse_outside(quantity)
        return quantity

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """For example "a mass from 30 kg to 200 kg (in kg, g or lb)"."""
        known = DIMENSIONS[self.dimension]
        units = accepted_units(self.dimension)
        unit_words = f" (in {units})" if units else ""
        exact = "" if self.spread else ", without a spread"
        return f"{known.words} from {self.lowest} to {self.highest}{unit_words}{exact}"

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text, or a number when the quantity has no unit."""
        if self.dimension == "number":
            return {"type": ["number", "string"], "description": self.accepted()}
        return {"type": "string", "pattern": "[0-9]", "description": self.accepted()}

    def _refuse_spread(self, quantity: Quantity) -> None:
        if not self.spread and quantity.spread != "exact":
            raise UnacceptableError("a value with a spread", "write one value")

    def _refuse_outside(self, quantity: Quantity) -> None:
        low, high = self.bounds
        slack = 1e-9 * max(abs(low), abs(high))
        if not low - slack <= quantity.nominal <= high + slack:
            raise UnacceptableError(hint=self._percent_hint(quantity))
        if quantity.low < low - slack or quantity.high > high + slack:
            reach = f"{self._shown(quantity.low)} to {self._shown(quantity.high)}"
            raise UnacceptableError(
                f"a spread that reaches from {reach}", f'write a range: "{self._within(quantity)}"'
            )

    def _percent_hint(self, quantity: Quantity) -> str:
        share = quantity.nominal / 100.0
        if self.dimension == "fraction" and self.bounds[0] <= share <= self.bounds[1]:
            return f'did you mean "{self._shown(share)}"?' if share > 0.0 else ""
        return ""

    def _within(self, quantity: Quantity) -> str:
        low, high = self.bounds
        return f"{self._shown(max(low, quantity.low))}..{self._shown(min(high, quantity.high))}"

    def _shown(self, value: float) -> str:
        return format_quantity(value, self.dimension)


def left_out(text: str, dimension: str) -> Quantity:
    """What a key counts as when it is left out: always the very same object.

    Args:
        text: The default, as it would be written.
        dimension: A key of `neckring.units.DIMENSIONS`.
    """
    default = parse_quantity(text, dimension)
    # A factory keeps the default out of the JSON Schema, where it would not be text.
    return Field(default_factory=lambda: default)
