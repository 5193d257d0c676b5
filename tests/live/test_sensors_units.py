"""Units that sensors send, held against an independent UCUM parser and the SenML registry."""

from __future__ import annotations

import pytest
import ucumvert
from tests.live.sensor_worlds import sensor

from neckring.constants import MOLAR_VOLUME
from neckring.live.sensors.channels import channel_of
from neckring.live.sensors.gas_reference import GasConditions, actual_flow, partial_pressure
from neckring.live.sensors.units_sent import SENML_UNITS, UnitError, unit_sent
from neckring.station.sensed import SENSED
from neckring.station.ucum import ANNOTATION_HINT, CODES, UnitCodeKind

SI = {
    "temperature": "degC",
    "frequency": "1/s",
    "volume_flow": "m**3/s",
    "pressure": "Pa",
    "voltage": "V",
    "fraction": "dimensionless",
}


@pytest.fixture(scope="module")
def registry() -> ucumvert.PintUcumRegistry:
    return ucumvert.PintUcumRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("code", CODES)
def test_every_code_means_what_an_independent_parser_reads(
    code: str, registry: ucumvert.PintUcumRegistry
) -> None:
    # Given an independent UCUM parser with its own unit definitions (ucumvert, pint)
    known = CODES[code]
    unit = registry.from_ucum(code).units
    for number in (1.0, 37.5):
        expected = registry.Quantity(number, unit).to(SI[known.dimension]).magnitude
        # Then both agree; conventional mmHg and cmH2O are rounded differently by some
        assert known.to_si(number) == pytest.approx(expected, rel=1e-4 if "[H" in code else 1e-9)


def test_others_drop_annotations_without_a_word_so_they_are_refused_here(
    registry: ucumvert.PintUcumRegistry,
) -> None:
    # Given a flow at standard conditions, which the independent parser takes for any flow
    assert registry.from_ucum("L/min{STP}") == registry.from_ucum("L/min")
    # When it is written here, then it is refused, and the way to say it is named
    with pytest.raises(ValueError, match="annotation") as refused:
        UnitCodeKind().read("L/min{STP}")
    assert refused.value.hint == ANNOTATION_HINT
    assert "reference" in ANNOTATION_HINT


# Source: RFC 8428, section 12.1: symbol and what one of it is; note 1 for "%": an absolute ratio.
PRIMARY = {
    ("Cel", 20.0): 20.0,
    ("K", 293.15): 20.0,
    ("Pa", 5.0): 5.0,
    ("V", 5.0): 5.0,
    ("m3/s", 5.0): 5.0,
    ("l/s", 5.0): 5e-3,
    ("Hz", 5.0): 5.0,
    ("1/s", 5.0): 5.0,
    ("1/min", 60.0): 1.0,
    ("beat/min", 60.0): 1.0,
    ("/", 0.45): 0.45,
    ("%", 0.45): 0.45,
    ("%RH", 45.0): 0.45,
    ("%EL", 45.0): 0.45,
}
# Source: RFC 8798, section 3, scale of each secondary unit.
SECONDARY = {
    ("mV", 1.0): 1 / 1000,
    ("hPa", 1.0): 100.0,
    ("/100", 1.0): 1 / 100,
    ("/1000", 1.0): 1 / 1000,
    ("ppm", 1.0): 1e-6,
}


@pytest.mark.parametrize(("sent", "si"), [*PRIMARY.items(), *SECONDARY.items()])
def test_units_of_the_senml_registry(sent: tuple[str, float], si: float) -> None:
    unit, number = sent
    assert SENML_UNITS[unit].to_si(number) == pytest.approx(si, rel=1e-12)
    assert {each for each, _ in (*PRIMARY, *SECONDARY)} == set(SENML_UNITS)


def test_a_percent_sign_is_a_ratio_in_a_pack_and_a_percentage_in_a_line() -> None:
    assert unit_sent("%", ("fraction",), registry=True).to_si(0.45) == pytest.approx(0.45)
    assert unit_sent("%", ("fraction",), registry=False).to_si(45.0) == pytest.approx(0.45)


@pytest.mark.parametrize(
    ("unit", "words"),
    [("kPa", "another quantity"), ("degC", "is not known"), ("Cell", 'did you mean "Cel"')],
)
def test_a_unit_that_does_not_fit_is_told(unit: str, words: str) -> None:
    with pytest.raises(UnitError) as refused:
        unit_sent(unit, ("temperature",))
    assert words in str(refused.value)


def test_registry_has_no_kilopascals_so_ucum_is_taken_as_well() -> None:
    assert unit_sent("kPa", ("pressure",)).to_si(2.0) == 2000.0
    assert unit_sent("L/min", ("volume_flow",)).to_si(60.0) == pytest.approx(1e-3)


def test_litres_at_one_atmosphere_and_zero_as_litres_at_one_bar() -> None:
    # Given the molar volumes of an ideal gas at 273.15 K and 101.325 kPa, and at 100 kPa
    # Source: CODATA 2018: 22.413 969 54e-3 and 22.710 954 64e-3 m3/mol
    at_bar = actual_flow(MOLAR_VOLUME, GasConditions(0.0, 101_325.0), GasConditions(0.0, 100_000.0))
    assert at_bar == pytest.approx(22.710_954_64e-3, rel=1e-9)


def test_normal_litres_as_standard_litres() -> None:
    # Source: encyclopedia article "Standard litre per minute": a litre a minute at 20 degC and
    # 14.696 psi is 0.94411 at 0 degC and 14.504 psi.
    psi = CODES["[psi]"].to_si(1.0)
    stated = actual_flow(1.0, GasConditions(20.0, 14.696 * psi), GasConditions(0.0, 14.504 * psi))
    assert stated == pytest.approx(0.94411, abs=5e-6)


def test_there_and_back_is_the_same_flow() -> None:
    cold, warm = GasConditions(0.0, 101_325.0), GasConditions(31.0, 89_000.0)
    assert actual_flow(actual_flow(2.5e-3, cold, warm), warm, cold) == pytest.approx(2.5e-3)


def test_one_per_cent_of_carbon_dioxide_at_sea_level() -> None:
    # Source: Dalton's law; docs/station.md gives 1.01 kPa.
    assert partial_pressure(0.01, 101_325.0) == pytest.approx(1013.25)


@pytest.mark.parametrize("quantity", SENSED)
def test_what_is_assumed_of_each_quantity_is_itself_acceptable(quantity: str) -> None:
    # Given a sensor of which nothing is written that may be left out
    sensed = SENSED[quantity]
    code = next(c for c, known in CODES.items() if known.dimension == sensed.dimension)
    written: dict[str, object] = {"reference": "actual"} if quantity == "air_flow" else {}
    made = channel_of(sensor(channel="x", measures=quantity, unit=code, every="1 s", **written))
    # When its assumptions are written out, then they mean the same
    spelled = channel_of(
        sensor(
            channel="x",
            measures=quantity,
            unit=code,
            every="1 s",
            plausible=sensed.plausible,
            jump=sensed.jump,
            accuracy=sensed.accuracy,
            frozen_after=sensed.frozen_after,
            **written,
        )
    )
    assert made == spelled
    assert made.expected.low < made.expected.high
    assert made.expected.accuracy < made.expected.high - made.expected.low
