"""The harm clock against closed forms, on stations in which only one thing can happen.

The closed forms are written out here, not taken from the code.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from one_balance import Bound, clocks, nearly_none, scenario_of, to_limits, written

from neckring.suit.battery import cell_voltage
from neckring.units import Quantity

Compare = Callable[..., None]

WATER_HEAT = 4186.0  # J/(kg K), from memory; 0.1 % about the value at 15 degC
OUTDOOR_CARBON_DIOXIDE = 420e-6  # share of dry air, as the references state it

REFERENCE_BODY = {
    ("mass",): written("74.43 kg", "mass"),
    ("height",): written("1.724 m", "length"),
    ("body_fat",): written("15 %", "fraction"),
}
"""The body of 65 nodes of Tanabe et al. 2002: 74.43 kg, 1.87 m2."""


# Carbon dioxide in a helmet whose fans stop

BREATHED = 600.0
"""[W], beyond the wearer's greatest uptake, so that as much gas is given off as is taken up."""
PRESSURE = 98_828.0  # Pa at 210 m, ICAO standard atmosphere
SATURATED_30 = 4_247.0  # Pa, vapour pressure at 30 degC, IAPWS-95, from memory
MASS_BALANCE = "mass balance of a well-mixed gas at 30 degC, saturated; VCO2 by ISO 8996"


def stopped_fans(volume: str, leak: Quantity, bound: str, humidity: str = "99 %") -> float:
    """Time from the stop of the fans to a limit of inspired carbon dioxide [s].

    The helmet is put on the moment they stop, and holds the air of the bay.
    """
    rate = {"metabolic_rate": f"{BREATHED:g} W", "for": "2 min", "cooling": "none"}
    air = {
        ("air", "helmet_volume"): written(volume, "volume"),
        ("air", "leak"): leak,
        # The suit's air is fed by the helmet's and gives nothing back: none of the leak is its own.
        ("air", "suit_volume"): nearly_none("volume"),
        ("air", "face_share"): written("100 %", "fraction"),
        ("air", "dead_space"): nearly_none("volume"),
        # A large cold-free window keeps the helmet's air at the bay's temperature and as damp.
        ("visor", "area"): written("0.6 m2", "area"),
        ("visor", "inner_conductance"): written("50 W/m2/K", "surface_conductance"),
    }
    scenario = scenario_of(
        [{**rate, "air": "none", "helmet": "off"}, {**rate, "air": "pack", "helmet": "on"}],
        air,
        {("maximum_oxygen_uptake",): written("15 mL/kg/min", "oxygen_uptake")},
        {"air_temperature": "30 degC", "radiant_temperature": "30 degC", "wind": "3 m/s"}
        | {"relative_humidity": humidity},
    )
    found = clocks("fans", scenario, [Bound("inspired_co2", "above", bound)], at=120.0)
    return to_limits(found)[0]


def carbon_dioxide() -> float:
    """Given off, at 30 degC, saturated, in the helmet's pressure [m3/s].

    ISO 8996 at a respiratory quotient of 1: 5.88 W h per litre, dry, 0 degC, 101325 Pa.
    """
    standard = BREATHED / (5.88 * 3600.0) * 1e-3
    return standard * (303.15 / 273.15) * 101_325.0 / (PRESSURE - SATURATED_30)


def share(kilopascal: float) -> float:
    """Share of the dry gas at a partial pressure [1]."""
    return 1e3 * kilopascal / (PRESSURE - SATURATED_30)


@pytest.mark.parametrize("litres", [6.0, 12.0, 40.0])
def test_sealed_helmet(outside_check: Compare, litres: float) -> None:
    rise = share(3.0) - OUTDOOR_CARBON_DIOXIDE
    outside_check(
        area="harm clock",
        name=f"fans stop, no leak, {litres:g} L: time until 3 kPa of carbon dioxide",
        source=f"t = V (C_limit - C0)/VCO2; {MASS_BALANCE}",
        kind="identity",
        unit="s",
        expected=litres * 1e-3 * rise / carbon_dioxide(),
        tolerance=0.01,
        relative=True,
        obtained=stopped_fans(f"{litres} L", nearly_none("volume_flow"), "3 kPa"),
    )


