"""Every unit that may be written, with its factor to SI.

Factors are exact by definition (SI Brochure 2019; NIST SP 811 for foot, pound and mile; mmHg as
the conventional 133.322 387 415 Pa of ISO 80000-4) except the clo, 0.155 m2 K/W (ISO 9920:2007).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

ABSOLUTE_TEMPERATURE = "temperature"
FRACTION = "fraction"


@dataclass(frozen=True)
class Dimension:
    """One dimension of quantity and the units it may be written in.

    Attributes:
        name: Key of the dimension.
        words: The dimension with its article, for messages.
        units: Unit to factor; SI value = number x factor + offset.
        listed: The units named in messages, the most usual first.
        shown: The units for showing values, the smallest first.
        offsets: Added after scaling, for temperatures.
        synonyms: Other accepted spellings of a unit.
    """

    name: str
    words: str
    units: Mapping[str, float]
    listed: tuple[str, ...] = ()
    shown: tuple[str, ...] = ()
    offsets: Mapping[str, float] = field(default_factory=dict)
    synonyms: Mapping[str, str] = field(default_factory=dict)

    def offset(self, unit: str) -> float:
        """What is added after scaling [SI]."""
        return self.offsets.get(unit, 0.0)

    def spelled(self, unit: str) -> str:
        """The table's spelling of a unit, or the unit itself when it is unknown."""
        closed = unit.replace(" /", "/").replace("/ ", "/").replace("^", "")
        return self.synonyms.get(closed, closed)


_MINUTE, _HOUR = 60.0, 3600.0
_LITRE, _MILLILITRE = 1e-3, 1e-6
_FAHRENHEIT = 5.0 / 9.0
_MMHG = 133.322387415


def _dimension(
    name: str,
    words: str,
    units: dict[str, float],
    *,
    shown: str,
    synonyms: dict[str, str] | None = None,
    offsets: dict[str, float] | None = None,
) -> Dimension:
    synonyms = synonyms or {}
    return Dimension(
        name, words, units, tuple(units), tuple(shown.split(" ")), offsets or {}, synonyms
    )


