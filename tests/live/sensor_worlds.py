"""A suit with sensors, a clock that tests set, and an intake: shared by the tests of sensors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from neckring.live.entries import Stamp
from neckring.live.reading import Reading
from neckring.live.sensors.channels import Wired, channel_of
from neckring.live.sensors.intake import Intake
from neckring.live.sensors.record import MessageError
from neckring.station.sensing import Sensor

WALL = 1_800_000_000.0
SEA_LEVEL = 101_325.0

SENSORS: tuple[dict[str, object], ...] = (
    {"channel": "heart", "measures": "heart_rate", "unit": "/min", "every": "1 s"},
    {"channel": "water_in", "measures": "water_inlet_temperature", "unit": "Cel", "every": "1 s"},
    {"channel": "flow", "measures": "water_flow", "unit": "L/min", "every": "1 s"},
    {
        "channel": "air",
        "measures": "air_flow",
        "unit": "L/min",
        "reference": {"temperature": "0 degC", "pressure": "101.325 kPa"},
        "every": "1 s",
    },
    {
        "channel": "co2",
        "measures": "inspired_co2",
        "unit": "%",
        "reference": {"pressure": "101.325 kPa"},
        "every": "1 s",
    },
    {"channel": "helmet", "measures": "helmet_temperature", "unit": "Cel", "every": "2 s"},
    {"channel": "humidity", "measures": "helmet_humidity", "unit": "%", "every": "2 s"},
    {
        "channel": "battery",
        "measures": "battery_voltage",
        "unit": "V",
        "every": "1 s",
        "clock": "none",
    },
    {
        "channel": "spot",
        "measures": "skin_temperature",
        "unit": "Cel",
        "every": "1 s",
        "name": "lab/+/skin",
    },
)


def sensor(**written: object) -> Sensor:
    """A sensor as written in a suit's file."""
    return Sensor.model_validate(written)


def wired(wearer: str = "A", suit: str = "dipper") -> Wired:
    """A wearer in the suit above."""
    channels = tuple(channel_of(sensor(**written)) for written in SENSORS)
    return Wired(wearer, suit, channels)


def intake(*wearers: Wired, speed: float = 1.0, pressure: float = SEA_LEVEL) -> Intake:
    """An intake for some wearers; for A in the suit above when none is named."""
    return Intake(wearers or (wired(),), pressure, speed)


def at(seconds: float, late: float = 0.0) -> Stamp:
    """A stamp so long after the run was opened."""
    return Stamp(WALL + seconds + late, 50.0 + seconds, seconds)


@dataclass
class Collected:
    """What a source delivered."""

    readings: list[Reading] = field(default_factory=list)

    def __call__(self, readings: list[Reading]) -> None:
        self.readings.extend(readings)


Given = TypeVar("Given")


def said_of(read: Callable[[Given], object], given: Given) -> str:
    """What is said when something is read: "read", or why it was refused."""
    try:
        read(given)
    except MessageError as refused:
        return str(refused)
    return "read"
