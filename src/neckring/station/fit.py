"""`fit:` of a suit, its places and what can be set; `settings:` of a wearer, what was kept."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal, get_args

from pydantic import Field

from neckring.station.fault import listed, quoted
from neckring.station.fields import DAY, Code, Plain, Text, Word
from neckring.station.measured import Measured
from neckring.station.written import Complaint, Written
from neckring.units import Quantity

PlaceName = Literal[
    "arm_openings",
    "shoulders",
    "trunk",
    "chest",
    "chest_girth",
    "hatch",
    "neck_ring",
    "helmet",
    "helmet_top",
    "sleeves",
    "legs",
    "gloves",
    "glove_breadth",
    "boots",
]
PLACES: tuple[str, ...] = get_args(PlaceName)

MOST_POSITIONS = 60
"""Positions of one adjuster: a strap of 300 mm has no finer than 5 mm."""

WHOLE = 1e-6
"""[1]; a position counts as whole when it misses by so little of a step."""

ShortLength = Annotated[Quantity, Measured("length", "0 mm", "500 mm", spread=False)]
Clearance = Measured("length", "-200 mm", "500 mm", spread=False)


@dataclass(frozen=True)
class PlaceWord(Word):
    """The name of a place, as a value or as a key."""

    def accepted(self, among: tuple[str, ...] = ()) -> str:
        """The places."""
        return listed(among or PLACES)


class Place(Written):
    """One place of the suit: its room with every adjuster at its start, and what must be left."""

    room: Annotated[Quantity, Measured("length", "50 mm", "3 m")]
    least: Annotated[Quantity, Clearance]
    most: Annotated[Quantity | None, Clearance] = None

    def disagreements(self) -> Iterator[Complaint]:
        """The least clearance must be below the most."""
        if self.most and self.most.nominal <= self.least.nominal:
            yield Complaint(("most",), f"more than least, {self.least.text}")


class Adjuster(Written):
    """A pad, a strap or a size that can be chosen, in equal steps."""

    words: Annotated[str, Text(60)]
    kind: Annotated[Literal["pad", "strap", "size"], Word()]
    start: Annotated[
        Quantity, Field(alias="from"), Measured("length", "0 mm", "500 mm", spread=False)
    ]
    end: Annotated[Quantity, Field(alias="to"), Measured("length", "0 mm", "500 mm", spread=False)]
    step: Annotated[Quantity, Measured("length", "1 mm", "200 mm", spread=False)]
    acts_on: dict[Annotated[PlaceName, PlaceWord()], Annotated[float, Plain(-10, 10)]] = Field(
        min_length=1
    )

    @property
    def last(self) -> int:
        """Number of the last position; the first is 0."""
        return round((self.end.nominal - self.start.nominal) / self.step.nominal)

    def position(self, setting: float) -> int | None:
        """Number of the position of a setting [m]; None when there is none."""
        steps = (setting - self.start.nominal) / self.step.nominal
        number = round(steps)
        at_one = abs(steps - number) < WHOLE and 0 <= number <= self.last
        return number if at_one else None

    def effect(self, place: str) -> float:
        """Room of a place that one metre of the setting gives [1]; 0 where it does not act."""
        return next((share for name, share in self.acts_on.items() if name == place), 0.0)

    def setting(self, position: int) -> float:
        """The setting [m] of a position."""
        return self.start.nominal + position * self.step.nominal

    def disagreements(self) -> Iterator[Complaint]:
        """It must run from less to more in whole steps, and not in too many."""
        if self.end.nominal <= self.start.nominal:
            yield Complaint(("to",), f"more than from, {self.start.text}")
        elif abs(self.start.nominal + self.last * self.step.nominal - self.end.nominal) > WHOLE:
            yield Complaint(
                ("step",), f"a step that leads from {self.start.text} to {self.end.text}"
            )
        elif self.last >= MOST_POSITIONS:
            yield Complaint(("step",), f"at most {MOST_POSITIONS} positions", f"{self.last + 1}")


class Fit(Written):
    """What decides whether a suit fits."""

    torso: Annotated[Literal["rigid", "soft"], Word()]
    layers: ShortLength
    places: dict[Annotated[PlaceName, PlaceWord()], Place] = Field(min_length=1)
    adjusters: dict[Annotated[str, Code()], Adjuster] = Field(default_factory=dict, max_length=20)
    reach: tuple[Annotated[str, Text(120)], ...] = ()

    def named_places(self) -> dict[str, Place]:
        """Its places by name, in the order of the file."""
        return {str(name): place for name, place in self.places.items()}

    def disagreements(self) -> Iterator[Complaint]:
        """An adjuster acts only on places that are described."""
        for name, adjuster in self.adjusters.items():
            for place in adjuster.acts_on:
                if place not in self.places:
                    at = ("adjusters", name, "acts_on", place)
                    yield Complaint(at, f"places of this fit: {listed(self.places)}", quoted(place))


class Settings(Written):
    """How a suit was set for a wearer when it was last tried on."""

    positions: dict[Annotated[str, Code()], ShortLength] = Field(min_length=1)
    noted: Annotated[datetime.date, DAY]
    by: Annotated[str, Code()]
    note: Annotated[str | None, Text(200)] = None
