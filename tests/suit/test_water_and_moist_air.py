"""Water and moist air behave as they must, and refuse what they cannot describe."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.constants import STANDARD_PRESSURE
from neckring.suit import moist_air, water

warm = st.floats(-20.0, 60.0)
humid = st.floats(0.02, 1.0)


@given(st.floats(0.0, 99.0), st.floats(0.1, 1.0))
def test_water_thins_as_it_warms(temperature, step):
    assert water.viscosity(temperature + step) < water.viscosity(temperature)


@pytest.mark.parametrize(
    "function", [water.density, water.viscosity, water.specific_heat, water.thermal_conductivity]
)
def test_arrays_give_what_numbers_give(function):
    temperatures = np.array([[0.0, 10.0], [25.0, 60.0]])
    together = function(temperatures)
    assert together.shape == (2, 2)
    assert together[1, 0] == pytest.approx(function(25.0), rel=1e-15)


@pytest.mark.parametrize("temperature", [-11.0, 101.0, float("nan"), float("inf")])
def test_water_outside_its_range_is_refused(temperature):
    with pytest.raises(ValueError, match=r"accepted: -10 to 100 degC"):
        water.density(temperature)


@given(warm, humid)
def test_dew_point_undoes_vapour_pressure(temperature, humidity):
    vapour = moist_air.vapour_pressure(temperature, humidity)
    dew = moist_air.dew_point(vapour)
    assert dew <= temperature + 1e-9
    assert moist_air.saturation_pressure(dew) == pytest.approx(vapour, rel=1e-9)


@given(warm, humid, st.floats(7e4, 1.05e5))
def test_humidity_ratio_and_vapour_pressure_are_each_others_inverse(temperature, humidity, total):
    vapour = moist_air.vapour_pressure(temperature, humidity)
    ratio = moist_air.humidity_ratio(vapour, total)
    assert moist_air.vapour_pressure_of(ratio, total) == pytest.approx(vapour, rel=1e-12)


@given(warm, humid, st.floats(7e4, 1.05e5))
def test_moist_air_is_lighter_than_dry(temperature, humidity, total):
    vapour = moist_air.vapour_pressure(temperature, humidity)
    moist, dry = (moist_air.air_density(temperature, v, total) for v in (vapour, 0.0))
    assert moist < dry


def test_a_surface_at_the_dew_point_has_no_margin():
    vapour = moist_air.vapour_pressure(30.0, 0.6)
    assert moist_air.fog_margin(moist_air.dew_point(vapour), vapour) == pytest.approx(0.0, abs=1e-9)
    assert moist_air.fog_margin(10.0, vapour) < 0 < moist_air.fog_margin(29.0, vapour)


def test_pressure_falls_with_altitude_from_the_standard():
    heights = moist_air.pressure_at_altitude(np.array([0.0, 210.0, 3000.0]))
    assert heights[0] == STANDARD_PRESSURE
    assert (np.diff(heights) < 0).all()
    with pytest.raises(ValueError, match="altitude is 20000 m"):
        moist_air.pressure_at_altitude(20_000.0)
