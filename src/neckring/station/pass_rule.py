"""What an instrument must show: `16.0 V or more`, `12 degC or less`, `15.5..16.8 V`, `0 kPa`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from neckring.station.fields import Accepted, Kind, UnacceptableError
from neckring.units import DIMENSIONS, Quantity, QuantityError, convert, parse_quantity

EXAMPLE = "15.5..16.8 V"
OR_MORE, OR_LESS = " or more", " or less"
ROUNDING = 1e-9
"""Shown and asked for are the same when they differ by no more than rounding does."""


@dataclass(frozen=True)
class PassRule:
    """What an instrument must show.

    Attributes:
        text: As written.
        dimension: A key of `neckring.units.DIMENSIONS`.
        unit: In which it is written, and most likely shown.
        low: Least that passes [SI]; minus infinity when only the most is asked for.
        high: Most that passes [SI]; infinity when only the least is.
    """

    text: str
    dimension: str
    unit: str
    low: float
    high: float

    def passes(self, value: float) -> bool:
        """Whether a value passes.

        Args:
            value: [SI]
        """
        bounds = [abs(bound) for bound in (self.low, self.high) if math.isfinite(bound)]
        slack = ROUNDING * max(bounds, default=0.0)
        return self.low - slack <= value <= self.high + slack

    def read(self, value: float | int | str, unit: str) -> float:
        """What somebody read from the instrument [SI].

        Args:
            value: The figure, as a number or as typed.
            unit: In which it was shown.

        Raises:
            QuantityError: It is no figure, or not in a unit of this dimension.
        """
        if isinstance(value, str):
            found = parse_quantity(f"{value.strip()} {unit}", self.dimension)
            if found.spread != "exact":
                raise QuantityError("a value with a spread", "write one value")
            return found.nominal
        shown = float(value)
        if not math.isfinite(shown):
            raise QuantityError("not a figure", "write what the instrument shows")
        return convert(shown, unit, self.dimension)


def read_pass_rule(text: str) -> PassRule:
    """Read a pass rule.

    Raises:
        UnacceptableError: It is none.
    """
    written = " ".join(text.split())
    low, high = written.endswith(OR_MORE), written.endswith(OR_LESS)
    bare = written.removesuffix(OR_MORE).removesuffix(OR_LESS)
    quantity, unit = _measured(bare)
    if quantity.spread == "normal" or (quantity.spread == "range" and (low or high)):
        raise UnacceptableError("a value with a spread", f'as in "{EXAMPLE}"')
    return PassRule(
        written,
        quantity.kind,
        unit,
        -math.inf if high else quantity.low,
        math.inf if low else quantity.high,
    )


def _measured(text: str) -> tuple[Quantity, str]:
    """A quantity of whichever dimension its unit is of, the first of several, and the unit."""
    refused = QuantityError("no unit at its end that is known here")
    for dimension in DIMENSIONS.values():
        units = sorted((*dimension.units, *dimension.synonyms), key=len, reverse=True)
        unit = next((unit for unit in units if unit and text.endswith(f" {unit}")), None)
        if unit is None:
            continue
        try:
            return parse_quantity(text, dimension.name), dimension.spelled(unit)
        except QuantityError as error:
            refused = error
    raise UnacceptableError(refused.read_as, refused.hint)


@dataclass(frozen=True)
class PassRuleKind(Kind):
    """What an instrument must show."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> PassRule:
        """Read the rule."""
        return read_pass_rule(text)

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """The forms with an example each."""
        return (
            f'what the instrument must show, with its unit, as in "{EXAMPLE}", "16 V or more", '
            '"12 degC or less" or "0 kPa"'
        )

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text with an example."""
        return {"type": "string", "description": self.accepted(), "examples": [EXAMPLE]}
