"""The cooling garment in steady state against exact solutions and published heat removals."""

import math

import numpy as np
import pytest

from neckring.suit import garment_design as g

CAPACITY_A_KG_PER_HOUR = 4190.0 / 3600.0


def test_effectiveness_of_one_transfer_unit(outside_check):
    outside_check(
        area="garment",
        name="effectiveness of one transfer unit",
        source="Kays and London, one capacity rate infinite: 1 - 1/e",
        kind="identity",
        expected=0.6321,
        tolerance=1e-4,
        obtained=g.effectiveness(1.0),
    )


def test_water_followed_along_the_tube(outside_check):
    temperature, parts = 12.0, 100_000
    for _ in range(parts):
        temperature += 25.0 / parts / 80.0 * (33.0 - temperature)
    outside_check(
        area="garment",
        name="heat taken along a tube followed in 100,000 parts",
        source="heat balance of each part",
        kind="identity",
        unit="W",
        expected=80.0 * (temperature - 12.0),
        tolerance=1e-4,
        relative=True,
        obtained=g.heat_removal(25.0, 80.0, 33.0, 12.0),
    )


def test_chain_of_equal_zones_is_one_long_zone(outside_check):
    skin, parts = np.full(5, 33.0), np.full(5, 4.0)
    chain = g.steady_garment(skin, parts, [range(5)], [70.0], 14.0)
    outside_check(
        area="garment",
        name="five equal zones in a row against one of five times the conductance",
        source="composition of exponentials",
        kind="identity",
        unit="W",
        expected=70.0 * (1 - math.exp(-20.0 / 70.0)) * 19.0,
        tolerance=1e-9,
        relative=True,
        obtained=chain.heat.sum(),
    )


@pytest.mark.parametrize(("flow", "inlet", "heat"), [(0.25, 7.0, 220), (0.75, 10.0, 284)])
def test_manikin_heat_removal(outside_check, flow, inlet, heat):
    rate = flow / 60.0 * 4190.0
    outside_check(
        area="garment",
        name=f"conductance that removes {heat} W at {flow:g} L/min, {inlet:g} degC inlet",
        source="OSTI 825829 (three tube suits on a sweating manikin at 35 degC; which heat "
        "belongs to which flow assumed); within our sampled range",
        kind="published",
        unit="W/K",
        low=10.0,
        high=35.0,
        obtained=g.conductance_from_test(heat, rate, 35.0, inlet),
    )


@pytest.mark.parametrize("kilograms_an_hour", [45.0, 109.0])
def test_human_trial_heat_removal(outside_check, kilograms_an_hour):
    rate = kilograms_an_hour * CAPACITY_A_KG_PER_HOUR
    outside_check(
        area="garment",
        name=f"conductance for 146 W/m2 over 1.95 m2, skin 32.6, water 21 degC, "
        f"{kilograms_an_hour:.0f} kg/h",
        source="Cadarette et al. 2006, Ergonomics 49(2):209 (abstract; area and flow assumed)",
        kind="published",
        unit="W/K",
        low=20.0,
        high=35.0,
        obtained=g.conductance_from_test(146.0 * 1.95, rate, 32.6, 21.0),
    )


def test_large_flow_limit(outside_check):
    outside_check(
        area="garment",
        name="heat at a thousandth of a transfer unit",
        source="limit UA (Tskin - Tin)",
        kind="identity",
        unit="W",
        expected=25.0 * 20.0,
        tolerance=6e-4,
        relative=True,
        obtained=g.heat_removal(25.0, 25_000.0, 33.0, 13.0),
    )


def test_return_carries_all_the_heat(outside_check):
    skin = np.array([33.0, 32.0, 31.0, 30.0])
    state = g.steady_garment(
        skin, np.array([5.0, 6.0, 3.0, 2.0]), [[0, 1], [3, 2]], [40.0, 30.0], 15.0
    )
    outside_check(
        area="garment",
        name="heat of the return over the sum of the zones",
        source="energy balance of the manifold",
        kind="identity",
        expected=1.0,
        tolerance=1e-12,
        obtained=70.0 * (state.return_temperature - 15.0) / state.heat.sum(),
    )


def test_remembered_capability(outside_check):
    outside_check(
        area="garment",
        name="heat removed by a full garment of 25 W/K at 109 kg/h and 7 degC",
        source="about 2,000 Btu/h (586 W), Nunneley 1970, Space Life Sci 2:335 (from memory, not "
        "confirmed)",
        kind="from memory",
        unit="W",
        expected=586.0,
        tolerance=0.15,
        relative=True,
        obtained=g.heat_removal(25.0, 109 * CAPACITY_A_KG_PER_HOUR, 33.0, 7.0),
        informative=True,
    )
