"""The water loop against Poiseuille, Moody, Crane and the fluids library."""

import dataclasses
import math
import sys
from pathlib import Path

import fluids
import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "suit"))

from invented_loop import INVENTED_LOOP, LITRE_A_MINUTE

from neckring.suit import water
from neckring.suit.fittings import (
    kink_loss,
    kv_of_cv,
    loss_coefficient_of_kv,
    small_valve_pressure,
    valve_pressure,
)
from neckring.suit.loop_diagnosis import diagnose
from neckring.suit.pipes import friction_factor, hydraulic_power, line_pressure, reynolds
from neckring.suit.water_loop import pump_pressure, solve_flow

GALLON_A_MINUTE = 3.785411784e-3 / 60.0
FOOT, PSI, HORSEPOWER = 0.3048, 6894.757, 745.699872


@pytest.fixture
def loop():
    """An invented loop of the size that garments have."""
    return INVENTED_LOOP


def test_garment_tubes_follow_poiseuille(outside_check):
    flow, bore, length = 1.5 * LITRE_A_MINUTE / 40, 1.6e-3, 2.0
    exact = 128.0 * water.viscosity(10.0) * length * flow / (math.pi * bore**4)
    outside_check(
        area="loop",
        name="40 tubes of 2.0 m x 1.6 mm, 1.5 L/min, 10 degC against Poiseuille",
        source="Hagen-Poiseuille law, 128 mu L Q/(pi d4)",
        kind="identity",
        unit="kPa",
        expected=exact / 1e3,
        tolerance=1e-4,
        relative=True,
        obtained=line_pressure(flow, length, bore, 10.0) / 1e3,
    )
    outside_check(
        area="loop",
        name="Reynolds number in those tubes",
        source="definition, water of 10 degC",
        kind="identity",
        expected=381.0,
        tolerance=1.0,
        obtained=reynolds(flow, bore, water.density(10.0), water.viscosity(10.0)),
    )


def test_crane_7_1(outside_check):
    # The example's own Reynolds number belongs to the true bore of a 50 mm pipe, 52.5 mm.
    in_pipe = reynolds(200 * LITRE_A_MINUTE, 0.0525, water.density(30.0), water.viscosity(30.0))
    outside_check(
        area="loop",
        name="Crane example 7-1, Reynolds number",
        source="Crane TP-410M example 7-1, quoted in the fluids documentation",
        kind="published",
        expected=100_600.0,
        tolerance=0.01,
        relative=True,
        obtained=in_pipe,
    )
    outside_check(
        area="loop",
        name="Crane example 7-1, friction factor",
        source="Crane TP-410M example 7-1, quoted in the fluids documentation",
        kind="published",
        expected=0.0179,
        tolerance=0.015,
        relative=True,
        obtained=friction_factor(in_pipe),
    )


def test_crane_7_2(outside_check):
    outside_check(
        area="loop",
        name="Crane example 7-2, loss coefficient of a 150 mm valve with Kv 500",
        source="Crane TP-410M example 7-2, quoted in the fluids documentation",
        kind="published",
        expected=3.6,
        tolerance=0.005,
        relative=True,
        obtained=loss_coefficient_of_kv(500 / 3600.0, 0.154),
    )


def test_crane_7_27(outside_check):
    density = 60.998 * 16.018463
    needed = 250 * GALLON_A_MINUTE
    drop_at_unit_cv = valve_pressure(needed, kv_of_cv(1.0), density)
    outside_check(
        area="loop",
        name="Crane example 7-27, flow coefficient Cv for 250 gal/min at 9.8 psi",
        source="Crane TP-410 example 7-27, quoted in the fluids documentation (with pipe geometry)",
        kind="published",
        expected=79.94,
        tolerance=0.015,
        relative=True,
        obtained=math.sqrt(drop_at_unit_cv / (9.8 * PSI)),
    )


