"""Fans in parallel, and the cap that air sets on evaporation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.suit.moist_air import humidity_ratio, saturation_pressure
from neckring.suit.ventilation import AirPath, cooling_capacity, fan_flow

LITRE_A_MINUTE = 1e-3 / 60.0

paths = st.builds(
    AirPath,
    fans=st.integers(1, 4),
    fan_shut_off_pressure=st.floats(50, 2000),
    fan_free_flow=st.floats(5e-4, 1e-2),
    fan_power=st.floats(1, 20),
    duct_pressure=st.floats(10, 1000),
    duct_flow=st.floats(5e-4, 1e-2),
)


@given(paths)
def test_fan_and_duct_agree_at_the_flow_found(path):
    point = fan_flow(path)
    each = point.flow / path.fans
    rise = path.fan_shut_off_pressure * (1 - (each / path.fan_free_flow) ** 2)
    assert rise == pytest.approx(point.pressure, rel=1e-6, abs=1e-6 * path.fan_shut_off_pressure)


@given(paths, st.integers(0, 3))
def test_one_fan_more_gives_more_flow_but_less_than_its_share(path, running):
    fewer, more = (fan_flow(path, running + extra).flow for extra in (0, 1))
    assert more > fewer
    if running:
        assert more <= fewer * (running + 1) / running * (1 + 1e-12)


@given(paths, st.floats(0.1, 1.0))
def test_flow_follows_speed_and_power_its_cube(path, speed):
    full, slow = fan_flow(path), fan_flow(path, speed=speed)
    assert slow.flow == pytest.approx(speed * full.flow)
    assert slow.power == pytest.approx(speed**3 * full.power)


def test_no_fan_no_flow_and_members_side_by_side():
    path = AirPath(2, 350.0, np.array([150.0, 170.0]) * LITRE_A_MINUTE, 4.0, 180.0, 2.8e-3)
    assert fan_flow(path, 0).flow == pytest.approx(0.0)
    assert fan_flow(path, 0).power == 0.0
    assert fan_flow(path).flow.shape == (2,)


@given(st.floats(5, 35), st.floats(0.0, 1.0), st.floats(30, 36))
def test_evaporation_brings_the_air_to_saturation_at_skin_temperature(inlet, humidity, skin):
    vapour = humidity * saturation_pressure(min(inlet, skin))
    capacity = cooling_capacity(2e-3, inlet, vapour, skin, 1e5)
    gained = humidity_ratio(saturation_pressure(skin), 1e5) - humidity_ratio(vapour, 1e5)
    assert capacity.evaporation == pytest.approx(2e-3 * gained * 2.56e6, rel=0.01)
    assert (capacity.total >= capacity.evaporation - 1e-9) == (inlet <= skin + 1.0) or inlet > skin
