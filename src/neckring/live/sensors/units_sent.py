"""Units as sensors name them: those of the SenML registry first, then UCUM codes.

One trap is in the registry itself: its `%` is not a percentage. It is another name for `/`, a plain
ratio of 0 to 1; percentages are `/100`, `%RH` and `%EL`.

Source: RFC 8428, section 12.1, table of SenML units with its notes; secondary units RFC 8798,
section 3. Kilopascals and litres a minute are in neither, so that UCUM codes are taken as well.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping

from neckring.station.fault import listed
from neckring.station.ucum import CODES, UnitCode, codes_of

_PRIMARY = (
    UnitCode("Cel", "temperature", "degC"),
    UnitCode("K", "temperature", "K"),
    UnitCode("Pa", "pressure", "Pa"),
    UnitCode("V", "voltage", "V"),
    UnitCode("m3/s", "volume_flow", "m3/s"),
    UnitCode("l/s", "volume_flow", "L/s"),
    UnitCode("Hz", "frequency", "Hz"),
    UnitCode("1/s", "frequency", "1/s"),
    UnitCode("1/min", "frequency", "1/min"),
    UnitCode("beat/min", "frequency", "1/min"),
    UnitCode("/", "fraction", "%", 100.0),
    UnitCode("%", "fraction", "%", 100.0),
    UnitCode("%RH", "fraction", "%"),
    UnitCode("%EL", "fraction", "%"),
)

_SECONDARY = (
    UnitCode("mV", "voltage", "mV"),
    UnitCode("hPa", "pressure", "hPa"),
    UnitCode("/100", "fraction", "%"),
    UnitCode("/1000", "fraction", "%", 0.1),
    UnitCode("ppm", "fraction", "%", 1e-4),
)

SENML_UNITS: Mapping[str, UnitCode] = {each.code: each for each in (*_PRIMARY, *_SECONDARY)}
"""Units of the registry in which something of a suit may be measured."""


class UnitError(ValueError):
    """A unit that is not known, or one of another kind of quantity; in words."""


def unit_sent(name: str, dimensions: tuple[str, ...], registry: bool = True) -> UnitCode:
    """Find the unit that a message names.

    Args:
        name: As sent.
        dimensions: In which the channel may be measured.
        registry: Whether names of the SenML registry count before UCUM codes: in packs they do,
            in plain lines a % is a percentage.

    Raises:
        UnitError: It is not known, or another quantity's.
    """
    found = (SENML_UNITS.get(name) if registry else None) or CODES.get(name)
    found = found or SENML_UNITS.get(name)
    if found is None:
        near = difflib.get_close_matches(name, [*SENML_UNITS, *CODES], n=1)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        raise UnitError(f'the unit "{name[:40]}" is not known{hint}')
    if found.dimension not in dimensions:
        accepted = listed(codes_of(*dimensions))
        raise UnitError(f'"{name}" is a unit of another quantity; accepted: {accepted}')
    return found