def approach(litres: float, leak: float, kilopascal: float) -> float:
    """Time until a partial pressure is reached through a leak [L/min] of damp outdoor air [s].

    C = C_end - (C_end - C0) exp(-t Q/V)
    """
    flow = leak * 1e-3 / 60.0
    end = OUTDOOR_CARBON_DIOXIDE + carbon_dioxide() / flow
    left = (end - share(kilopascal)) / (end - OUTDOOR_CARBON_DIOXIDE)
    return -litres * 1e-3 / flow * math.log(left) if left > 0.0 else math.inf


@pytest.mark.parametrize(("litres", "leak"), [(6.0, 6.0), (12.0, 12.0), (12.0, 20.0), (40.0, 50.0)])
def test_leaking_helmet(outside_check: Compare, litres: float, leak: float) -> None:
    outside_check(
        area="harm clock",
        name=f"fans stop, leak {leak:g} L/min, {litres:g} L: time until 3 kPa of carbon dioxide",
        source="t = -V/Q ln((C_end - C_limit)/(C_end - C0)), C_end = C_in + VCO2/Q; "
        f"{MASS_BALANCE}",
        kind="identity",
        unit="s",
        expected=approach(litres, leak, 3.0),
        tolerance=0.01,
        relative=True,
        obtained=stopped_fans(f"{litres} L", written(f"{leak} L/min", "volume_flow"), "3 kPa"),
    )


def test_a_leak_that_keeps_the_limit_away_for_ever(outside_check: Compare) -> None:
    # Given a leak whose steady state lies below the limit, and one whose lies above,
    assert approach(12.0, 67.0, 3.0) == math.inf
    assert approach(12.0, 62.0, 3.0) < math.inf
    never, late = (
        stopped_fans("12 L", written(leak, "volume_flow"), "3 kPa")
        for leak in ("67 L/min", "62 L/min")
    )
    # then only with the second does the clock ever run out.
    assert math.isfinite(late)
    outside_check(
        area="harm clock",
        name="fans stop, leak 67 L/min, 12 L: one over the time until 3 kPa, which never comes",
        source=f"C_end = C_in + VCO2/Q is 2.9 kPa; {MASS_BALANCE}",
        kind="identity",
        unit="1/s",
        expected=0.0,
        tolerance=0.0,
        obtained=1.0 / never,
    )


# Reservoir without ice that only pump and bay warm


@pytest.mark.parametrize(("start", "kilograms"), [("4 degC", 2.5), ("12 degC", 5.0)])
def test_reservoir_warms(outside_check: Compare, start: str, kilograms: float) -> None:
    # Given a pump of 30 W, no ice, and a garment that takes up nothing from the wearer,
    suit = {
        ("reservoir", "ice"): nearly_none("mass"),
        ("reservoir", "water"): written(f"{kilograms} kg", "mass"),
        ("reservoir", "start_temperature"): written(start, "temperature"),
        ("reservoir", "wall_conductance"): written("1.1 W/K", "conductance"),
        ("water_loop", "ambient_conductance"): written("0.9 W/K", "conductance"),
        ("water_loop", "pump", "power"): written("30 W", "power"),
        ("battery", "capacity"): written("200 Ah", "charge"),
        ("garment", "conductance"): nearly_none("conductance"),
        ("garment", "water"): nearly_none("mass"),
        ("garment", "condensing_area"): nearly_none("area"),
    }
    spell = {"metabolic_rate": "150 W", "for": "2 min", "helmet": "on", "air": "pack"}
    scenario = scenario_of(
        [{**spell, "cooling": "pack", "valve": "100 %"}], suit, bay={"air_temperature": "24 degC"}
    )
    # when the helmet jams, which changes nothing else, and water above 20 degC must stop the run,
    found = clocks("helmet", scenario, [Bound("water_inlet_temperature", "above", "20 degC")])
    # then T = T_end - (T_end - T0) exp(-t G/C), with T_end where walls and lines balance the pump.
    end = 24.0 + 30.0 / (1.1 + 0.9)
    left = (end - 20.0) / (end - float(start.split()[0]))
    outside_check(
        area="harm clock",
        name=f"no ice, {kilograms:g} kg of {start}: time until the water enters at 20 degC",
        source="energy balance, t = -C/G ln((T_end - T_limit)/(T_end - T0)), T_end = T_air + P/G",
        kind="identity",
        unit="min",
        expected=-kilograms * WATER_HEAT / (1.1 + 0.9) * math.log(left) / 60.0,
        tolerance=0.01,
        relative=True,
        obtained=to_limits(found)[0] / 60.0,
    )


