"""The water loop obeys the laws that pipes, pumps and valves obey."""

import dataclasses
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))

from invented_loop import INVENTED_LOOP

from neckring.suit.fittings import kink_loss, kv_of_loss_coefficient, valve_kv
from neckring.suit.loop_diagnosis import NOTHING_SHOWS, SOUND, diagnose, faults_that_fit
from neckring.suit.pipes import friction_factor, line_pressure, reynolds
from neckring.suit.water import density, viscosity
from neckring.suit.water_loop import (
    flow_cubic,
    flow_table,
    pump_pressure,
    solve_flow,
)
from neckring.values import root_of_falling

loops = st.builds(
    dataclasses.replace,
    st.just(INVENTED_LOOP),
    pump_kind=st.sampled_from(["centrifugal", "diaphragm"]),
    pump_shut_off_pressure=st.floats(5e3, 2e5),
    pump_free_flow=st.floats(1e-5, 2e-4),
    main_bore=st.floats(3e-3, 12e-3),
    disconnect_kv=st.floats(3e-5, 1e-3),
    valve_law=st.sampled_from(["linear", "equal_percentage"]),
    tube_count=st.integers(4, 60),
    tube_bore=st.floats(1.2e-3, 4e-3),
)
openings = st.floats(0.02, 1.0)
temperatures = st.floats(0.0, 40.0)


@given(loops, temperatures, openings)
def test_pressures_round_the_loop_add_up(loop, temperature, opening):
    point = solve_flow(loop, temperature, opening)
    spent = point.main_pressure + point.garment_pressure + point.valve_pressure
    given_by_pump = pump_pressure(
        loop.pump_kind, loop.pump_shut_off_pressure, loop.pump_free_flow, point.pump_flow
    )
    assert 0 < point.flow < loop.pump_free_flow
    assert point.pump_pressure == pytest.approx(spent, rel=1e-12)
    assert given_by_pump == pytest.approx(spent, rel=1e-9, abs=1e-9 * loop.pump_shut_off_pressure)
    # The valve's share is a difference of large numbers: it must still be the valve's own law.
    kv = valve_kv(opening, loop.valve_kv, loop.valve_law, loop.valve_rangeability)
    assert point.valve_pressure == pytest.approx(1e5 * (point.flow / kv) ** 2, rel=0.01)


@given(loops, temperatures, openings, openings)
def test_opening_the_valve_never_lowers_flow(loop, temperature, one, other):
    less, more = sorted((one, other))
    flows = solve_flow(loop, temperature, np.array([less, more])).flow
    assert flows[0] <= flows[1] * (1 + 1e-12)


@given(loops, openings, temperatures, temperatures)
def test_colder_water_never_flows_faster_in_slow_flow(loop, opening, one, other):
    # Given narrow tubes that make the flow laminar and most of the resistance
    slow = dataclasses.replace(loop, tube_bore=1.0e-3, main_bore=0.02)
    cold, warm = sorted((one, other))
    flows = solve_flow(slow, np.array([cold, warm]), opening).flow
    # (where laminar flow breaks down, the friction factor itself rises with warmth)
    assume(warm_tube_reynolds(slow, flows[1], warm) < 2000.0)
    assert flows[0] <= flows[1] * (1 + 1e-3)


def warm_tube_reynolds(loop, flow, temperature):
    per_tube = flow / loop.tube_count
    return reynolds(per_tube, loop.tube_bore, density(temperature), viscosity(temperature))


@given(loops, temperatures, openings, st.floats(0.02, 0.98))
def test_a_kinked_main_lowers_flow_and_garment_pressure_and_raises_the_pumps(
    loop, temperature, opening, area
):
    sound, kinked = (solve_flow(loop, temperature, opening, main_kink=a) for a in (1.0, area))
    assert kinked.flow < sound.flow
    assert kinked.garment_pressure < sound.garment_pressure
    assert kinked.pump_pressure > sound.pump_pressure


@given(loops, temperatures, openings, st.floats(0.1, 0.95))
def test_shut_tubes_raise_garment_pressure(loop, temperature, opening, share):
    sound = solve_flow(loop, temperature, opening)
    shut = solve_flow(loop, temperature, opening, open_tubes=share * loop.tube_count)
    assert shut.garment_pressure > sound.garment_pressure
    assert shut.flow < sound.flow


@given(loops, temperatures, openings, st.floats(1e-6, 1e-4))
def test_a_bypass_takes_its_share_of_the_pumps_flow(loop, temperature, opening, bypass):
    sound = solve_flow(loop, temperature, opening)
    leaking = solve_flow(loop, temperature, opening, bypass_kv=bypass)
    through_bypass = bypass * np.sqrt(leaking.pump_pressure / 1e5)
    assert leaking.pump_flow == pytest.approx(leaking.flow + through_bypass, rel=1e-12)
    assert leaking.flow < sound.flow
    assert leaking.pump_flow > sound.pump_flow


@pytest.mark.parametrize(
    "closed",
    [{"valve_opening": 0.0}, {"main_kink": 0.0}, {"open_tubes": 0.0}, {"pump_speed": 0.0}],
)
def test_what_is_shut_lets_nothing_through(closed):
    point = solve_flow(INVENTED_LOOP, 10.0, **closed)
    assert point.flow == 0.0
    assert point.garment_pressure == 0.0
    assert point.pump_pressure == (0.0 if "pump_speed" in closed else 45e3)