_ALL = (
    _dimension(
        ABSOLUTE_TEMPERATURE,
        "a temperature",
        {"degC": 1.0, "degF": _FAHRENHEIT, "K": 1.0},
        shown="degC",
        offsets={"degF": -32.0 * _FAHRENHEIT, "K": -273.15},
        synonyms={"°C": "degC", "°F": "degF", "° C": "degC", "° F": "degF"},
    ),
    _dimension("temperature_difference", "a temperature difference", {"K": 1.0}, shown="K"),
    _dimension(
        "length",
        "a length",
        {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "ft": 0.3048, "in": 0.0254},
        shown="mm m",
    ),
    _dimension("area", "an area", {"m2": 1.0, "cm2": 1e-4}, shown="m2"),
    _dimension(
        "volume",
        "a volume",
        {"L": _LITRE, "mL": _MILLILITRE, "m3": 1.0},
        shown="mL L",
        synonyms={"l": "L", "ml": "mL"},
    ),
    _dimension("mass", "a mass", {"kg": 1.0, "g": 1e-3, "lb": 0.45359237}, shown="g kg"),
    _dimension("time", "a time", {"min": _MINUTE, "s": 1.0, "h": _HOUR}, shown="s min"),
    _dimension("age", "an age", {"yr": 1.0}, shown="yr", synonyms={"years": "yr", "year": "yr"}),
    _dimension(
        "speed",
        "a speed",
        {"m/s": 1.0, "km/h": 1000.0 / _HOUR, "mph": 1609.344 / _HOUR},
        shown="m/s",
    ),
    _dimension(
        "volume_flow",
        "a flow",
        {
            "L/min": _LITRE / _MINUTE,
            "mL/min": _MILLILITRE / _MINUTE,
            "L/h": _LITRE / _HOUR,
            "L/s": _LITRE,
            "m3/h": 1.0 / _HOUR,
            "m3/s": 1.0,
        },
        shown="mL/min L/min",
        synonyms={"l/min": "L/min", "ml/min": "mL/min", "l/h": "L/h", "l/s": "L/s"},
    ),
    _dimension(
        "flow_coefficient",
        "a flow coefficient Kv",
        {"m3/h": 1.0 / _HOUR, "L/min": _LITRE / _MINUTE},
        shown="m3/h",
        synonyms={"l/min": "L/min"},
    ),
    _dimension(
        "pressure",
        "a pressure",
        {"kPa": 1e3, "Pa": 1.0, "hPa": 1e2, "bar": 1e5, "mbar": 1e2, "mmHg": _MMHG},
        shown="Pa kPa",
    ),
    _dimension("power", "a power", {"W": 1.0, "kW": 1e3}, shown="W"),
    _dimension("conductance", "a conductance", {"W/K": 1.0}, shown="W/K"),
    _dimension(
        "surface_conductance",
        "a conductance per area",
        {"W/m2/K": 1.0},
        shown="W/m2/K",
        synonyms=dict.fromkeys(("W/K/m2", "W/(m2 K)", "W/(m2K)", "W/m2K"), "W/m2/K"),
    ),
    _dimension(
        "mass_conductance",
        "a conductance per mass",
        {"W/K/kg": 1.0},
        shown="W/K/kg",
        synonyms=dict.fromkeys(("W/kg/K", "W/(kg K)", "W/(K kg)"), "W/K/kg"),
    ),
    _dimension(
        "insulation",
        "an insulation",
        {"clo": 0.155, "m2 K/W": 1.0},
        shown="clo",
        synonyms=dict.fromkeys(("m2K/W", "K m2/W", "m2*K/W"), "m2 K/W"),
    ),
    _dimension("heat_capacity", "a heat capacity", {"kJ/K": 1e3, "J/K": 1.0}, shown="J/K kJ/K"),
    _dimension(
        "specific_energy",
        "an energy per mass",
        {"kJ/kg": 1e3, "J/kg": 1.0, "J/g": 1e3},
        shown="kJ/kg",
    ),
    _dimension("irradiance", "a power per area", {"W/m2": 1.0}, shown="W/m2"),
    _dimension("areal_mass", "a mass per area", {"g/m2": 1e-3, "kg/m2": 1.0}, shown="g/m2"),
    _dimension("voltage", "a voltage", {"V": 1.0, "mV": 1e-3}, shown="V"),
    _dimension(
        "charge",
        "an electric charge",
        {"Ah": _HOUR, "mAh": 3.6},
        shown="Ah",
        synonyms={"A h": "Ah", "mA h": "mAh"},
    ),
    _dimension(
        "resistance",
        "a resistance",
        {"ohm": 1.0, "mohm": 1e-3},
        shown="ohm",
        synonyms={"Ω": "ohm", "mΩ": "mohm", "Ohm": "ohm"},
    ),
    _dimension(FRACTION, "a percentage", {"%": 1e-2}, shown="%"),
    _dimension("number", "a plain number", {"": 1.0}, shown=""),
    _dimension(
        "frequency",
        "a rate",
        {"bpm": 1.0 / _MINUTE, "1/min": 1.0 / _MINUTE, "1/s": 1.0, "Hz": 1.0},
        shown="bpm",
        synonyms={"/min": "1/min", "/s": "1/s"},
    ),
    _dimension(
        "oxygen_uptake",
        "an oxygen uptake",
        {"mL/kg/min": _MILLILITRE / _MINUTE},
        shown="mL/kg/min",
        synonyms=dict.fromkeys(("ml/kg/min", "mL/min/kg", "ml/min/kg", "mL/(kg min)"), "mL/kg/min"),
    ),
)

DIMENSIONS: Mapping[str, Dimension] = {dimension.name: dimension for dimension in _ALL}
"""All dimensions by name."""

OTHER_SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "c": ("degC",),
    "deg": ("degC",),
    "celsius": ("degC",),
    "degc": ("degC",),
    "f": ("degF",),
    "fahrenheit": ("degF",),
    "kelvin": ("K",),
    "kph": ("km/h",),
    "kmh": ("km/h",),
    "kmph": ("km/h",),
    "mps": ("m/s",),
    "lpm": ("L/min",),
    "slpm": ("L/min",),
    "percent": ("%",),
    "pct": ("%",),
    "sec": ("s",),
    "second": ("s",),
    "seconds": ("s",),
    "mins": ("min",),
    "minute": ("min",),
    "minutes": ("min",),
    "hr": ("h",),
    "hrs": ("h",),
    "hour": ("h",),
    "hours": ("h",),
    "y": ("yr",),
    "yrs": ("yr",),
    "kgs": ("kg",),
    "kilo": ("kg",),
    "gram": ("g",),
    "grams": ("g",),
    "lbs": ("lb",),
    "metre": ("m",),
    "metres": ("m",),
    "meter": ("m",),
    "meters": ("m",),
    "watt": ("W",),
    "watts": ("W",),
    "torr": ("mmHg",),
    "beats/min": ("bpm",),
    "volt": ("V",),
    "volts": ("V",),
    "ml/kg": ("mL/kg/min",),
    "clos": ("clo",),
}
"""Spellings that are refused but understood well enough to name the right one."""
