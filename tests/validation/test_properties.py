"""Water and moist air against standards and reference libraries."""

import iapws
import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI

from neckring.constants import ICE_LATENT_HEAT
from neckring.suit import moist_air, water

psychrolib.SetUnitSystem(psychrolib.SI)
TEMPERATURES = np.linspace(1.0, 45.0, 23)


@pytest.fixture
def coolprop_water():
    def get(quantity):
        return np.array(
            [PropsSI(quantity, "T", t + 273.15, "P", 1e5, "Water") for t in TEMPERATURES]
        )

    return get


def test_viscosity_at_25_degrees(outside_check):
    outside_check(
        area="properties",
        name="water viscosity at 25 degC",
        source="IAPWS R12-08, table 4: 298.15 K, 998 kg/m3",
        kind="published",
        unit="µPa s",
        expected=889.7351,
        tolerance=0.001,
        relative=True,
        obtained=1e6 * water.viscosity(25.0),
    )


@pytest.mark.parametrize(("temperature", "expected"), [(20.0, 1.0016), (5.0, 1.5182)])
def test_viscosity_of_cold_water(outside_check, temperature, expected):
    outside_check(
        area="properties",
        name=f"water viscosity at {temperature:.0f} degC",
        source="IAPWS SR6-08(2011), Eq. 7, as computed with CoolProp",
        kind="reference library",
        unit="mPa s",
        expected=expected,
        tolerance=0.001,
        relative=True,
        obtained=1e3 * water.viscosity(temperature),
    )


@pytest.mark.parametrize(
    ("name", "quantity", "function", "tolerance"),
    [
        ("density", "D", water.density, 1e-5),
        ("viscosity", "V", water.viscosity, 1e-3),
        ("specific heat", "C", water.specific_heat, 1e-3),
        ("thermal conductivity", "L", water.thermal_conductivity, 3e-3),
    ],
)
def test_water_against_coolprop(outside_check, coolprop_water, name, quantity, function, tolerance):
    reference = coolprop_water(quantity)
    outside_check(
        area="properties",
        name=f"water {name}, 1 to 45 degC, largest relative difference",
        source="CoolProp (IAPWS-95 and IAPWS transport releases) at 0.1 MPa",
        kind="reference library",
        low=0.0,
        high=tolerance,
        obtained=np.abs(function(TEMPERATURES) / reference - 1.0).max(),
    )


def test_specific_heat_is_the_standards(outside_check):
    reference = [iapws._iapws._Liquid(t + 273.15)["cp"] * 1e3 for t in TEMPERATURES]
    outside_check(
        area="properties",
        name="water specific heat against SR6-08 as coded elsewhere",
        source="iapws package, IAPWS SR6-08(2011)",
        kind="reference library",
        low=0.0,
        high=1e-9,
        obtained=np.abs(water.specific_heat(TEMPERATURES) / reference - 1.0).max(),
    )


def test_density_maximum(outside_check):
    fine = np.linspace(2.0, 6.0, 4001)
    outside_check(
        area="properties",
        name="temperature of densest water",
        source="Kell 1975; 3.98 degC in every handbook (from memory)",
        kind="from memory",
        unit="degC",
        expected=3.98,
        tolerance=0.02,
        obtained=fine[np.argmax(water.density(fine))],
    )


def test_heat_of_melting(outside_check):
    liquid = iapws.IAPWS95(T=273.16, P=0.101325).h
    solid = iapws._iapws._Ice(273.15, 0.101325)["h"]
    outside_check(
        area="properties",
        name="heat of melting of ice",
        source="iapws package: IAPWS-95 water less IAPWS R10-06 ice at the normal melting point",
        kind="reference library",
        unit="kJ/kg",
        expected=liquid - solid,
        tolerance=0.001,
        relative=True,
        obtained=ICE_LATENT_HEAT / 1e3,
    )


def worst(ours, theirs):
    return np.abs(np.asarray(ours) / np.asarray(theirs) - 1.0).max()