def test_members_do_not_depend_on_their_neighbours():
    free_flows = np.linspace(2e-5, 8e-5, 7)
    together = solve_flow(
        dataclasses.replace(INVENTED_LOOP, pump_free_flow=free_flows), 10.0, 0.6
    ).flow
    alone = [
        solve_flow(dataclasses.replace(INVENTED_LOOP, pump_free_flow=f), 10.0, 0.6).flow
        for f in free_flows
    ]
    assert together == pytest.approx(alone, rel=1e-14)


def test_the_table_has_a_row_for_each_member_and_a_column_for_each_temperature():
    members = dataclasses.replace(INVENTED_LOOP, valve_kv=np.array([0.3, 0.5, 0.7]) / 3600)
    table = flow_table(members, 0.5, np.array([4.0, 20.0]))
    assert table.shape == (3, 2)
    assert table[1, 1] == solve_flow(INVENTED_LOOP, 20.0, 0.5).flow
    assert flow_table(INVENTED_LOOP, 0.5, np.array([4.0, 20.0])).shape == (2,)


@settings(max_examples=30)
@given(openings)
def test_the_cubic_stands_for_the_table(opening):
    warm = np.linspace(0.0, 40.0, 41)
    fitted = np.polynomial.polynomial.polyval(warm, flow_cubic(INVENTED_LOOP, opening))
    assert fitted == pytest.approx(flow_table(INVENTED_LOOP, opening, warm), rel=0.01)


def test_friction_is_one_unbroken_curve():
    numbers = np.geomspace(1, 1e6, 4000)
    steps = np.diff(np.log(friction_factor(numbers)))
    assert np.abs(steps).max() < 0.01


@given(st.floats(0, 1e-4), st.floats(0, 1e-4), temperatures)
def test_more_flow_needs_more_pressure(one, other, temperature):
    less, more = sorted((one, other))
    assert line_pressure(less, 3.0, 6e-3, temperature) <= line_pressure(
        more, 3.0, 6e-3, temperature
    )


@given(st.floats(1e-3, 1.0))
def test_the_kink_band_is_in_order_and_closes_at_the_full_bore(area):
    band = kink_loss(area)
    assert 0 <= band.low <= band.likely * (1 + 1e-12)
    assert band.likely <= band.high * (1 + 1e-12)
    assert kink_loss(1.0) == (0.0, 0.0, 0.0)


@given(st.floats(0, 1), st.floats(0, 1), st.sampled_from(["linear", "equal_percentage"]))
def test_valve_laws_rise_from_shut_to_full(one, other, law):
    less, more = sorted((one, other))
    assert valve_kv(less, 2.0, law) <= valve_kv(more, 2.0, law)
    assert valve_kv(0.0, 2.0, law) == 0.0
    assert valve_kv(1.0, 2.0, law) == pytest.approx(2.0)


def test_equal_steps_of_travel_multiply_the_flow_coefficient_equally():
    quarters = valve_kv(np.array([0.25, 0.5, 0.75, 1.0]), 1.0, "equal_percentage", 40.0)
    assert quarters[1:] / quarters[:-1] == pytest.approx(40.0**0.25)


def test_loss_coefficient_and_kv_are_each_others_inverse():
    from neckring.suit.fittings import loss_coefficient_of_kv

    assert loss_coefficient_of_kv(kv_of_loss_coefficient(21.0, 6e-3), 6e-3) == pytest.approx(21.0)


@pytest.mark.parametrize("opening", [-0.1, 1.1, float("nan")])
def test_an_impossible_opening_is_refused(opening):
    with pytest.raises(ValueError, match="valve opening is"):
        valve_kv(opening, 1.0)


def test_an_unknown_law_or_pump_is_refused():
    with pytest.raises(ValueError, match="'linear', 'equal_percentage'"):
        valve_kv(0.5, 1.0, "quick")
    with pytest.raises(ValueError, match="'centrifugal', 'diaphragm'"):
        pump_pressure("gear", 1.0, 1.0, 0.5)


def test_the_diagnosis_names_what_shows_and_says_what_does_not():
    table = {row.fault: row for row in diagnose(INVENTED_LOOP, 10.0)}
    half = table["main kinked to half its area"]
    assert half.signs == (0, 0, 0)
    assert half.remark.startswith(NOTHING_SHOWS)
    assert 0.98 < half.flow < 1.0
    assert table["main kinked to a tenth of its area"].signs == (-1, 1, -1)
    assert table["pump weak or drawing air"].signs == (-1, -1, -1)
    assert table["bypass between supply and return"].pump_flow > 1.0
    assert table[SOUND].signs == (0, 0, 0)


def test_observed_signs_lead_to_the_faults_that_share_them():
    table = diagnose(INVENTED_LOOP, 10.0)
    assert faults_that_fit(table, (-1, 1, -1)) == (
        "main kinked to a fifth of its area",
        "main kinked to a tenth of its area",
    )
    assert faults_that_fit(table, (1, 1, 1)) == ()


def test_the_root_finder_refuses_a_function_that_does_not_fall():
    with pytest.raises(ArithmeticError, match="does not fall"):
        root_of_falling(lambda x: np.where(x < 0.5, 1.0, np.nan), 0.0, 1.0)
