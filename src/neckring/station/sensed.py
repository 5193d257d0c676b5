"""What a sensor may measure, and what may be expected of each quantity when nobody says more.

The expectations are round figures of our own, assumed, without a published source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from neckring.station.measured import Measured

SensedQuantity = Literal[
    "heart_rate",
    "core_temperature",
    "skin_temperature",
    "mean_skin_temperature",
    "water_inlet_temperature",
    "water_outlet_temperature",
    "reservoir_temperature",
    "water_flow",
    "pump_pressure",
    "garment_pressure",
    "air_flow",
    "inspired_co2",
    "helmet_co2",
    "inspired_o2",
    "helmet_o2",
    "helmet_temperature",
    "helmet_humidity",
    "suit_air_temperature",
    "air_temperature",
    "battery_voltage",
    "battery_charge",
]

NEVER = "never"


@dataclass(frozen=True)
class Sensed:
    """What may be said of one quantity, and what counts when it is left out.

    Attributes:
        dimension: Of its value; a key of `neckring.units.DIMENSIONS`.
        reach: Between which bounds `plausible` may lie, as text.
        plausible: Assumed.
        jump: Most change in a second; assumed.
        frozen_after: Assumed; `never` where a good sensor may well stay on one figure.
        accuracy: One standard deviation; assumed.
        is_gas: A partial pressure, which a sensor may also give as a share of the gas.
        rests_at_zero: Whether it may be exactly nothing for long: a pump that stands still.
    """

    dimension: str
    reach: tuple[str, str]
    plausible: str
    jump: str
    frozen_after: str
    accuracy: str
    is_gas: bool = False
    rests_at_zero: bool = False

    @property
    def dimensions(self) -> tuple[str, ...]:
        """In which dimensions a sensor may give it."""
        return (self.dimension, "fraction") if self.is_gas else (self.dimension,)

    @property
    def change(self) -> Measured:
        """How a change of it is written."""
        return CHANGES[self.dimension]

    def rules(self) -> dict[str, Measured]:
        """How its keys are read."""
        lowest, highest = self.reach
        plausible = Measured(self.dimension, lowest, highest)
        return {"plausible": plausible, "jump": self.change, "accuracy": self.change}


def _change(dimension: str, lowest: str, highest: str) -> Measured:
    return Measured(dimension, lowest, highest, spread=False)


CHANGES: Mapping[str, Measured] = {
    "temperature": _change("temperature_difference", "0.001 K", "100 K"),
    "frequency": _change("frequency", "0.01 bpm", "600 bpm"),
    "volume_flow": _change("volume_flow", "0.1 mL/min", "3000 L/min"),
    "pressure": _change("pressure", "0.1 Pa", "1000 kPa"),
    "fraction": _change("fraction", "0.001 %", "100 %"),
    "voltage": _change("voltage", "0.1 mV", "100 V"),
}
"""Dimension of a value to that of its change, with its range."""

_WATER = ("-5 degC", "60 degC")
_AIR = ("-50 degC", "70 degC")
_SKIN = ("0 degC", "50 degC")
_LOOP = ("-100 kPa", "1000 kPa")

SENSED: Mapping[str, Sensed] = {
    "heart_rate": Sensed(
        "frequency", ("20 bpm", "300 bpm"), "35..220 bpm", "10 bpm", "2 min", "2 bpm"
    ),
    "core_temperature": Sensed(
        "temperature", ("25 degC", "45 degC"), "35..41 degC", "0.1 K", "20 min", "0.05 K"
    ),
    "skin_temperature": Sensed("temperature", _SKIN, "10..42 degC", "2 K", "10 min", "0.2 K"),
    "mean_skin_temperature": Sensed("temperature", _SKIN, "10..42 degC", "2 K", "10 min", "0.2 K"),
    "water_inlet_temperature": Sensed(
        "temperature", _WATER, "0..40 degC", "2 K", "10 min", "0.2 K"
    ),
    "water_outlet_temperature": Sensed(
        "temperature", _WATER, "0..40 degC", "2 K", "10 min", "0.2 K"
    ),
    # Melting ice may hold the same tenth of a degree for half an hour.
    "reservoir_temperature": Sensed("temperature", _WATER, "-1..40 degC", "1 K", NEVER, "0.2 K"),
    "water_flow": Sensed(
        "volume_flow",
        ("0 L/min", "20 L/min"),
        "0..5 L/min",
        "5 L/min",
        "10 min",
        "0.03 L/min",
        rests_at_zero=True,
    ),
    "pump_pressure": Sensed(
        "pressure", _LOOP, "-5..200 kPa", "100 kPa", "10 min", "0.5 kPa", rests_at_zero=True
    ),
    "garment_pressure": Sensed(
        "pressure", _LOOP, "-5..200 kPa", "100 kPa", "10 min", "0.5 kPa", rests_at_zero=True
    ),
    "air_flow": Sensed(
        "volume_flow",
        ("0 L/min", "2000 L/min"),
        "0..600 L/min",
        "600 L/min",
        "10 min",
        "4 L/min",
        rests_at_zero=True,
    ),
    "inspired_co2": Sensed(
        "pressure", ("0 kPa", "20 kPa"), "0.02..8 kPa", "1 kPa", "10 min", "0.05 kPa", is_gas=True
    ),
    "helmet_co2": Sensed(
        "pressure", ("0 kPa", "20 kPa"), "0.02..8 kPa", "1 kPa", "10 min", "0.05 kPa", is_gas=True
    ),
    "inspired_o2": Sensed(
        "pressure", ("0 kPa", "110 kPa"), "10..30 kPa", "3 kPa", "10 min", "0.2 kPa", is_gas=True
    ),
    "helmet_o2": Sensed(
        "pressure", ("0 kPa", "110 kPa"), "10..30 kPa", "3 kPa", "10 min", "0.2 kPa", is_gas=True
    ),
    "helmet_temperature": Sensed("temperature", _AIR, "-10..50 degC", "1 K", "10 min", "0.3 K"),
    # A saturated sensor stays at 100 %.
    "helmet_humidity": Sensed("fraction", ("0 %", "110 %"), "2..105 %", "10 %", NEVER, "2 %"),
    "suit_air_temperature": Sensed("temperature", _AIR, "-10..50 degC", "1 K", "10 min", "0.3 K"),
    "air_temperature": Sensed("temperature", _AIR, "-30..50 degC", "1 K", NEVER, "0.3 K"),
    "battery_voltage": Sensed("voltage", ("0 V", "100 V"), "5..60 V", "2 V", "20 min", "0.05 V"),
    "battery_charge": Sensed("fraction", ("0 %", "110 %"), "0..100 %", "5 %", NEVER, "1 %"),
}
"""What a channel may measure; names as in docs/vocabulary.md where a plan has the same quantity."""
