"""limits.yaml: the signed limit sheet."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from neckring.station.fields import DAY, Code, Text, Word, YesNo
from neckring.station.measured import Measured
from neckring.station.measured_like import MeasuredLike, Tagged
from neckring.station.written import Complaint, Written
from neckring.units import Quantity, format_quantity

LimitedQuantity = Literal[
    "core_temperature",
    "core_rise",
    "mean_skin_temperature",
    "lowest_skin_temperature",
    "skin_core_gap",
    "heart_rate",
    "body_water_loss",
    "heat_storage",
    "inspired_co2",
    "inspired_o2",
    "fog_margin",
    "water_inlet_temperature",
    "battery_charge",
    "load_fraction",
]
Action = Literal["caution", "turn back", "stop now"]


def _limited(dimension: str, lowest: str, highest: str) -> Measured:
    return Measured(dimension, lowest, highest, spread=False)


LIMITED: dict[str, Measured] = {
    "core_temperature": _limited("temperature", "34 degC", "42 degC"),
    "core_rise": _limited("temperature_difference", "0 K", "5 K"),
    "mean_skin_temperature": _limited("temperature", "5 degC", "45 degC"),
    "lowest_skin_temperature": _limited("temperature", "0 degC", "45 degC"),
    "skin_core_gap": _limited("temperature_difference", "-5 K", "30 K"),
    "heart_rate": _limited("frequency", "30 bpm", "300 bpm"),
    "body_water_loss": _limited("fraction", "0 %", "15 %"),
    "heat_storage": _limited("specific_energy", "-30 kJ/kg", "30 kJ/kg"),
    "inspired_co2": _limited("pressure", "0.04 kPa", "10 kPa"),
    "inspired_o2": _limited("pressure", "8 kPa", "60 kPa"),
    "fog_margin": _limited("temperature_difference", "-20 K", "40 K"),
    "water_inlet_temperature": _limited("temperature", "0 degC", "45 degC"),
    "battery_charge": _limited("fraction", "0 %", "100 %"),
    "load_fraction": _limited("fraction", "0 %", "150 %"),
}
"""What may be limited, with its dimension and the range in which a limit makes sense."""

# A reading may lie outside the range of sensible limits, a change with age even more so.
READING_RANGE: dict[str, tuple[str, str]] = {
    "temperature": ("-50 degC", "100 degC"),
    "temperature_difference": ("-100 K", "100 K"),
    "frequency": ("-400 bpm", "400 bpm"),
    "fraction": ("-300 %", "300 %"),
    "specific_energy": ("-100 kJ/kg", "100 kJ/kg"),
    "pressure": ("-100 kPa", "200 kPa"),
}


def _reading_of(rule: Measured) -> Measured:
    lowest, highest = READING_RANGE[rule.dimension]
    return Measured(rule.dimension, lowest, highest, spread=False)


def _change_of(rule: Measured) -> Measured:
    # Temperatures change by differences.
    if rule.dimension == "temperature":
        return Measured("temperature_difference", "-100 K", "100 K", spread=False)
    return _reading_of(rule)


class Example(Written):
    """A worked example that the sheet's reader can follow, and that `check` recomputes."""

    age: Annotated[Quantity | None, Measured("age", "16 yr", "90 yr", spread=False)] = None
    limit: Annotated[Quantity | None, MeasuredLike()] = None
    reading: Annotated[Quantity, MeasuredLike()]
    crossed: Annotated[bool, YesNo()]


class Limit(Written):
    """One limit: data with a source and a signature, never a constant in code."""

    quantity: Annotated[LimitedQuantity, Word()]
    stop_if: Annotated[Literal["above", "below"], Word()]
    value: Annotated[Quantity, MeasuredLike()]
    per_year_of_age: Annotated[Quantity | None, MeasuredLike()] = None
    sustained: Annotated[Quantity | None, Measured("time", "0 s", "8 h", spread=False)] = Field(
        None, alias="for"
    )
    action: Annotated[Action, Word()]
    source: Annotated[str, Text()]
    verified: Annotated[bool, YesNo()]
    signed_by: Annotated[str, Code()]
    signed_on: Annotated[datetime.date, DAY]
    example: Example

    @model_validator(mode="before")
    @classmethod
    def _measure_by_quantity(cls, written: Any) -> Any:  # noqa: ANN401 - not yet validated
        """Tell the values which dimension they have: that of the limited quantity."""
        rule = LIMITED.get(str(written.get("quantity"))) if isinstance(written, dict) else None
        if rule is None:
            return written
        reading = _reading_of(rule)
        rules = {"value": rule, "per_year_of_age": _change_of(rule)}
        tagged = _tagged(written, rules)
        if isinstance(written.get("example"), dict):
            tagged["example"] = _tagged(written["example"], {"reading": reading, "limit": reading})
        return tagged

    def disagreements(self) -> Iterator[Complaint]:
        """The worked example, recomputed: this catches an inverted or mistyped rule."""
        if self.per_year_of_age and self.example.age is None:
            yield Complaint(
                ("example", "age"),
                "the example's age, as the limit changes with age",
                _MISSING,
            )
            return
        dimension = LIMITED[self.quantity].dimension
        age = self.example.age.nominal if self.example.age else 0.0
        limit = self.value_at(age)
        shown = format_quantity(limit, dimension)
        if self.example.limit and not _same(self.example.limit.nominal, limit):
            yield Complaint(
                ("example", "limit"),
                f"{shown}, which the rule gives for the example",
                hint="either the rule or the example is wrong",
            )
        yield from self._crossed_complaints(age, f"{self.stop_if} {shown}")

    def _crossed_complaints(self, age: float, rule: str) -> Iterator[Complaint]:
        reading = self.example.reading
        crossed = self.crossed_by(reading.nominal, age)
        if crossed != self.example.crossed:
            word = "yes" if crossed else "no"
            yield Complaint(
                ("example", "crossed"),
                f"{word}, as the rule is stop_if {rule} and the reading is {reading.text}",
                hint="either the rule or the example is wrong",
            )

    def value_at(self, age: float) -> float:
        """The limit for a wearer [SI].

        Args:
            age: Of the wearer [years].
        """
        change = self.per_year_of_age.nominal if self.per_year_of_age else 0.0
        return self.value.nominal + change * age

    def crossed_by(self, reading: float, age: float) -> bool:
        """Whether a reading [SI] is beyond the limit for a wearer of an age [years]."""
        limit = self.value_at(age)
        return reading > limit if self.stop_if == "above" else reading < limit


_MISSING = "nothing (the key is missing)"


def _same(first: float, second: float) -> bool:
    return abs(first - second) <= 1e-6 * max(abs(first), abs(second))


def _tagged(written: dict[str, Any], rules: dict[str, Measured]) -> dict[str, Any]:
    return {
        key: Tagged(value, rules[key]) if key in rules and isinstance(value, str) else value
        for key, value in written.items()
    }


class LimitSheet(Written):
    """The sheet."""

    about: Annotated[str | None, Text()] = None
    limits: tuple[Limit, ...] = Field(min_length=1)
