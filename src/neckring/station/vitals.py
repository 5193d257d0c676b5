"""What a medic measures of a person at rest, and by which words gates and forms name it."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from neckring.station.measured import Measured
from neckring.station.written import Written
from neckring.units import Quantity

Vital = Literal[
    "heart_rate",
    "systolic",
    "diastolic",
    "temperature",
    "saturation",
    "breathing_rate",
    "carbon_monoxide",
]
VITALS: tuple[str, ...] = get_args(Vital)

HEART_RATE = Measured("frequency", "25 bpm", "240 bpm", spread=False)
SYSTOLIC = Measured("pressure", "50 mmHg", "280 mmHg", spread=False)
DIASTOLIC = Measured("pressure", "25 mmHg", "180 mmHg", spread=False)
TEMPERATURE = Measured("temperature", "33 degC", "43 degC", spread=False)
SATURATION = Measured("fraction", "50 %", "100 %", spread=False)
BREATHING_RATE = Measured("frequency", "4 1/min", "80 1/min", spread=False)
CARBON_MONOXIDE = Measured("fraction", "0 %", "60 %", spread=False)

MEASURED_AS: dict[str, Measured] = {
    "heart_rate": HEART_RATE,
    "systolic": SYSTOLIC,
    "diastolic": DIASTOLIC,
    "temperature": TEMPERATURE,
    "saturation": SATURATION,
    "breathing_rate": BREATHING_RATE,
    "carbon_monoxide": CARBON_MONOXIDE,
}
"""What each is measured in, and the range in which a person can be."""

WORDS: dict[str, str] = {
    "heart_rate": "heart rate",
    "systolic": "systolic blood pressure",
    "diastolic": "diastolic blood pressure",
    "temperature": "temperature",
    "saturation": "oxygen saturation",
    "breathing_rate": "breathing rate",
    "carbon_monoxide": "carboxyhaemoglobin",
}
UNITS: dict[str, str] = {
    "heart_rate": "bpm",
    "systolic": "mmHg",
    "diastolic": "mmHg",
    "temperature": "degC",
    "saturation": "%",
    "breathing_rate": "1/min",
    "carbon_monoxide": "%",
}
"""In which people read them."""


class Vitals(Written):
    """What was measured of a person at rest; what was not measured is left out."""

    heart_rate: Annotated[Quantity | None, HEART_RATE] = None
    systolic: Annotated[Quantity | None, SYSTOLIC] = None
    diastolic: Annotated[Quantity | None, DIASTOLIC] = None
    temperature: Annotated[Quantity | None, TEMPERATURE] = None
    saturation: Annotated[Quantity | None, SATURATION] = None
    breathing_rate: Annotated[Quantity | None, BREATHING_RATE] = None
    carbon_monoxide: Annotated[Quantity | None, CARBON_MONOXIDE] = None

    @property
    def measured(self) -> dict[str, float]:
        """What was measured, by its code [SI]."""
        found = ((code, getattr(self, code)) for code in VITALS)
        return {code: quantity.nominal for code, quantity in found if quantity is not None}
