"""station.yaml: the places, the paths between them, the facility supply, policy, console."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from neckring.station.console import Console
from neckring.station.fields import Code, Formed, Text, UnacceptableError, Word, YesNo, did_you_mean
from neckring.station.measured import Measured, left_out
from neckring.station.written import Complaint, Written
from neckring.units import Quantity

Terrain = Literal[
    "blacktop",
    "dirt_road",
    "light_brush",
    "heavy_brush",
    "swampy_bog",
    "ploughed",
    "loose_sand",
    "hard_snow",
]


def _read_zone(text: str) -> str:
    try:
        zoneinfo.ZoneInfo(text)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        known = tuple(sorted(zoneinfo.available_timezones()))
        # A machine without the time zone database cannot judge the name.
        if known:
            raise UnacceptableError(hint=did_you_mean(text, known)) from None
    return text


ZONE = Formed(_read_zone, "a time zone of the IANA list", "Europe/Vienna")

AirTemperature = Annotated[Quantity, Measured("temperature", "-40 degC", "60 degC")]
Humidity = Annotated[Quantity, Measured("fraction", "0 %", "100 %")]


STEEPEST = 0.5
"""[1], rise over length; steeper than this is climbed with the hands (assumed)."""


class Place(Written):
    """Somewhere a wearer can be, with its conditions on the day."""

    about: Annotated[str | None, Text()] = None
    air_temperature: AirTemperature
    relative_humidity: Humidity
    radiant_temperature: Annotated[
        Quantity | None, Measured("temperature", "-40 degC", "90 degC")
    ] = None
    wind: Annotated[Quantity, Measured("speed", "0 m/s", "30 m/s")]
    sun: Annotated[Quantity | None, Measured("irradiance", "0 W/m2", "1400 W/m2")] = None


class Path(Written):
    """A way between two places, walked in either direction."""

    from_place: Annotated[str, Code()] = Field(alias="from")
    to_place: Annotated[str, Code()] = Field(alias="to")
    length: Annotated[Quantity, Measured("length", "1 m", "20 km")]
    rise: Annotated[Quantity | None, Measured("length", "-2000 m", "2000 m", spread=False)] = None
    terrain: Annotated[Terrain, Word()]

    def disagreements(self) -> Iterator[Complaint]:
        """A path leads somewhere else, and can be walked."""
        if self.from_place == self.to_place:
            yield Complaint(("to",), "another place than the path's from")
        if self.rise and abs(self.rise.nominal) > STEEPEST * self.length.nominal:
            yield Complaint(
                ("rise",), f"at most half of the path's length, {self.length.text}, up or down"
            )


class Facility(Written):
    """Water and air that come to the wearer through an umbilical."""

    water_temperature: Annotated[Quantity, Measured("temperature", "2 degC", "40 degC")]
    water_flow: Annotated[Quantity, Measured("volume_flow", "0.05 L/min", "10 L/min")]
    air_flow: Annotated[Quantity, Measured("volume_flow", "10 L/min", "1000 L/min")]
    air_temperature: Annotated[Quantity, Measured("temperature", "0 degC", "45 degC")]
    air_relative_humidity: Humidity
    reaches: tuple[Annotated[str, Code()], ...]


class Policy(Written):
    """What the team has signed for.

    Attributes:
        confidence: How sure a plan must be [1].
        reserve: Slack kept free [s].
        air_reserve: Slack kept free where the air fails [s]; None for the reserve.
        lift_limit: What one helper may lift of a person [kg]. Left out: 15.9 kg (35 lb), Waters
            2007, American Journal of Nursing 107(8):53. The 23 kg of the NIOSH lifting equation
            (Waters, Putz-Anderson and Garg 1994) are for boxes, not for people.
        drink_limit: The most anyone is advised to drink [m3/s].
    """

    confidence: Annotated[Quantity, Measured("fraction", "50 %", "99.99 %", spread=False)]
    reserve: Annotated[Quantity, Measured("time", "0 min", "120 min", spread=False)]
    air_reserve: Annotated[Quantity | None, Measured("time", "0 s", "30 min", spread=False)] = None
    lift_limit: Annotated[Quantity, Measured("mass", "5 kg", "60 kg", spread=False)] = left_out(
        "15.9 kg", "mass"
    )
    drink_limit: Annotated[Quantity, Measured("volume_flow", "0.1 L/h", "2 L/h", spread=False)]


@dataclass(frozen=True)
class Way:
    """A path in the direction in which it is walked.

    Attributes:
        length: [m]
        rise: Climbed from its start to its end [m]; negative downhill.
        terrain: What is underfoot.
    """

    length: Quantity
    rise: float
    terrain: Terrain


class Station(Written):
    """The station's own file."""

    name: Annotated[str, Text(80)]
    about: Annotated[str | None, Text()] = None
    invented: Annotated[bool, YesNo()] = False
    timezone: Annotated[str, ZONE]
    altitude: Annotated[Quantity, Measured("length", "-450 m", "6000 m")]
    places: dict[Annotated[str, Code()], Place] = Field(min_length=1)
    paths: tuple[Path, ...] = ()
    facility: Facility | None = None
    policy: Policy
    console: Console | None = None

    def path(self, start: str | None, end: str | None) -> Way | None:
        """The path from one place to another, None when there is none.

        Args:
            start: Code of the place where it is begun.
            end: Code of the place where it is ended.
        """
        for path in self.paths:
            rise = path.rise.nominal if path.rise else 0.0
            if (path.from_place, path.to_place) == (start, end):
                return Way(path.length, rise, path.terrain)
            if (path.to_place, path.from_place) == (start, end):
                return Way(path.length, -rise, path.terrain)
        return None
