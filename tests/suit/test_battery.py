"""The battery gives what physics allows, and never more."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.suit import battery as b

HOUR = 3600.0
PACK = b.Battery("lithium_ion", 14.4, 7.8 * HOUR, 0.12, 12.0, 0.95, 1.0)

chemistries = st.sampled_from(["lithium_ion", "lead_acid"])
charges = st.floats(0.0, 1.0)
temperatures = st.floats(-20.0, 60.0)
powers = st.floats(1.0, 60.0)


@given(chemistries, charges, charges)
def test_voltage_rises_with_charge(chemistry, one, other):
    less, more = sorted((one, other))
    assert b.cell_voltage(chemistry, less) <= b.cell_voltage(chemistry, more)


@given(powers, st.floats(8.0, 30.0), st.floats(0.0, 0.25))
def test_the_terminals_give_the_power_asked_for(power, voltage, resistance):
    current = b.load_current(power, voltage, resistance)
    if np.isfinite(current):
        assert current * b.terminal_voltage(power, voltage, resistance) == pytest.approx(power)
        assert b.terminal_voltage(power, voltage, resistance) >= 0.5 * voltage * (1 - 1e-9)
    else:
        assert voltage**2 < 4 * resistance * power


def test_asking_too_much_collapses_the_voltage():
    assert b.load_current(100.0, 10.0, 0.3) == np.inf
    assert b.terminal_voltage(100.0, 10.0, 0.3) == 0.0


@given(chemistries, temperatures)
def test_capacity_bands_are_in_order(chemistry, temperature):
    band = b.capacity_factor(chemistry, temperature)
    assert 0.4 < band.low <= band.likely <= band.high < 1.2


@given(temperatures, powers, powers)
def test_more_power_shorter_life(temperature, one, other):
    less, more = sorted((one, other))
    short = b.life_at_constant_power(PACK, more, temperature)
    long = b.life_at_constant_power(PACK, less, temperature)
    assert all(s <= w * (1 + 1e-9) for s, w in zip(short, long, strict=True))
    assert short.low <= short.likely <= short.high


@given(st.floats(0.2, 1.0), st.floats(0.2, 1.0), powers)
def test_more_charge_longer_life(one, other, power):
    less, more = sorted((one, other))
    lives = [
        b.life_at_constant_power(dataclasses.replace(PACK, start_charge=c), power, 20.0).likely
        for c in (less, more)
    ]
    assert lives[0] <= lives[1] * (1 + 1e-3)


def test_a_cut_off_above_the_start_voltage_leaves_no_time():
    flat = dataclasses.replace(PACK, cut_off_voltage=17.0)
    assert b.life_at_constant_power(flat, 20.0, 20.0).high == 0.0


def test_life_ends_where_the_terminals_reach_the_cut_off():
    # Given a cut-off that the pack reaches at half charge under this load
    half = b.terminal_voltage(20.0, b.open_circuit_voltage(PACK, 0.5), 0.12)
    cut = dataclasses.replace(PACK, cut_off_voltage=half, age_factor=1.0)
    life = b.life_at_constant_power(cut, 20.0, 25.0).likely
    # Then half of the charge has gone out at the mean of the currents on the way
    charge = np.linspace(0.5, 1.0, 2001)
    current = b.load_current(20.0, b.open_circuit_voltage(PACK, charge), 0.12)
    expected = 7.8 * HOUR * np.trapezoid(1.0 / current, charge)
    assert life == pytest.approx(expected, rel=2e-3)


def test_members_side_by_side():
    members = dataclasses.replace(PACK, resistance=np.array([0.1, 0.2, 0.3]))
    lives = b.life_at_constant_power(members, 20.0, np.array([0.0, 10.0, 20.0]))
    alone = b.life_at_constant_power(dataclasses.replace(PACK, resistance=0.2), 20.0, 10.0)
    assert lives.likely.shape == (3,)
    assert lives.likely[1] == pytest.approx(alone.likely)


@pytest.mark.parametrize(("chemistry", "cells"), [("lithium_ion", 4), ("lead_acid", 6)])
def test_the_cubic_stands_for_the_voltage(chemistry, cells):
    pack = dataclasses.replace(
        PACK, chemistry=chemistry, nominal_voltage=cells * b.CELL_VOLTAGE[chemistry]
    )
    charge = np.linspace(0.05, 1.0, 96)
    fitted = np.polynomial.polynomial.polyval(charge, b.voltage_cubic(pack))
    assert np.abs(fitted - b.open_circuit_voltage(pack, charge)).max() < 0.08 * cells


def test_cold_doubles_resistance_every_twenty_kelvin():
    assert b.resistance_at(PACK, np.array([40.0, 25.0, 5.0, -15.0])) == pytest.approx(
        [0.12, 0.12, 0.24, 0.48]
    )


@given(st.floats(1.0, 1.6), st.floats(1.0, 20.0))
def test_peukert_keeps_the_rating_at_the_rated_current(exponent, current):
    rated = b.peukert_time(5.0 * 20 * HOUR, 20 * HOUR, exponent, 5.0)
    assert rated == pytest.approx(20 * HOUR)
    faster = b.peukert_time(5.0 * 20 * HOUR, 20 * HOUR, exponent, 5.0 + current)
    assert faster * (5.0 + current) <= rated * 5.0 * (1 + 1e-12)


@pytest.mark.parametrize("temperature", [-21.0, 61.0, float("nan")])
def test_temperatures_without_data_are_refused(temperature):
    with pytest.raises(ValueError, match="battery temperature is"):
        b.capacity_factor("lithium_ion", temperature)


def test_an_unknown_chemistry_is_refused():
    with pytest.raises(ValueError, match="'lithium_ion', 'lead_acid'"):
        b.cell_voltage("nickel", 0.5)
