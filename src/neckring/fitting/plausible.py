"""Measures that do not go together: a wrong unit, an exchanged figure, another place measured."""

from __future__ import annotations

from typing import NamedTuple

from neckring.fitting.measures import ERRORS
from neckring.fitting.survey import CORE, KNOWN, correlations, deviate_of, expected, value_at
from neckring.station.body_measures import kind_of
from neckring.station.wearer import Wearer
from neckring.units import DIMENSIONS

FAR = 4.0
"""Deviations from what stature and mass say beyond which a measure is told [1]. One right measure
in some ten thousand lies so far off if the curve is normal; the ends of real ones are longer."""

OTHER_UNITS = ("mm", "cm", "in", "ft")


class Unlikely(NamedTuple):
    """A measure unlike the rest of its body.

    Attributes:
        keys: Path to it in the wearer's file.
        value: As read [m] or [kg].
        likely: What stature and mass say [m] or [kg].
        deviations: How far off it is [1].
        meant: What it may have been, as text; may be empty.
    """

    keys: tuple[str, ...]
    value: float
    likely: float
    deviations: float
    meant: str


def unlikely_measures(wearer: Wearer) -> list[Unlikely]:
    """Every measure of a wearer that is far from what the others say."""
    found = [*_unlikely_mass(wearer)]
    for name in KNOWN:
        written = getattr(wearer.measures, name, None)
        if written is not None and name not in CORE[:2]:
            likely, deviation = expected(
                name, wearer.sex, wearer.height.nominal, wearer.mass.nominal
            )
            off = (written.nominal - likely) / (deviation**2 + ERRORS[name] ** 2) ** 0.5
            if abs(off) > FAR:
                meant = _meant(name, written.text, likely, deviation)
                keys = ("measures", name)
                found.append(Unlikely(keys, written.nominal, likely, off, meant))
    return found


POUND = DIMENSIONS["mass"].units["lb"]


def _unlikely_mass(wearer: Wearer) -> list[Unlikely]:
    """Body mass against stature: pounds typed as kilograms stand out."""
    sex, mass = wearer.sex, wearer.mass.nominal
    tie = float(correlations(CORE[:2], sex)[0, 1])
    centre = tie * deviate_of("stature", sex, wearer.height.nominal)
    left = (1.0 - tie * tie) ** 0.5
    off = (deviate_of("body_mass", sex, mass) - centre) / left
    if abs(off) <= FAR:
        return []
    other = (deviate_of("body_mass", sex, mass * POUND) - centre) / left
    meant = f"{mass:g} lb" if abs(other) < 2.0 else ""
    return [Unlikely(("mass",), mass, float(value_at("body_mass", sex, centre)), off, meant)]


def _meant(name: str, text: str, likely: float, deviation: float) -> str:
    """The same figure in another unit, when that lies where it should."""
    number = text.split()[0]
    low, high = kind_of(name).bounds
    for unit in OTHER_UNITS:
        try:
            value = float(number) * DIMENSIONS["length"].units[unit]
        except ValueError:
            return ""
        if low <= value <= high and abs(value - likely) < 2.0 * deviation:
            return f"{number} {unit}"
    return ""
