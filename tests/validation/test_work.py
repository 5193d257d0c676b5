"""Metabolic rate of walking and work against published equations and measurements."""

import numpy as np
import pytest

from neckring.body import walking, work


def test_acsm_worked_example(outside_check):
    speed = 67.0 / 60.0
    outside_check(
        area="work",
        name="ACSM walking at 67 m/min, 3 %",
        source="worked example of an exercise physiology course page: 13.8 mL/kg/min",
        kind="published",
        unit="mL/(kg min)",
        expected=13.8,
        tolerance=0.002,
        relative=True,
        obtained=walking.acsm_walking_oxygen(speed, 0.03),
    )


@pytest.mark.parametrize(
    ("body", "load", "speed", "grade", "expected"),
    [
        (70.0, 20.0, 1.34, 0.05, 573.15),
        (70.0, 0.0, 1.34, 0.0, 293.54),
        (70.0, 20.0, 1.0, 0.05, 412.2),
    ],
)
def test_pandolf_as_coded_elsewhere(outside_check, body, load, speed, grade, expected):
    outside_check(
        area="work",
        name=f"Pandolf, {body:.0f} + {load:.0f} kg, {speed:g} m/s, {grade:.0%}",
        source="test values of two public implementations of Pandolf et al. 1977",
        kind="reference library",
        unit="W",
        expected=expected,
        tolerance=1e-4,
        relative=True,
        obtained=walking.pandolf_1977(body, load, speed, grade),
    )


def test_pandolf_standing(outside_check):
    outside_check(
        area="work",
        name="Pandolf, 80 + 40 kg standing",
        source="1.5 W + 2 (W+L) (L/W)2 by hand",
        kind="identity",
        unit="W",
        expected=180.0,
        tolerance=1e-9,
        obtained=walking.pandolf_1977(80.0, 40.0, 0.0),
    )


def test_downhill_minimum(outside_check):
    grades = np.linspace(-0.19, 0.0, 381)
    rates = walking.pandolf_santee(80.0, 10.0, 1.34, grades)
    outside_check(
        area="work",
        name="grade of the least metabolic rate downhill",
        source="Santee et al. 2001 (abstract): measured at -8 %",
        kind="published",
        unit="%",
        low=-12.0,
        high=-6.0,
        obtained=100 * grades[np.argmin(rates)],
    )


def test_downhill_by_hand(outside_check):
    level = 1.5 * 80 + 2 * 100 * 0.0625 + 100 * (1.5 * 1.44 + 0.35 * 1.2 * -8)
    correction = -8 * 100 * 1.2 / 3.5 - 100 * 4 / 80 + 25 - 1.44
    outside_check(
        area="work",
        name="Pandolf with Santee, 80 + 20 kg, 1.2 m/s, -8 %",
        source="formula of six public codes, signed grade, by hand (268.2 W)",
        kind="identity",
        unit="W",
        expected=level - correction,
        tolerance=1e-6,
        obtained=walking.pandolf_santee(80.0, 20.0, 1.2, -0.08),
    )


@pytest.mark.parametrize(
    ("speed", "grade", "expected"),
    [(0.0, 0.0, 1.440), (1.34, 0.0, 4.414), (1.34, 0.10, 8.639), (1.34, -0.10, 3.074)],
)
def test_graded_walking(outside_check, speed, grade, expected):
    outside_check(
        area="work",
        name=f"graded walking, {speed:g} m/s, {grade:.0%}",
        source="Looney et al. 2019, Med Sci Sports Exerc 51(9):1954, worked by hand",
        kind="identity",
        unit="W/kg",
        expected=expected,
        tolerance=0.002,
        obtained=walking.looney_2019(1.0, speed, grade),
    )


@pytest.mark.parametrize(
    ("speed", "load", "grade", "terrain", "expected"),
    [
        (1.0, 30.0, 0.0, 1.0, 355.7),
        (1.0, 30.0, 0.0, 1.5, 480.1),
        (1.0, 30.0, 0.05, 1.0, 520.7),
        (1.0, 30.0, 0.05, 1.5, 727.6),
        (1.0, 30.0, 0.10, 1.0, 738.2),
        (1.0, 30.0, -0.05, 1.0, 263.7),
        (0.7, 30.0, 0.0, 2.1, 492.3),
    ],
)
def test_backpacking(outside_check, speed, load, grade, terrain, expected):
    outside_check(
        area="work",
        name=f"backpacking, 80 + {load:.0f} kg, {speed:g} m/s, {grade:.0%}, terrain {terrain:g}",
        source="Looney et al. 2022, Med Sci Sports Exerc 54(4):646, worked apart from the code",
        kind="identity",
        unit="W",
        expected=expected,
        tolerance=0.1,
        obtained=walking.looney_2022(80.0, load, speed, grade, terrain),
    )