# A body that cannot lose heat


def test_body_without_any_exchange(outside_check: Compare) -> None:
    # Given the reference body in a suit that neither takes nor gives heat, 325.6 W, and air as
    # warm and damp as breath, into which none of it is lost,
    film, none = "surface_conductance", nearly_none
    suit = {
        ("inner", "air_gap_conductance"): none(film),
        ("inner", "direct_conductance"): none(film),
        ("visor", "inner_conductance"): none(film),
        ("garment", "conductance"): none("conductance"),
        ("air", "leak"): none("volume_flow"),
    }
    spell = {"metabolic_rate": "325.6 W", "for": "2 min", "cooling": "none", "air": "none"}
    bay = {"air_temperature": "34 degC", "relative_humidity": "100 %"}
    scenario = scenario_of([{**spell, "helmet": "on"}], suit, REFERENCE_BODY, bay)
    # when the helmet jams, which changes nothing else,
    bounds = [Bound("core_temperature", "above", f"{t} degC") for t in (42.0, 44.0)]
    first, last = to_limits(clocks("helmet", scenario, bounds))
    # then, once heat has spread (no living body gets there), the core warms as all of it does.
    outside_check(
        area="harm clock",
        name="no exchange, 325.6 W: rate at which the core goes from 42 to 44 degC",
        source="energy balance M/C, with C = 247.5 kJ/K of the 65MN body (Tanabe 2002): 4.736 K/h",
        kind="identity",
        unit="K/h",
        expected=4.736,
        tolerance=0.01,
        relative=True,
        obtained=2.0 / (last - first) * 3600.0,
    )


# Battery


@pytest.mark.parametrize(("pump", "ohms"), [(15.0, 0.12), (40.0, 0.4)])
def test_battery_at_constant_power(outside_check: Compare, pump: float, ohms: float) -> None:
    # Given a battery of 14.4 V (four cells) and 7.8 Ah at 25 degC, and a pump as its only load,
    suit = {
        ("battery", "resistance"): written(f"{ohms} ohm", "resistance"),
        ("battery", "age_factor"): written("100 %", "fraction"),
        ("battery", "cut_off_voltage"): written("1 V", "voltage"),
        ("water_loop", "pump", "power"): written(f"{pump} W", "power"),
    }
    spell = {"metabolic_rate": "150 W", "for": "2 min", "helmet": "on", "air": "facility"}
    scenario = scenario_of(
        [{**spell, "cooling": "pack", "valve": "100 %"}], suit, bay={"air_temperature": "25 degC"}
    )
    # when the helmet jams and a fifth of the charge must be kept,
    found = clocks("helmet", scenario, [Bound("battery_charge", "below", "20 %")])
    # then t = C/P times the integral of the voltage over the charge, V = (E + sqrt(E2 - 4 R P))/2.
    charge = np.linspace(0.2, 1.0, 2001)
    rested = 4.0 * np.asarray(cell_voltage("lithium_ion", charge))
    volts = 0.5 * (rested + np.sqrt(rested**2 - 4.0 * ohms * pump))
    outside_check(
        area="harm clock",
        name=f"battery of 14.4 V, 7.8 Ah, {ohms:g} ohm at {pump:g} W: time until a fifth is left",
        source="energy balance over the cell of Chen et al. 2020, J Electrochem Soc 167:080534",
        kind="identity",
        unit="min",
        expected=7.8 * 3600.0 / pump * float(np.trapezoid(volts, charge)) / 60.0,
        tolerance=0.01,
        relative=True,
        obtained=to_limits(found)[0] / 60.0,
    )
