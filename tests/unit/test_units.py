"""Text becomes SI floats and back, in one place, by a table which a units library confirms."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.unit_table import DIMENSIONS, OTHER_SPELLINGS
from neckring.units import (
    Quantity,
    QuantityError,
    accepted_units,
    convert,
    format_quantity,
    parse_quantity,
)

# How the library spells what people write, where it differs; clo by its definition in ISO 9920.
IN_PINT = {
    "bpm": "1/min",
    "yr": "year",
    "clo": "0.155 m**2*K/W",
    "m2 K/W": "m**2*K/W",
    "W/m2/K": "W/m**2/K",
    "W/m2": "W/m**2",
    "g/m2": "g/m**2",
    "kg/m2": "kg/m**2",
    "m2": "m**2",
    "cm2": "cm**2",
    "m3": "m**3",
    "m3/h": "m**3/h",
    "m3/s": "m**3/s",
    "Ah": "A*h",
    "mAh": "mA*h",
    "in": "inch",
    "mohm": "milliohm",
    "%": "percent",
    "": "dimensionless",
}

# The unit in which each dimension is kept inside.
SI = {
    "temperature": "degC",
    "temperature_difference": "K",
    "length": "m",
    "area": "m**2",
    "volume": "m**3",
    "mass": "kg",
    "time": "s",
    "age": "year",
    "speed": "m/s",
    "volume_flow": "m**3/s",
    "flow_coefficient": "m**3/s",
    "pressure": "Pa",
    "power": "W",
    "conductance": "W/K",
    "surface_conductance": "W/m**2/K",
    "mass_conductance": "W/K/kg",
    "insulation": "m**2*K/W",
    "heat_capacity": "J/K",
    "specific_energy": "J/kg",
    "irradiance": "W/m**2",
    "areal_mass": "kg/m**2",
    "voltage": "V",
    "charge": "A*s",
    "resistance": "ohm",
    "fraction": "dimensionless",
    "number": "dimensionless",
    "frequency": "1/s",
    "oxygen_uptake": "m**3/kg/s",
}

EVERY_UNIT = [(name, unit) for name, known in DIMENSIONS.items() for unit in known.units]
LIBRARY = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize(("dimension", "unit"), EVERY_UNIT)
def test_every_factor_agrees_with_the_units_library(dimension: str, unit: str) -> None:
    # Source: pint's unit definitions (NIST SP 811, SI Brochure).
    spelled = IN_PINT.get(unit, unit)
    for number in (1.0, 37.5):
        if dimension == "temperature":
            expected = LIBRARY.Quantity(number, spelled).to("degC").magnitude
        else:
            expected = (number * LIBRARY(spelled)).to(SI[dimension]).magnitude
        assert convert(number, unit, dimension) == pytest.approx(expected, rel=1e-12, abs=1e-10)


@pytest.mark.parametrize(
    ("text", "dimension", "nominal"),
    [
        ("1.8 L/min", "volume_flow", 3e-5),
        ("6 degC", "temperature", 6.0),
        ("279.15 K", "temperature", 6.0),
        ("42.8 degF", "temperature", 6.0),
        ("-40 °C", "temperature", -40.0),
        ("−5 degC", "temperature", -5.0),
        ("30 W/K", "conductance", 30.0),
        ("45 %", "fraction", 0.45),
        ("34 yr", "age", 34.0),
        ("62 bpm", "frequency", 62 / 60),
        ("62 /min", "frequency", 62 / 60),
        ("42 mL/kg/min", "oxygen_uptake", 7e-7),
        ("1.6 clo", "insulation", 0.248),
        ("300 g/m2", "areal_mass", 0.3),
        ("300 g/m²", "areal_mass", 0.3),
        ("40 W/K/kg", "mass_conductance", 40.0),
        ("12min", "time", 720.0),
        ("0.35 m3/h", "flow_coefficient", 0.35 / 3600),
        ("1\u202f% ", "fraction", 0.01),
        ("1.05", "number", 1.05),
        ("1e3 m", "length", 1000.0),
        ("760 mmHg", "pressure", 101325.0),
        ("7.8 Ah", "charge", 28080.0),
        ("9 W/m2/K", "surface_conductance", 9.0),
    ],
)
def test_an_exact_quantity(text: str, dimension: str, nominal: float) -> None:
    read = parse_quantity(text, dimension)
    assert read.nominal == pytest.approx(nominal, rel=1e-6)
    assert read.low == read.high == read.nominal
    assert (read.spread, read.text, read.kind, read.deviation) == ("exact", text, dimension, 0.0)


@pytest.mark.parametrize(
    "text", ["30 W/K +/- 6", "30 +/- 6 W/K", "30 W/K ± 6", "30 W/K +- 6 W/K", "30 W/K+/-6"]
)
def test_the_figure_after_plus_minus_is_one_standard_deviation(text: str) -> None:
    read = parse_quantity(text, "conductance")
    assert (read.nominal, read.low, read.high, read.spread) == (30.0, 18.0, 42.0, "normal")
    assert read.deviation == pytest.approx(6.0)


def test_a_range_is_uniform_about_its_middle() -> None:
    read = parse_quantity("20..40 W/K", "conductance")
    assert (read.nominal, read.low, read.high, read.spread) == (30.0, 20.0, 40.0, "range")
    # Standard deviation of a uniform spread, its width over the root of 12.
    assert read.deviation == pytest.approx(20.0 / math.sqrt(12.0))
    assert parse_quantity("20 W/K .. 40 W/K", "conductance").high == 40.0
    assert parse_quantity("20…40 W/K", "conductance").low == 20.0
    assert parse_quantity("20..20 W/K", "conductance").spread == "exact"


@pytest.mark.parametrize(
    ("text", "nominal", "deviation"),
    [("16 degC +/- 2", 16.0, 2.0), ("61 degF +/- 9", 16.111, 5.0), ("289.15 K +/- 2 K", 16.0, 2.0)],
)
def test_a_spread_of_temperatures_is_a_difference(
    text: str, nominal: float, deviation: float
) -> None:
    read = parse_quantity(text, "temperature")
    assert read.nominal == pytest.approx(nominal, abs=1e-3)
    assert read.deviation == pytest.approx(deviation)


@pytest.mark.parametrize(
    ("text", "dimension", "read_as", "hint"),
    [
        ("", "mass", "nothing", ""),
        ("66", "mass", "a number without a unit", '"66 kg"'),
        ("66 W/K", "mass", "a conductance", ""),
        ("66 kgs", "mass", 'the unknown unit "kgs"', '"66 kg"'),
        ("0.7 kph", "speed", 'the unknown unit "kph"', '"0.7 km/h"'),
        ("5 L/mn", "volume_flow", 'the unknown unit "L/mn"', '"5 L/min"'),
        ("6 C", "temperature", 'the unknown unit "C"', '"6 degC"'),
        ("2 degC", "temperature_difference", "a temperature", "in K"),
        ("0.45", "fraction", "a number without a unit", '"45 %"'),
        ("1,8 L/min", "volume_flow", "a number with a comma", '"1.8 L/min"'),
        ("1 000 m", "length", "a number with a gap in it", "together"),
        ("1\u2009000 m", "length", "a number with a gap in it", "together"),
        ("20-40 W/K", "conductance", "a range with a dash", '"20..40 W/K"'),
        ("20–40 W/K", "conductance", "a range with a dash", '"20..40 W/K"'),
        ("40..20 W/K", "conductance", "a range that runs backwards", "smaller"),
        ("30 W/K +/-", "conductance", "an unfinished spread", "+/-"),
        ("1..2..3 W/K", "conductance", "an unfinished spread", ".."),
        ("30 W/K +/- 10 %", "conductance", "a spread in per cent", "W/K"),
        ("30 W/K +/- -6", "conductance", "a negative spread", "minus"),
        ("nan kg", "mass", "not a finite number", ""),
        (".NaN", "mass", "not a finite number", ""),
        ("-.inf", "mass", "not a finite number", ""),
        ("infinity kg", "mass", "not a finite number", ""),
        ("1e999 kg", "mass", "not a finite number", "too large"),
        ("1e308 km", "length", "not a finite number", "too large"),
        ("16 degC +/- 2 foo", "temperature", 'the unknown unit "foo"', ""),
        ("10:00", "time", 'the unknown unit ":00"', ""),
        ("about 5 kg", "mass", "text without a number at its start", ""),
        ("５ kg", "mass", "text without a number at its start", ""),
        ("9" * 200, "mass", "a long text", ""),
    ],
)
def test_what_is_refused_is_named_and_mended(
    text: str, dimension: str, read_as: str, hint: str
) -> None:
    with pytest.raises(QuantityError) as refused:
        parse_quantity(text, dimension)
    assert refused.value.read_as == read_as
    assert hint in refused.value.hint


def test_an_unknown_dimension_is_a_mistake_of_the_program() -> None:
    with pytest.raises(KeyError):
        parse_quantity("5 kg", "weight")


@given(st.text(max_size=90), st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_is_read_as_finite_or_refused(text: str, dimension: str) -> None:
    read, refused = None, None
    try:
        read = parse_quantity(text, dimension)
    except QuantityError as error:
        refused = error
    if read is None:
        assert refused is not None
        assert refused.read_as
    else:
        assert all(map(math.isfinite, (read.nominal, read.low, read.high)))
        assert read.low <= read.nominal <= read.high


@given(st.sampled_from(EVERY_UNIT), st.floats(-1e6, 1e6), st.floats(0, 1e3), st.sampled_from("nr"))
def test_bounds_bracket_the_nominal_value_whatever_the_unit(
    known: tuple[str, str], number: float, spread: float, sort: str
) -> None:
    dimension, unit = known
    text = f"{number!r} {unit} +/- {spread!r}"
    if sort == "r":
        text = f"{number!r}..{number + spread!r} {unit}"
    read = parse_quantity(text, dimension)
    assert read.low <= read.nominal <= read.high
    assert read.deviation >= 0.0


@given(st.sampled_from(sorted(DIMENSIONS)), st.floats(1e-3, 1e5))
def test_what_is_written_for_people_reads_back(dimension: str, value: float) -> None:
    shown = format_quantity(value, dimension)
    again = parse_quantity(shown, dimension)
    assert isinstance(again, Quantity)
    assert again.nominal == pytest.approx(value, rel=6e-4, abs=1e-12)


@pytest.mark.parametrize(
    ("value", "dimension", "shown"),
    [
        (38.5, "temperature", "38.5 degC"),
        (3e-5, "volume_flow", "1.8 L/min"),
        (5e-7, "volume_flow", "30 mL/min"),
        (220e-3 / 60, "volume_flow", "220 L/min"),
        (2530.0, "pressure", "2.53 kPa"),
        (62 / 60, "frequency", "62 bpm"),
        (720.0, "time", "12 min"),
        (45.0, "time", "45 s"),
        (0.45, "fraction", "45 %"),
        (0.0, "time", "0 min"),
        (66.0, "mass", "66 kg"),
        (0.4, "mass", "400 g"),
        (7e-7, "oxygen_uptake", "42 mL/kg/min"),
        (1.05, "number", "1.05"),
    ],
)
def test_people_read_handy_units(value: float, dimension: str, shown: str) -> None:
    assert format_quantity(value, dimension) == shown


def test_a_unit_may_be_chosen() -> None:
    assert format_quantity(2533.1, "pressure", "mmHg") == "19 mmHg"
    assert format_quantity(37.0, "temperature", "degF") == "98.6 degF"


def test_messages_can_list_the_units() -> None:
    assert accepted_units("speed") == "m/s, km/h or mph"
    assert accepted_units("conductance") == "W/K"


def test_misspellings_point_at_units_of_the_table() -> None:
    known = {unit for dimension in DIMENSIONS.values() for unit in dimension.units}
    for meant in OTHER_SPELLINGS.values():
        assert set(meant) <= known