def load_slope(part):
    load = 0.4 * 74.0
    light, heavy = (work.walking_metabolic_rate(74.0, carried, 1.25) for carried in (0.0, load))
    return (getattr(heavy, part) - light.likely) / load


def test_load_slope(outside_check):
    outside_check(
        area="work",
        name="likely watts for each added kg, 1.25 m/s, to 40 % of body mass",
        source="bound of 2 to 8 W/kg: Pandolf 1977 and Looney 2022 below, Huang and Kuo 2014 above",
        kind="published",
        unit="W/kg",
        low=2.0,
        high=8.0,
        obtained=load_slope("likely"),
    )
    outside_check(
        area="work",
        name="likely watts for each added kg (the band's upper edge holds the measured)",
        source="Huang and Kuo 2014, J Exp Biol 217:605 (PMC3922835): 7.6 W/kg at 1.25 m/s",
        kind="published",
        unit="W/kg",
        expected=7.6,
        tolerance=0.2,
        relative=True,
        obtained=load_slope("likely"),
        informative=True,
    )
    assert load_slope("high") > 7.5


@pytest.mark.parametrize(("speed", "mets"), [(1.34, 3.5), (1.12, 3.0)])
def test_compendium_of_activities(outside_check, speed, mets):
    outside_check(
        area="work",
        name=f"level walking without load at {speed:g} m/s",
        source=f"Ainsworth et al. 2011, Compendium of Physical Activities: {mets:g} MET of 3.5 "
        "mL/(kg min) (from memory)",
        kind="from memory",
        unit="W/kg",
        expected=mets * 3.5 / 60 * walking.OXYGEN_ENERGY,
        tolerance=0.10,
        relative=True,
        obtained=walking.looney_2022(1.0, 0.0, speed),
    )


def test_minimum_mechanics(outside_check):
    outside_check(
        area="work",
        name="minimum mechanics against Looney 2022, 75 kg level at 1.3 m/s",
        source="Ludlow and Weyand 2017, J Appl Physiol 123:1288: standard error 1.06 mL/(kg min)",
        kind="published",
        unit="mL/(kg min)",
        low=-2 * 1.06,
        high=2 * 1.06,
        obtained=(walking.ludlow_weyand(75.0, 0.0, 1.3) - walking.looney_2022(75.0, 0.0, 1.3))
        / 75.0
        * 60.0
        / walking.OXYGEN_ENERGY,
    )


def test_standing_with_a_load(outside_check):
    outside_check(
        area="work",
        name="standing, load of half the body mass",
        source="Looney et al. 2022 at no speed, by hand: 1.05 + 0.19 (1 + 1.96 x 0.5^1.36)",
        kind="identity",
        unit="W/kg",
        expected=1.385,
        tolerance=0.001,
        obtained=walking.looney_2022(80.0, 40.0, 0.0) / 80.0,
    )


@pytest.mark.parametrize(
    ("name", "rate"),
    [("low", 117.0 / 1.8 + 1), ("low", 234.0 / 1.8), ("moderate", 360.0 / 1.8), ("high", 260.0)],
)
def test_classes(outside_check, name, rate):
    order = [row[0] for row in work.METABOLIC_CLASSES]
    outside_check(
        area="work",
        name=f"class of {rate:.1f} W/m2 is {name}",
        source="ISO 7243 classes as quoted in an instrument's manual: 117/234/360/468 W at 1.8 m2",
        kind="published",
        unit="class",
        expected=order.index(name),
        tolerance=0,
        obtained=order.index(work.metabolic_class(rate)),
    )


def test_climbing(outside_check):
    outside_check(
        area="work",
        name="100 kg climbing 38 m in 500 s",
        source="m g h/t",
        kind="identity",
        unit="W",
        expected=100 * 9.80665 * 38 / 500,
        tolerance=1e-6,
        relative=True,
        obtained=walking.climbing_power(100.0, 300 / 500, walking.grade_of(38.0, 300.0)),
    )