def test_crane_7_33(outside_check):
    free = 900 * GALLON_A_MINUTE
    head = 126.0 * FOOT
    shut_off = head / (1.0 - (400 / 900) ** 2)
    slow, flow = 1700 / 3500, 400 * GALLON_A_MINUTE * 1700 / 3500
    rise = pump_pressure("centrifugal", shut_off, free, flow, slow)
    outside_check(
        area="loop",
        name="Crane example 7-33, head of a pump slowed from 3500 to 1700 rpm",
        source="Crane TP-410 example 7-33, quoted in the fluids documentation",
        kind="published",
        unit="ft",
        expected=29.73,
        tolerance=0.001,
        relative=True,
        obtained=rise / FOOT,
    )


def test_crane_7_34(outside_check):
    rise = 428 * FOOT * 62.364 * 16.018463 * 9.80665
    outside_check(
        area="power",
        name="Crane example 7-34, brake power of a pump",
        source="Crane TP-410 example 7-34 as worked in the fluids documentation",
        kind="published",
        unit="hp",
        expected=107.06,
        tolerance=0.001,
        relative=True,
        obtained=hydraulic_power(rise, 700 * GALLON_A_MINUTE) / 0.707 / HORSEPOWER,
    )


@pytest.mark.parametrize(
    ("number", "roughness", "expected"),
    [
        (1e4, 0.0, 0.0309),
        (1e5, 0.0, 0.0180),
        (1e6, 0.0, 0.01165),
        (1e5, 0.001, 0.0222),
        (1e6, 0.001, 0.0199),
        (1e7, 0.01, 0.0379),
    ],
)
def test_moody_chart(outside_check, number, roughness, expected):
    outside_check(
        area="loop",
        name=f"friction factor at Re {number:.0e}, relative roughness {roughness:g}",
        source="Colebrook 1939 equation, the turbulent part of the chart of Moody 1944",
        kind="published",
        expected=expected,
        tolerance=0.02,
        relative=True,
        obtained=friction_factor(number, roughness),
    )


def test_churchill_against_fluids(outside_check):
    outside_check(
        area="loop",
        name="Churchill friction factor at Re 1e5, roughness 1e-4",
        source="documentation of fluids.friction.Churchill_1977",
        kind="reference library",
        expected=0.018462624566280,
        tolerance=1e-9,
        obtained=friction_factor(1e5, 1e-4),
    )
    numbers = np.geomspace(10, 1e7, 40)
    reference = [fluids.friction.Churchill_1977(Re=float(n), eD=1e-3) for n in numbers]
    outside_check(
        area="loop",
        name="Churchill friction factor, Re 10 to 1e7, largest relative difference",
        source="fluids.friction.Churchill_1977",
        kind="reference library",
        low=0.0,
        high=1e-9,
        obtained=np.abs(friction_factor(numbers, 1e-3) / reference - 1).max(),
    )


def test_kv_to_loss_coefficient(outside_check):
    outside_check(
        area="loop",
        name="loss coefficient of Kv 2.312 at 15 mm",
        source="fluids.fittings.Kv_to_K (IEC 60534)",
        kind="reference library",
        expected=fluids.fittings.Kv_to_K(2.312, 0.015),
        tolerance=0.001,
        relative=True,
        obtained=loss_coefficient_of_kv(2.312 / 3600, 0.015),
    )
    outside_check(
        area="loop",
        name="drop of a disconnect with Kv 0.3 at 90 L/h",
        source="definition of Kv, IEC 60534-1: (0.09/0.3)2 bar",
        kind="identity",
        unit="bar",
        expected=0.09,
        tolerance=1e-9,
        obtained=valve_pressure(0.09 / 3600, 0.3 / 3600) / 1e5,
    )


def test_small_valve_in_slow_flow(outside_check):
    flow, bore = 1e-7, 6e-3
    number = reynolds(flow, bore, 1000.0, 1.3e-3)
    loss = small_valve_pressure(flow, 0.3 / 3600, bore, 1000.0, 1.3e-3)
    velocity = flow / (math.pi / 4 * bore**2)
    outside_check(
        area="loop",
        name="two-K loss of a ball valve at low Reynolds number",
        source="Hooper 1981, two-K method: 300/Re and the valve's fast-flow coefficient",
        kind="identity",
        expected=300.0 / number + loss_coefficient_of_kv(0.3 / 3600, bore),
        tolerance=0.001,
        relative=True,
        obtained=loss / (500.0 * velocity**2),
    )


