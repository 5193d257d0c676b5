"""How each computed quantity is called and in which unit people read it.

Everything here is a matter of display. The conversions are those of `units.py`; what is added is a
name for each trace column and how many decimals of it mean something.
"""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, overload

from neckring.unit_table import DIMENSIONS

if TYPE_CHECKING:
    from neckring.outing.findings import FloatArray

NOT_COMPUTED = "not computed"
GAP = "\u00a0"
SHOWN_AS = {"degC": "°C"}
SI_UNITS = {
    "temperature": "degC",
    "temperature_difference": "K",
    "time": "s",
    "length": "m",
    "mass": "kg",
    "mass_flow": "kg/s",
    "volume_flow": "m3/s",
    "pressure": "Pa",
    "power": "W",
    "specific_energy": "J/kg",
    "frequency": "1/s",
    "voltage": "V",
    "fraction": "1",
}
MASS_FLOW_SCALES = {"g/min": 1e-3 / 60}  # nobody writes one in a station, so units.py has none


@dataclass(frozen=True)
class Presentation:
    """The words and the unit in which one quantity is shown.

    Attributes:
        quantity: Name of the trace column.
        label: The quantity in plain words.
        dimension: Its dimension, a key of `SI_UNITS`; empty when it is not known.
        written_unit: Unit people read, as a station file would write it.
        decimals: Figures after the decimal point when shown.
        spoken_unit: Unit for the head of a plot, where "%" alone would be too short.
    """

    quantity: str
    label: str
    dimension: str
    written_unit: str
    decimals: int = 1
    spoken_unit: str = ""

    @property
    def unit(self) -> str:
        """The unit people read."""
        return SHOWN_AS.get(self.written_unit, self.written_unit)

    @property
    def si_unit(self) -> str:
        """The unit of the stored value."""
        return SI_UNITS.get(self.dimension, "")

    @property
    def scale(self) -> float:
        """How much of the stored unit one shown unit is."""
        if self.dimension == "mass_flow":
            return MASS_FLOW_SCALES[self.written_unit]
        return DIMENSIONS[self.dimension].units[self.written_unit] if self.dimension else 1.0

    @overload
    def shown(self, value: float) -> float: ...

    @overload
    def shown(self, value: FloatArray) -> FloatArray: ...

    def shown(self, value: float | FloatArray) -> float | FloatArray:
        """Convert a stored value, or an array of any shape, to the unit people read."""
        return value / self.scale

    def figure(self, value: float) -> str:
        """Write a stored value in the unit people read, without the unit."""
        if not math.isfinite(value):
            return NOT_COMPUTED
        rounded = round(self.shown(value), self.decimals) + 0.0  # + 0.0 turns -0.0 into 0.0
        return f"{rounded:.{self.decimals}f}".replace("-", "\N{MINUS SIGN}")

    def text(self, value: float) -> str:
        """Write a stored value with its unit."""
        if not math.isfinite(value) or not self.unit:
            return self.figure(value)
        return f"{self.figure(value)}{GAP}{self.unit}"

    @property
    def axis_label(self) -> str:
        """The unit as it stands at the head of a plot."""
        return self.spoken_unit or self.unit


