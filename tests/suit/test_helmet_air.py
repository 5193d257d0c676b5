"""Closed forms of helmet gas keep their limits and their order."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.suit import helmet_air as helmet

LITRE_A_MINUTE = 1e-3 / 60.0
P = 101_325.0

shares = st.floats(0.0, 1.0)
flows = st.floats(1e-4, 1e-2)
productions = st.floats(1e-6, 5e-5)


@given(shares, flows, flows)
def test_effectiveness_lies_between_the_face_share_and_one(share, mixing, flow):
    effectiveness = helmet.face_effectiveness(share, mixing, flow)
    assert share - 1e-12 <= effectiveness <= 1.0 + 1e-12
    assert helmet.face_effectiveness(1.0, mixing, flow) == pytest.approx(1.0)
    assert helmet.face_effectiveness(share, 0.0, flow) == pytest.approx(share)


@given(productions, productions, flows)
def test_more_work_more_gas_and_more_flow_less(one, other, flow):
    less, more = sorted((one, other))
    assert helmet.steady_pressure(40.0, less, flow, P) <= helmet.steady_pressure(
        40.0, more, flow, P
    )
    assert helmet.steady_pressure(40.0, more, 2 * flow, P) < helmet.steady_pressure(
        40.0, more, flow, P
    )


@given(st.floats(0, 5e3), st.floats(0, 5e3), flows, st.floats(1e-3, 0.1))
def test_the_transient_starts_at_its_start_and_ends_at_its_end(start, steady, flow, volume):
    at_once = helmet.pressure_after(0.0, start, steady, flow, volume)
    at_last = helmet.pressure_after(1e3 * volume / flow, start, steady, flow, volume)
    assert at_once == pytest.approx(start)
    assert at_last == pytest.approx(steady)


@given(st.floats(0.01, 0.9), flows)
def test_breathing_back_more_of_a_breath_raises_what_is_inspired(share, ventilation):
    little, much = (
        helmet.rebreathed_pressure(1e-5, ventilation, s, 1.0, P) for s in (share / 2, share)
    )
    assert 0 < little < much
    assert helmet.rebreathed_pressure(1e-5, ventilation, 0.0, 1.0, P) == 0.0


@given(st.floats(1e-3, 0.1), productions, st.floats(0, 500), st.floats(1000, 4000), flows)
def test_a_leak_never_shortens_the_time_to_a_limit(volume, production, start, limit, leak):
    sealed = helmet.time_to_limit(volume, production, start, limit, P)
    leaking = helmet.time_to_limit(volume, production, start, limit, P, leak=leak)
    assert leaking >= sealed * (1 - 1e-9)
    settles_below = P * production / leak <= limit
    assert np.isinf(leaking) == settles_below


@given(st.floats(1e-3, 0.1), productions, st.floats(0, 500), st.floats(1000, 4000), flows)
def test_after_the_time_to_a_limit_the_gas_is_at_the_limit(volume, production, start, limit, leak):
    time = helmet.time_to_limit(volume, production, start, limit, P, leak=leak)
    if np.isfinite(time) and time > 0:
        steady = helmet.steady_pressure(0.0, production, leak, P)
        reached = helmet.pressure_after(time, start, steady, leak, volume)
        assert reached == pytest.approx(limit, rel=1e-6)


def test_a_vanishing_leak_is_no_leak():
    sealed = helmet.time_to_limit(0.012, 1e-5, 500.0, 3000.0, P)
    assert helmet.time_to_limit(0.012, 1e-5, 500.0, 3000.0, P, leak=1e-12) == pytest.approx(sealed)


def test_already_over_the_limit_leaves_no_time():
    times = helmet.time_to_limit(0.012, 1e-5, np.array([2999.0, 3000.0, 4000.0]), 3000.0, P)
    assert times[0] > 0
    assert list(times[1:]) == [0.0, 0.0]


@given(flows, st.floats(5e-3, 0.1))
def test_a_washout_gives_back_the_flow_that_made_it(flow, volume):
    times = np.linspace(0.0, 2.0 * volume / flow, 12)
    readings = 0.04 + 3.0 * np.exp(-times * flow / volume)
    fit = helmet.washout_flow(times, readings, 0.04, volume)
    assert fit.flow == pytest.approx(flow, rel=1e-6)
    assert fit.fit == pytest.approx(1.0)


def test_a_washout_without_a_fall_is_refused():
    with pytest.raises(ValueError, match="three readings or more"):
        helmet.washout_flow(np.array([0.0, 1.0, 2.0]), np.array([1.0, 0.5, 0.04]), 0.04, 0.01)
