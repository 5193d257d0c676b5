"""The UCUM codes in which a sensor's unit may be written: a closed table onto `neckring.units`.

UCUM, the Unified Code for Units of Measure, spells a unit in one way only: `Cel`, `mm[Hg]`,
`[ppm]`. It also allows annotations in braces, `L/min{STP}`, which mean nothing to whoever reads
the code: a parser drops them, and a flow at 0 degC becomes one at body temperature. So they are
refused here, and the conditions of a gas flow stand in a key of their own.

Source: Schadow and McDonald, The Unified Code for Units of Measure, version 2.1 (2017), sections 2
to 4, for spelling and factors; the tests hold every code against an independent UCUM parser.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from neckring.station.fields import Accepted, Kind, UnacceptableError
from neckring.units import convert

_CUBIC_FOOT = 0.3048**3
_GALLON = 231.0 * 0.0254**3
_POUND_FORCE = 0.45359237 * 9.80665


@dataclass(frozen=True)
class UnitCode:
    """One UCUM code.

    Attributes:
        code: As written, letters large and small as they stand.
        dimension: A key of `neckring.units.DIMENSIONS`.
        unit: The unit of that dimension onto which it is led back.
        factor: How many of those it is.
    """

    code: str
    dimension: str
    unit: str
    factor: float = 1.0

    def to_si(self, number: float) -> float:
        """A number in this unit as SI (degC for temperatures)."""
        return convert(number * self.factor, self.unit, self.dimension)


_ALL = (
    UnitCode("Cel", "temperature", "degC"),
    UnitCode("[degF]", "temperature", "degF"),
    UnitCode("K", "temperature", "K"),
    UnitCode("/min", "frequency", "1/min"),
    UnitCode("1/min", "frequency", "1/min"),
    UnitCode("/s", "frequency", "1/s"),
    UnitCode("1/s", "frequency", "1/s"),
    UnitCode("Hz", "frequency", "Hz"),
    UnitCode("L/min", "volume_flow", "L/min"),
    UnitCode("l/min", "volume_flow", "L/min"),
    UnitCode("mL/min", "volume_flow", "mL/min"),
    UnitCode("ml/min", "volume_flow", "mL/min"),
    UnitCode("L/h", "volume_flow", "L/h"),
    UnitCode("l/h", "volume_flow", "L/h"),
    UnitCode("L/s", "volume_flow", "L/s"),
    UnitCode("l/s", "volume_flow", "L/s"),
    UnitCode("m3/h", "volume_flow", "m3/h"),
    UnitCode("m3/s", "volume_flow", "m3/s"),
    # [cft_i] would say the same, but is read as a hundredth of a foot by some.
    UnitCode("[ft_i]3/min", "volume_flow", "m3/s", _CUBIC_FOOT / 60.0),
    UnitCode("[gal_us]/min", "volume_flow", "m3/s", _GALLON / 60.0),
    UnitCode("kPa", "pressure", "kPa"),
    UnitCode("Pa", "pressure", "Pa"),
    UnitCode("hPa", "pressure", "hPa"),
    UnitCode("bar", "pressure", "bar"),
    UnitCode("mbar", "pressure", "mbar"),
    # UCUM itself rounds to 133.322 Pa, three in a million less.
    UnitCode("mm[Hg]", "pressure", "mmHg"),
    UnitCode("cm[H2O]", "pressure", "Pa", 98.0665),
    UnitCode("[psi]", "pressure", "Pa", _POUND_FORCE / 0.0254**2),
    UnitCode("V", "voltage", "V"),
    UnitCode("mV", "voltage", "mV"),
    UnitCode("%", "fraction", "%"),
    UnitCode("1", "fraction", "%", 100.0),
    UnitCode("[ppth]", "fraction", "%", 0.1),
    UnitCode("[ppm]", "fraction", "%", 1e-4),
)

CODES: Mapping[str, UnitCode] = {each.code: each for each in _ALL}
"""Every code that is known."""

OTHER_SPELLINGS: Mapping[str, str] = {
    "degc": "Cel",
    "°c": "Cel",
    "c": "Cel",
    "celsius": "Cel",
    "degf": "[degF]",
    "°f": "[degF]",
    "f": "[degF]",
    "kelvin": "K",
    "bpm": "/min",
    "beat/min": "/min",
    "beats/min": "/min",
    "lpm": "L/min",
    "slpm": "L/min",
    "sccm": "mL/min",
    "cfm": "[ft_i]3/min",
    "[cft_i]/min": "[ft_i]3/min",
    "gpm": "[gal_us]/min",
    "mmhg": "mm[Hg]",
    "torr": "mm[Hg]",
    "cmh2o": "cm[H2O]",
    "psi": "[psi]",
    "ppm": "[ppm]",
    "percent": "%",
    "volt": "V",
    "volts": "V",
}
"""Spellings that are no UCUM codes but are understood well enough to name the right one."""

ANNOTATION_HINT = (
    "whoever reads a code drops what stands in braces; write the bare code, and the conditions of "
    'a gas flow under reference, as in "reference: {temperature: 0 degC, pressure: 101.325 kPa}"'
)


def codes_of(*dimensions: str) -> tuple[str, ...]:
    """The codes of some dimensions, the most usual first."""
    return tuple(code for code, known in CODES.items() if known.dimension in dimensions)


@dataclass(frozen=True)
class UnitCodeKind(Kind):
    """A UCUM code of the table."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> UnitCode:
        """Find the code; letters count as they stand."""
        if "{" in text or "}" in text:
            raise UnacceptableError("a code with an annotation", ANNOTATION_HINT)
        found = CODES.get(text)
        if found is None:
            raise UnacceptableError(hint=_nearest(text))
        return found

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """All codes."""
        return f"a UCUM code, in quotes when it has brackets or is a %: {', '.join(CODES)}"

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """The codes."""
        return {"type": "string", "description": "UCUM code", "examples": list(CODES)}


def _nearest(text: str) -> str:
    folded = {code.lower(): code for code in CODES}
    known = OTHER_SPELLINGS.get(text.lower()) or folded.get(text.lower())
    if known is None:
        near = difflib.get_close_matches(text, CODES, n=1)
        known = near[0] if near else None
    return f'did you mean "{known}"?' if known else ""