_KNOWN = (
    Presentation("time", "time from first dressing", "time", "min", 0),
    Presentation("core_temperature", "core temperature", "temperature", "degC", 2),
    Presentation("core_rise", "core rise", "temperature_difference", "K", 2),
    Presentation("mean_skin_temperature", "mean skin", "temperature", "degC", 1),
    Presentation("lowest_skin_temperature", "coldest skin", "temperature", "degC", 1),
    Presentation("heart_rate", "heart rate", "frequency", "bpm", 0, "beats per minute"),
    Presentation("metabolic_rate", "metabolic rate", "power", "W", 0),
    Presentation(
        "heat_storage", "heat storage", "specific_energy", "kJ/kg", 1, "kJ per kg body mass"
    ),
    Presentation("sweat_rate", "sweat rate", "mass_flow", "g/min", 1),
    Presentation("body_water_loss", "body water loss", "fraction", "%", 2, "% of body mass"),
    Presentation("skin_wettedness", "skin wettedness", "fraction", "%", 0, "% of the skin wet"),
    Presentation("reservoir_temperature", "reservoir water", "temperature", "degC", 1),
    Presentation("water_inlet_temperature", "water into garment", "temperature", "degC", 1),
    Presentation("water_outlet_temperature", "water out of the garment", "temperature", "degC", 1),
    Presentation("water_flow", "water flow", "volume_flow", "L/min", 2),
    Presentation("garment_heat", "heat taken by the garment", "power", "W", 0),
    Presentation("ice_mass", "ice left", "mass", "kg", 2),
    Presentation("inspired_co2", "inspired CO₂", "pressure", "kPa", 2),
    Presentation("inspired_o2", "inspired O₂", "pressure", "kPa", 1),
    Presentation("helmet_co2", "helmet CO₂", "pressure", "kPa", 2),
    Presentation("helmet_o2", "helmet O₂", "pressure", "kPa", 1),
    Presentation("skin_temperature", "skin", "temperature", "degC", 1),
    Presentation("air_temperature", "air outside", "temperature", "degC", 1),
    Presentation("pump_pressure", "pressure of the pump", "pressure", "kPa", 1),
    Presentation("garment_pressure", "pressure in the garment", "pressure", "kPa", 1),
    Presentation("helmet_temperature", "helmet air", "temperature", "degC", 1),
    Presentation("helmet_humidity", "helmet humidity", "fraction", "%", 0, "% relative humidity"),
    Presentation(
        "fog_margin", "visor fog margin", "temperature_difference", "K", 1, "K above the dew point"
    ),
    Presentation("air_flow", "air flow", "volume_flow", "L/min", 0),
    Presentation("battery_charge", "battery charge", "fraction", "%", 0, "% of full charge"),
    Presentation("battery_voltage", "battery voltage", "voltage", "V", 2),
    Presentation("suit_air_temperature", "suit air", "temperature", "degC", 1),
    Presentation("load_fraction", "carried load", "fraction", "%", 0, "% of body mass"),
    Presentation("skin_core_gap", "core over mean skin", "temperature_difference", "K", 1),
    Presentation("heat_production", "heat made in the body", "power", "W", 0),
    Presentation("head_core_temperature", "head core", "temperature", "degC", 2),
    Presentation("central_blood_temperature", "central blood", "temperature", "degC", 2),
    Presentation("evaporation", "heat carried off by evaporation", "power", "W", 0),
)
_BY_QUANTITY = {known.quantity: known for known in _KNOWN}

MASS = Presentation("mass", "mass", "mass", "kg", 1)
MASS_FINE = Presentation("mass", "mass", "mass", "kg", 2)
SHARE = Presentation("share", "share", "fraction", "%", 0)
POWER = Presentation("power", "power", "power", "W", 0)
SHIFT = Presentation("shift", "shift", "length", "mm", 0)
PRESSURE = Presentation("pressure", "pressure", "pressure", "kPa", 0)


def litres_of_water(mass: float) -> str:
    """Write a mass of water to drink [kg] as litres, a kilogram of it being about one litre."""
    return f"{MASS.figure(mass)}{GAP}L" if math.isfinite(mass) else NOT_COMPUTED


def presentation_of(quantity: str) -> Presentation:
    """Find how a quantity is shown; one without an entry keeps its name and its stored value.

    Args:
        quantity: Name of a trace column.

    Returns:
        Its words and unit.
    """
    unlisted = Presentation(quantity, quantity.replace("_", " "), "", "", 3)
    return _BY_QUANTITY.get(quantity, unlisted)


_ASCII = {
    "°C": "degC",
    "°": "deg",
    "\u00a0": " ",
    "\u202f": " ",
    "–": "-",
    "—": "-",
    "−": "-",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
    "…": "...",
    "·": "-",
    "×": "x",
    "±": "+/-",
    "≤": "<=",
    "≥": ">=",
    "≈": "about ",
    "→": "->",
    "µ": "u",
    "½": "1/2",
    "²": "2",
    "³": "3",
    "₂": "2",
}


def plain_ascii(text: str) -> str:
    """Rewrite a text in the 95 printable characters that every terminal and log file can hold.

    Accents are dropped; a letter that has no plain counterpart becomes a question mark.
    """
    for fancy, plain in _ASCII.items():
        text = text.replace(fancy, plain)
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" or c == "\n" else "?" for c in bare)