def test_saturation_pressure(outside_check):
    temperatures = np.linspace(-20.0, 60.0, 81)
    outside_check(
        area="properties",
        name="saturation pressure, -20 to 60 degC, largest relative difference",
        source="psychrolib (ASHRAE Fundamentals 2017)",
        kind="reference library",
        low=0.0,
        high=1e-6,
        obtained=worst(
            moist_air.saturation_pressure(temperatures),
            [psychrolib.GetSatVapPres(float(t)) for t in temperatures],
        ),
    )


def test_saturation_pressure_at_25_degrees(outside_check):
    outside_check(
        area="properties",
        name="saturation pressure at 25 degC",
        source="ASHRAE Fundamentals 2017, chapter 1, table 3, as given by psychrolib",
        kind="published",
        unit="Pa",
        expected=3169.2,
        tolerance=0.5,
        obtained=moist_air.saturation_pressure(25.0),
    )


def test_saturation_pressure_against_the_water_standard(outside_check):
    temperatures = np.linspace(1.0, 45.0, 12)
    reference = [PropsSI("P", "T", t + 273.15, "Q", 0, "Water") for t in temperatures]
    outside_check(
        area="properties",
        name="saturation pressure, 1 to 45 degC, against the water standard",
        source="CoolProp (IAPWS-95)",
        kind="reference library",
        low=0.0,
        high=1e-3,
        obtained=worst(moist_air.saturation_pressure(temperatures), reference),
    )


def test_humidity_ratio(outside_check):
    outside_check(
        area="properties",
        name="humidity ratio at 25 degC, 50 %",
        source="ASHRAE Fundamentals 2017 via psychrolib",
        kind="published",
        unit="kg/kg",
        expected=0.00988,
        tolerance=0.002,
        relative=True,
        obtained=moist_air.humidity_ratio(moist_air.vapour_pressure(25.0, 0.5), 101_325.0),
    )


CLIMATES = [(t, rh, p) for t in (5.0, 20.0, 35.0) for rh in (0.2, 0.9) for p in (101_325.0, 8e4)]


def test_moist_air_enthalpy_and_density(outside_check):
    ours, theirs, density, reference = [], [], [], []
    for t, humidity, pressure in CLIMATES:
        vapour = moist_air.vapour_pressure(t, humidity)
        ratio = psychrolib.GetHumRatioFromRelHum(t, humidity, pressure)
        ours.append(moist_air.enthalpy(t, moist_air.humidity_ratio(vapour, pressure)))
        theirs.append(psychrolib.GetMoistAirEnthalpy(t, ratio))
        density.append(moist_air.air_density(t, vapour, pressure))
        reference.append(psychrolib.GetMoistAirDensity(t, ratio, pressure))
    outside_check(
        area="properties",
        name="moist air enthalpy, twelve climates, largest relative difference",
        source="psychrolib (ASHRAE Fundamentals 2017)",
        kind="reference library",
        low=0.0,
        high=1e-3,
        obtained=worst(ours, theirs),
    )
    outside_check(
        area="properties",
        name="moist air density, twelve climates, largest relative difference",
        source="psychrolib (ASHRAE Fundamentals 2017)",
        kind="reference library",
        low=0.0,
        high=1e-3,
        obtained=worst(density, reference),
    )


def test_dew_point(outside_check):
    differences = [
        moist_air.dew_point(moist_air.vapour_pressure(t, humidity))
        - psychrolib.GetTDewPointFromRelHum(t, humidity)
        for t, humidity, _ in CLIMATES
    ]
    outside_check(
        area="properties",
        name="dew point, twelve climates, largest difference",
        source="psychrolib (ASHRAE Fundamentals 2017)",
        kind="reference library",
        unit="K",
        low=0.0,
        high=0.02,
        obtained=np.abs(differences).max(),
    )


@pytest.mark.parametrize(("altitude", "expected"), [(1000.0, 89_874.6), (2000.0, 79_495.2)])
def test_standard_atmosphere(outside_check, altitude, expected):
    outside_check(
        area="properties",
        name=f"standard atmosphere at {altitude:.0f} m",
        source="ICAO Doc 7488 (from memory)",
        kind="from memory",
        unit="Pa",
        expected=expected,
        tolerance=0.0005,
        relative=True,
        obtained=moist_air.pressure_at_altitude(altitude),
    )
