"""wearers/*.yaml: the people who wear the suits, by code."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from neckring.station.body_measures import BodyMeasure, Measures, height_complaints
from neckring.station.fields import Code, Text, Word, YesNo
from neckring.station.fit import Settings
from neckring.station.measured import Measured
from neckring.station.written import Complaint, Written
from neckring.units import Quantity


class Wearer(Written):
    """One wearer's measures; a code stands for the name."""

    code: Annotated[str, Code()]
    about: Annotated[str | None, Text()] = None
    sex: Annotated[Literal["male", "female"], Word()]
    age: Annotated[Quantity, Measured("age", "16 yr", "90 yr", spread=False)]
    height: Annotated[Quantity, BodyMeasure("length", "1.2 m", "2.3 m")]
    mass: Annotated[Quantity, BodyMeasure("mass", "30 kg", "200 kg")]
    body_fat: Annotated[Quantity, Measured("fraction", "3 %", "60 %")]
    resting_heart_rate: Annotated[Quantity, Measured("frequency", "30 bpm", "120 bpm")]
    maximum_heart_rate: Annotated[Quantity | None, Measured("frequency", "100 bpm", "240 bpm")] = (
        None
    )
    maximum_oxygen_uptake: Annotated[
        Quantity, Measured("oxygen_uptake", "10 mL/kg/min", "95 mL/kg/min")
    ]
    acclimatised: Annotated[bool, YesNo()]
    work_factor: Annotated[Quantity | None, Measured("number", "0.5", "2")] = None
    measures: Measures | None = None
    settings: dict[Annotated[str, Code()], Settings] = Field(default_factory=dict)

    def disagreements(self) -> Iterator[Complaint]:
        """A heart can beat faster than at rest, and no part of a body is higher than the whole."""
        fastest = self.maximum_heart_rate
        if fastest and fastest.nominal <= self.resting_heart_rate.nominal:
            above = f"a rate above the resting_heart_rate, {self.resting_heart_rate.text}"
            yield Complaint(("maximum_heart_rate",), above)
        yield from height_complaints(self.height, self.measures)