@pytest.mark.parametrize("share", [0.5, 0.3, 0.2, 0.1, 0.05])
def test_kink_against_the_handbook_shape(outside_check, share):
    narrow = math.sqrt(share)
    down = fluids.fittings.contraction_sharp(Di1=1.0, Di2=narrow)
    up = fluids.fittings.diffuser_sharp(Di1=narrow, Di2=1.0)
    outside_check(
        area="loop",
        name=f"loss of a kink that leaves {share:.0%} open, lower edge of our band",
        source="fluids.fittings: sharp contraction (Rennels) and sharp expansion in series",
        kind="reference library",
        expected=(down + up) / share**2,
        tolerance=0.12,
        relative=True,
        obtained=kink_loss(share).low,
    )


def test_sharp_orifice_against_the_kink_band(outside_check):
    outside_check(
        area="loop",
        name="loss of a sharp orifice of 10 % area, upper edge of our band",
        source="Idelchik's sharp-edged orifice (1 + 0.707 (1-s)^0.5 - s)2/s2, from memory",
        kind="from memory",
        expected=(1 + 0.707 * math.sqrt(0.9) - 0.1) ** 2 / 0.01,
        tolerance=0.15,
        relative=True,
        obtained=kink_loss(0.1).high,
    )


def test_flow_is_found_where_an_independent_solver_finds_it(outside_check, loop):
    from scipy.optimize import brentq

    def excess(flow):
        density, viscosity = water.density(10.0), water.viscosity(10.0)

        def drop(share, length, bore, extra):
            speed = share / (math.pi / 4 * bore**2)
            number = density * speed * bore / viscosity
            factor = fluids.friction.Churchill_1977(Re=number, eD=1.5e-6 / bore)
            return (factor * length / bore + extra) * density * speed**2 / 2

        fixed = 4 / (0.35 / 3600) ** 2 + 1 / (0.5 / 3600) ** 2
        lines = drop(flow, 3.0, 6.4e-3, 6.0) + drop(flow / 40, 2.0, 2e-3, 1.5)
        rise = 45e3 * (1 - (flow / (3 * LITRE_A_MINUTE)) ** 2)
        return rise - lines - 1e5 * density / 1000 * fixed * flow**2

    outside_check(
        area="loop",
        name="operating point of an invented loop",
        source="fluids.friction with scipy.optimize.brentq on the same loop",
        kind="reference library",
        unit="L/min",
        expected=brentq(excess, 1e-9, 3 * LITRE_A_MINUTE, xtol=1e-16) / LITRE_A_MINUTE,
        tolerance=1e-6,
        relative=True,
        obtained=solve_flow(loop, 10.0).flow / LITRE_A_MINUTE,
    )


def test_cold_water_thickens_a_laminar_garment(outside_check, loop):
    wide = dataclasses.replace(
        loop, main_bore=0.05, disconnect_kv=1.0, valve_kv=1.0, pump_shut_off_pressure=500.0
    )
    weak = solve_flow(wide, np.array([5.0, 20.0])).garment_pressure
    flows = solve_flow(wide, np.array([5.0, 20.0])).flow
    outside_check(
        area="loop",
        name="resistance of laminar tubes at 5 degC over that at 20 degC",
        source="ratio of water's viscosities, IAPWS R12-08",
        kind="published",
        expected=1.5182 / 1.0016,
        tolerance=0.02,
        relative=True,
        obtained=(weak[0] / flows[0]) / (weak[1] / flows[1]),
    )


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        ("main kinked to a tenth of its area", (-1, 1, -1)),
        ("a quarter of the garment tubes shut", (0, 0, 1)),
        ("pump weak or drawing air", (-1, -1, -1)),
    ],
)
def test_signs_of_faults(outside_check, loop, fault, expected):
    (row,) = (row for row in diagnose(loop, 10.0) if row.fault == fault)
    outside_check(
        area="loop",
        name=f"{fault}: signs of flow, pump and garment pressure that are as expected",
        source="resistances in series and parallel on a falling pump curve",
        kind="identity",
        unit="of 3",
        expected=3,
        tolerance=0,
        obtained=sum(a == b for a, b in zip(row.signs, expected, strict=True)),
    )
