"""Water and ice take up what they must, and time runs the right way."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.suit import reservoir

masses = st.floats(0.0, 10.0)
cold = st.floats(0.0, 15.0)


@given(masses, masses, cold, st.floats(15.0, 40.0))
def test_heat_available_adds_up_over_a_stop_between(water_mass, ice, start, end):
    middle = 0.5 * (start + end)
    whole = reservoir.heat_available(water_mass, ice, start, end)
    parts = reservoir.heat_available(water_mass, ice, start, middle)
    parts += reservoir.heat_available(water_mass + ice, 0.0, middle, end)
    assert whole == pytest.approx(parts, rel=1e-6, abs=1.0)


@given(masses, masses, cold, st.floats(15.0, 40.0), st.floats(0.1, 5.0))
def test_more_ice_more_heat(water_mass, ice, start, end, more):
    less = reservoir.heat_available(water_mass, ice, start, end)
    assert reservoir.heat_available(water_mass, ice + more, start, end) > less


@given(st.floats(1e3, 5e4), st.floats(0, 20), st.floats(0.5, 40), st.floats(0, 5), st.floats(0, 40))
def test_time_and_temperature_are_each_others_inverse(capacity, pump, garment, wall, ambient):
    course = reservoir.warming(capacity, pump, garment, 33.0, wall, ambient)
    target = 4.0 + 0.6 * (course.final_temperature - 4.0)
    time = reservoir.time_to_temperature(target, 4.0, course)
    assert reservoir.temperature_after(time, 4.0, course) == pytest.approx(target, rel=1e-9)
    beyond = course.final_temperature + np.sign(course.final_temperature - 4.0)
    assert reservoir.time_to_temperature(beyond, 4.0, course) == np.inf


def test_the_start_is_reached_at_once():
    course = reservoir.warming(1e4, 5.0, 20.0, 33.0, 1.0, 20.0)
    assert reservoir.time_to_temperature(4.0, 4.0, course) == 0.0


@given(st.floats(5.0, 15.0), st.floats(0.5, 4.0), st.floats(1.5, 3.0))
def test_chilling_takes_longer_the_nearer_the_refrigerator(end, gap, factor):
    near = reservoir.chilling_time(3.0, 0.175, 0.25, 20.0, end, end - gap)
    far = reservoir.chilling_time(3.0, 0.175, 0.25, 20.0, end, end - factor * gap)
    assert near > far > 0


def test_a_refrigerator_as_warm_as_the_target_never_gets_there():
    times = reservoir.chilling_time(3.0, 0.175, 0.25, 20.0, 5.0, np.array([3.0, 5.0, 8.0]))
    assert np.isfinite(times[0])
    assert list(times[1:]) == [np.inf, np.inf]


def test_still_air_takes_most_of_a_working_day_and_a_fan_half_of_it():
    still = reservoir.chilling_time(3.0, 0.175, 0.25, 20.0, 5.0, 3.0) / 3600
    blown = reservoir.chilling_time(3.0, 0.175, 0.25, 20.0, 5.0, 3.0, 15.0) / 3600
    assert 4.5 < still < 6.5
    assert 2.5 < blown < 3.2


def test_less_ice_must_be_met_by_warmer_water():
    temperatures = reservoir.melting_temperature(200.0, np.array([2.0, 1.0, 0.1]), 40.0)
    assert temperatures == pytest.approx([2.5, 5.0, 50.0])


def test_ice_below_freezing_is_not_described():
    with pytest.raises(ValueError, match="start temperature is -3 degC"):
        reservoir.heat_available(1.0, 1.0, -3.0, 10.0)
