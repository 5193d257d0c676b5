"""The reservoir against heat balances, handbooks and published convection values."""

import math

from CoolProp.CoolProp import PropsSI

from neckring.suit import reservoir, water


def test_warming_by_a_constant_heat(outside_check):
    outside_check(
        area="reservoir",
        name="4 kg of water warmed 10 K by 200 W",
        source="m c dT/P with c = 4186 J/(kg K)",
        kind="identity",
        unit="s",
        expected=837.2,
        tolerance=1e-3,
        relative=True,
        obtained=reservoir.warming_time(4.0 * water.specific_heat(15.0), 200.0, 10.0),
    )


def test_heat_of_a_kilogram_of_ice(outside_check):
    outside_check(
        area="reservoir",
        name="1 kg of ice to water of 15 degC",
        source="333.55 kJ/kg and 4.19 kJ/(kg K) (CRC handbook, from memory)",
        kind="from memory",
        unit="kJ",
        expected=396.4,
        tolerance=0.002,
        relative=True,
        obtained=reservoir.heat_available(0.0, 1.0, 0.0, 15.0) / 1e3,
    )
    hot = PropsSI("H", "T", 288.15, "P", 1e5, "Water") - PropsSI(
        "H", "T", 277.15, "P", 1e5, "Water"
    )
    outside_check(
        area="reservoir",
        name="3 kg of water from 4 to 15 degC",
        source="CoolProp enthalpies (IAPWS-95)",
        kind="reference library",
        unit="kJ",
        expected=3.0 * hot / 1e3,
        tolerance=1e-3,
        relative=True,
        obtained=reservoir.heat_available(3.0, 0.0, 4.0, 15.0) / 1e3,
    )


def test_ice_melted_in_an_hour(outside_check):
    outside_check(
        area="reservoir",
        name="ice melted by 300 W in an hour",
        source="300 W x 3600 s/333.5 kJ/kg",
        kind="identity",
        unit="kg",
        expected=3.24,
        tolerance=0.002,
        relative=True,
        obtained=3600.0 / reservoir.melting_time(1.0, 300.0),
    )


def test_upright_plate(outside_check):
    outside_check(
        area="reservoir",
        name="Nusselt number of an upright plate, Gr 2.63e9, Pr 0.69",
        source="Incropera and DeWitt example 9.2 (147), quoted in the documentation of the ht "
        "library",
        kind="published",
        expected=147.0,
        tolerance=0.005,
        relative=True,
        obtained=reservoir.upright_plate_nusselt(2.63e9 * 0.69, 0.69),
    )


def test_air_of_natural_convection(outside_check):
    # A plate of 0.25 m at 15 degC in air of 3 degC, properties from a reference library.
    film, height, difference = 282.15, 0.25, 12.0
    conductivity, viscosity, density, prandtl = (
        PropsSI(q, "T", film, "P", 101_325, "Air") for q in ("L", "V", "D", "PRANDTL")
    )
    grashof = 9.80665 * difference * height**3 / film / (viscosity / density) ** 2
    nusselt = reservoir.upright_plate_nusselt(grashof * prandtl, prandtl)
    outside_check(
        area="reservoir",
        name="natural convection at a bladder in a refrigerator",
        source="Churchill and Chu 1975 with CoolProp's air",
        kind="reference library",
        unit="W/(m2 K)",
        expected=nusselt * conductivity / height,
        tolerance=0.02,
        relative=True,
        obtained=reservoir.natural_convection(height, 15.0, 3.0),
    )


def test_insulated_wall(outside_check):
    outside_check(
        area="reservoir",
        name="heat through 0.3 m2 of 10 mm foam, 20 K",
        source="resistances in series: 1/(0.010/0.033 + 1/8) = 2.34 W/(m2 K)",
        kind="identity",
        unit="W",
        expected=0.3 * 2.336 * 20,
        tolerance=0.001,
        relative=True,
        obtained=20 * reservoir.wall_conductance(0.3, 0.010, 0.033, 8.0),
    )


def test_warming_against_steps_in_time(outside_check):
    course = reservoir.warming(16_700.0, 9.0, 25.0, 33.0, 1.3, 18.0)
    temperature = 4.0
    for _ in range(60_000):
        heat = 9.0 + 25.0 * (33.0 - temperature) + 1.3 * (18.0 - temperature)
        temperature += 0.01 * heat / 16_700.0
    outside_check(
        area="reservoir",
        name="temperature after ten minutes against skin, air and pump",
        source="explicit steps of 10 ms",
        kind="identity",
        unit="degC",
        expected=temperature,
        tolerance=1e-3,
        obtained=reservoir.temperature_after(600.0, 4.0, course),
    )


def test_chilling_with_a_fan(outside_check):
    outside_check(
        area="reservoir",
        name="3 kg bladder from 20 to 5 degC in 3 degC air with a fan, 15 W/(m2 K)",
        source="lumped exponential m c/(h A) ln(17/2)",
        kind="identity",
        unit="h",
        expected=3.0 * 4190.0 / (15.0 * 0.175) * math.log(17.0 / 2.0) / 3600.0,
        tolerance=0.005,
        relative=True,
        obtained=reservoir.chilling_time(3.0, 0.175, 0.25, 20.0, 5.0, 3.0, 15.0) / 3600.0,
    )
