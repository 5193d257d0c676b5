"""What is filled in at the end of a run, as a file that people can write: one wearer, one run.

Every group may stand alone: what is not there yet comes in a later form, and nothing of an earlier
one is lost.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field

from neckring.crew.body_map import REGIONS
from neckring.crew.feeling_scales import FEELINGS, SYMPTOMS, TROUBLE
from neckring.crew.task_load import MOST, STEP
from neckring.station.body_measures import BodyMeasure
from neckring.station.fields import CLOCK, DAY, Code, Plain, Text, Word, YesNo, did_you_mean
from neckring.station.measured import Measured
from neckring.station.people import Coded
from neckring.station.vitals import HEART_RATE, Vitals
from neckring.station.written import Complaint
from neckring.units import Quantity

Name = Annotated[str, Code()]
Day = Annotated[datetime.date, DAY]
Clock = Annotated[datetime.time, CLOCK]
_Rating = Annotated[int, Plain(0, MOST, whole=True)]
_Core = Measured("temperature", "34 degC", "43 degC", spread=False)
_Signed = Annotated[int, Plain(-4, 8, whole=True)]
_Trouble = Annotated[int, Plain(TROUBLE.lowest, TROUBLE.highest, whole=True)]
_Litres = Measured("volume", "0 L", "20 L")
_Garment = Measured("mass", "0.1 kg", "30 kg")
GROUPS = (
    "before",
    "task_load",
    "feelings",
    "symptoms",
    "body_map",
    "licensed",
    "said",
    "masses",
    "strain",
    "recovery",
    "release",
    "near_misses",
)
"""Groups of a form, in the order of the day."""
LEAST_SWEAT = -0.3
"""[kg]; scales and bottles may be so far off, not farther (assumed)."""


class VitalsAt(Vitals):
    """What was measured at a time of the day."""

    at: Clock


class Before(Coded):
    """The health sheet of the morning.

    Attributes:
        readings: In order of time.
        answers: Code of each question of the signed gate to yes or no.
        by: Code of who measured.
    """

    readings: tuple[VitalsAt, ...] = Field(min_length=1, max_length=30)
    answers: dict[Name, Annotated[bool, YesNo()]] = Field(default_factory=dict)
    by: Name

    def disagreements(self) -> Iterator[Complaint]:
        """Readings out of order."""
        yield from _in_order("readings", [each.at for each in self.readings])


def _in_order(key: str, times: list[datetime.time]) -> Iterator[Complaint]:
    for place, (earlier, later) in enumerate(pairwise(times), 1):
        if later <= earlier:
            yield Complaint((key, place, "at"), f"a time after {earlier:%H:%M}")


class TaskLoad(Coded):
    """Six ratings, 0 to 100 in steps of 5."""

    mental_demand: _Rating
    physical_demand: _Rating
    temporal_demand: _Rating
    performance: _Rating
    effort: _Rating
    frustration: _Rating

    @property
    def ratings(self) -> dict[str, float]:
        """Code to rating."""
        return {code: float(getattr(self, code)) for code in type(self).model_fields}

    def disagreements(self) -> Iterator[Complaint]:
        """Ratings between the marks."""
        for code, rating in self.ratings.items():
            if rating % STEP:
                yield Complaint((code,), f"0 to {MOST} in steps of {STEP}")


class Licensed(Coded):
    """A figure of a scale for which the team itself holds the licence."""

    scale: Annotated[str, Text(80)]
    value: Annotated[float, Plain(-1000, 1000)]
    moment: Annotated[str, Text(80)]


class Said(Coded):
    """Three free questions; write no names."""

    went_well: Annotated[str | None, Text(1000)] = None
    went_badly: Annotated[str | None, Text(1000)] = None
    change: Annotated[str | None, Text(1000)] = None


class Masses(Coded):
    """What was weighed; body bare and towelled, garments dry and wet."""

    nude_before: Annotated[Quantity, BodyMeasure("mass", "30 kg", "200 kg")]
    nude_after: Annotated[Quantity, BodyMeasure("mass", "30 kg", "200 kg")]
    drunk: Annotated[Quantity | None, _Litres] = None
    passed: Annotated[Quantity | None, _Litres] = None
    garment_before: Annotated[Quantity | None, _Garment] = None
    garment_after: Annotated[Quantity | None, _Garment] = None

    def disagreements(self) -> Iterator[Complaint]:
        """Water out of nowhere, and garments weighed once."""
        drunk = self.drunk.nominal if self.drunk else 0.0
        passed = self.passed.nominal if self.passed else 0.0
        least = self.nude_before.nominal - self.nude_after.nominal + 1000.0 * (drunk - passed)
        if least < LEAST_SWEAT:
            yield Complaint(
                ("nude_after",),
                f"at most {self.nude_before.text} with what was drunk and without what was passed",
                hint="a drink may be missing, or the two masses are changed over",
            )
        if (self.garment_before is None) != (self.garment_after is None):
            key = "garment_after" if self.garment_after is None else "garment_before"
            yield Complaint((key,), "both masses of the garments, or neither")


class Strain(Coded):
    """Highest figures of the run and those before it; core where it was measured."""

    heart_before: Annotated[Quantity, HEART_RATE]
    heart_highest: Annotated[Quantity, HEART_RATE]
    core_before: Annotated[Quantity | None, _Core] = None
    core_highest: Annotated[Quantity | None, _Core] = None


class RecoveryRates(Coded):
    """Heart rate at rest after work: at 30 to 60 s, at 1.5 to 2 min, at 2.5 to 3 min."""

    first: Annotated[Quantity, HEART_RATE]
    second: Annotated[Quantity | None, HEART_RATE] = None
    third: Annotated[Quantity, HEART_RATE]


class Override(Coded):
    """That the medic decided otherwise than the gate says.

    Attributes:
        decides: What.
        reason: Why.
        by: Code of the medic.
    """

    decides: Annotated[Literal["release", "hold", "refer"], Word()]
    reason: Annotated[str, Text(300)]
    by: Name


class Release(Coded):
    """Readings after the run, until somebody is released.

    Attributes:
        readings: In order of time, the first at the start of the rest.
        answers: Code of each question of the signed gate to yes or no.
        by: Code of who measured.
        override: The medic's own decision; None for what the gate says.
    """

    readings: tuple[VitalsAt, ...] = Field(min_length=1, max_length=60)
    answers: dict[Name, Annotated[bool, YesNo()]] = Field(default_factory=dict)
    by: Name
    override: Override | None = None

    def disagreements(self) -> Iterator[Complaint]:
        """Readings out of order."""
        yield from _in_order("readings", [each.at for each in self.readings])


class NearMiss(Coded):
    """Something that went wrong or nearly did.

    Attributes:
        words: What happened; write no names.
        happened_on: Day.
        happened_at: Clock time.
        known_on: Day on which the team came to know.
        known_at: Clock time.
        harm: What came of it.
        panels: Codes of whom to tell.
        reported: Code of a panel to the day on which it was told.
    """

    words: Annotated[str, Text(1000)]
    happened_on: Day
    happened_at: Clock
    known_on: Day
    known_at: Clock
    harm: Annotated[Literal["none", "discomfort", "first aid", "medical care", "damage"], Word()]
    panels: tuple[Name, ...] = Field(min_length=1, max_length=20)
    reported: dict[Name, Day] = Field(default_factory=dict)

    def disagreements(self) -> Iterator[Complaint]:
        """Known before it happened, told before it was known, told to others."""
        happened = datetime.datetime.combine(self.happened_on, self.happened_at)
        if datetime.datetime.combine(self.known_on, self.known_at) < happened:
            yield Complaint(("known_at",), "not before it happened")
        for panel, day in self.reported.items():
            if panel not in self.panels:
                accepted = f"a panel of this near miss: {', '.join(self.panels)}"
                yield Complaint(("reported", panel), accepted, f'"{panel}"')
            if day < self.known_on:
                yield Complaint(("reported", panel), f"not before {self.known_on.isoformat()}")


class CloseOutForm(Coded):
    """The file.

    Attributes:
        run: Code of the run.
        wearer: Code of the wearer; the one of the run.
        filled_on: Day.
        filled_by: Code.
    """

    run: Name
    wearer: Name
    filled_on: Day
    filled_by: Name
    before: Before | None = None
    task_load: TaskLoad | None = None
    feelings: dict[Name, _Signed] | None = None
    symptoms: dict[Name, _Trouble] | None = None
    body_map: dict[Name, _Trouble] | None = None
    licensed: tuple[Licensed, ...] | None = None
    said: Said | None = None
    masses: Masses | None = None
    strain: Strain | None = None
    recovery: RecoveryRates | None = None
    release: Release | None = None
    near_misses: tuple[NearMiss, ...] | None = None

    @property
    def groups(self) -> tuple[str, ...]:
        """Which groups are filled in."""
        return tuple(group for group in GROUPS if getattr(self, group) is not None)

    def disagreements(self) -> Iterable[Complaint]:
        """Nothing filled in, codes that are nowhere, figures beyond their scale."""
        if not self.groups:
            yield Complaint((), f"at least one of {', '.join(GROUPS)}", "a form with nothing in it")
        for code, figure in (self.feelings or {}).items():
            yield from self._feeling(code, figure)
        yield from _unknown("symptoms", self.symptoms, tuple(SYMPTOMS))
        yield from _unknown("body_map", self.body_map, tuple(REGIONS))

    def _feeling(self, code: str, figure: int) -> Iterator[Complaint]:
        scale = FEELINGS.get(code)
        if scale is None:
            yield from _unknown("feelings", {code: figure}, tuple(FEELINGS))
        elif not scale.lowest <= figure <= scale.highest:
            accepted = f"a whole number from {scale.lowest} to {scale.highest}"
            yield Complaint(("feelings", code), accepted)


def _unknown(
    group: str, given: dict[str, int] | None, known: tuple[str, ...]
) -> Iterator[Complaint]:
    for code in given or {}:
        if code not in known:
            said = ", ".join(known)
            yield Complaint((group, code), f"one of {said}", f'"{code}"', did_you_mean(code, known))
