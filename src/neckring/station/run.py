"""runs/*.yaml: one planned run, spell by spell."""

from __future__ import annotations

import datetime
from typing import Annotated, Literal, get_args

from pydantic import Field, field_validator

from neckring.station.fields import CLOCK, DAY, Code, Text, Word
from neckring.station.help import ASSUMED_HANDS, Hands
from neckring.station.measured import Measured
from neckring.station.site import Terrain
from neckring.station.written import Written
from neckring.units import Quantity

Activity = Literal[
    "walk", "carry", "ride", "stand", "rest", "kneel", "hammer", "work", "dress", "undress"
]
ACTIVITIES: tuple[str, ...] = get_args(Activity)
Supply = Literal["none", "facility", "pack"]

CARRIED_ON = ("cooling", "valve", "air", "helmet")
"""What carries on from the spell before when a spell does not state it."""


class Spell(Written):
    """One activity of the outing.

    In a `Run` it holds what it carries on from the spell before. Which keys an activity needs and
    takes is in `neckring.station.spell_shapes`.
    """

    spell: Annotated[Activity, Word()]
    place: Annotated[str | None, Code()] = None
    from_place: Annotated[str | None, Code()] = Field(None, alias="from")
    to_place: Annotated[str | None, Code()] = Field(None, alias="to")
    duration: Annotated[Quantity | None, Measured("time", "1 s", "8 h", spread=False)] = Field(
        None, alias="for"
    )
    speed: Annotated[Quantity | None, Measured("speed", "0.05 m/s", "15 m/s")] = None
    grade: Annotated[Quantity | None, Measured("fraction", "-40 %", "40 %", spread=False)] = None
    terrain: Annotated[Terrain | None, Word()] = None
    load: Annotated[Quantity | None, Measured("mass", "0 kg", "40 kg")] = None
    metabolic_rate: Annotated[Quantity | None, Measured("power", "50 W", "1800 W")] = None
    cooling: Annotated[Supply, Word()] = "none"
    valve: Annotated[Quantity | None, Measured("fraction", "0 %", "100 %", spread=False)] = None
    air: Annotated[Supply, Word()] = "none"
    helmet: Annotated[Literal["on", "off"], Word()] = "off"
    note: Annotated[str | None, Text()] = None

    @property
    def starts_at(self) -> str:
        """Code of the place where it begins."""
        return self.from_place or self.place or ""

    @property
    def ends_at(self) -> str:
        """Code of the place where it ends."""
        return self.to_place or self.place or ""

    @property
    def places(self) -> tuple[str, ...]:
        """Codes of the places it touches: one, or both ends of a path."""
        ends = (self.starts_at, self.ends_at)
        return ends[:1] if ends[0] == ends[1] else ends

    @property
    def helmet_on(self) -> bool:
        """Whether the helmet is on."""
        return self.helmet == "on"

    def after(self, before: Spell) -> Spell:
        """This spell with what it does not state itself taken from the spell before."""
        missing = [name for name in CARRIED_ON if name not in self.model_fields_set]
        return self.model_copy(update={name: getattr(before, name) for name in missing})


class Run(Written):
    """One planned run."""

    code: Annotated[str, Code()]
    title: Annotated[str, Text(120)]
    about: Annotated[str | None, Text()] = None
    wearer: Annotated[str, Code()]
    suit: Annotated[str, Code()]
    date: Annotated[datetime.date, DAY]
    start: Annotated[datetime.time, CLOCK]
    help: Hands | None = None
    outing: tuple[Spell, ...] = Field(min_length=1, max_length=500)

    @field_validator("outing")
    @classmethod
    def _carry_on(cls, outing: tuple[Spell, ...]) -> tuple[Spell, ...]:
        """Fill each spell with what carries on from the spell before it."""
        filled = [outing[0]]
        for spell in outing[1:]:
            filled.append(spell.after(filled[-1]))
        return tuple(filled)

    @property
    def begins(self) -> datetime.datetime:
        """Day and hour, by the station's clock."""
        return datetime.datetime.combine(self.date, self.start)

    @property
    def hands(self) -> Hands:
        """Who helps; unless something else is written, the tender waits where the run begins."""
        written = self.help or ASSUMED_HANDS
        if written.tender:
            return written
        return written.model_copy(update={"tender": self.outing[0].starts_at})
