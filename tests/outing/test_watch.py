"""Limits held step by step: the same crossings as on a whole trace; nothing missed by ending."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenarios import DEMO, FloatArray, of_value, one_spell, outing_of, scenario_of

from neckring.arithmetic import saturation_pressure
from neckring.lanes import ELAPSED, LANES, WHOLE_SIZE
from neckring.outing.batch import row
from neckring.outing.branches import Clocks, Pace
from neckring.outing.draws import dimensions, drawn, sobol_points
from neckring.outing.ensemble import map_of
from neckring.outing.limits import first_crossing, hold
from neckring.outing.plan import simulate
from neckring.outing.scenario import Scenario
from neckring.outing.trunk import run_trunk
from neckring.outing.watch import NEVER, READING_COUNT, dew_point, hold_limits, undecided
from neckring.outing.watching import AIR, HEAT
from neckring.station.variation import with_value

# Whole numbers: crossings are then either on a sample exactly or clearly beside it.
TRACES = st.lists(st.tuples(st.integers(1, 9), st.integers(-5, 5)), min_size=1, max_size=25)


def held(
    times: list[int], lanes: FloatArray, limits: list[tuple[int, bool, int]], asked: float = 1.0
) -> FloatArray:
    """When each limit of a reading is crossed in each lane, shape (limits, LANES)."""
    shape = (len(limits), LANES)
    since, crossed, whole = np.full(shape, NEVER), np.full(shape, NEVER), np.zeros(WHOLE_SIZE)
    readings = np.zeros((READING_COUNT, LANES))
    for step in range(1, len(times)):
        previous = readings.copy()
        previous[0], readings[0] = lanes[step - 1], lanes[step]
        whole[ELAPSED : ELAPSED + LANES] = times[step]
        hold_limits(
            readings,
            previous,
            whole,
            np.full(LANES, float(times[step - 1])),
            np.zeros(len(limits), dtype=np.int64),
            np.array([float(value) for value, _, _ in limits]),
            np.array([1.0 if above else -1.0 for _, above, _ in limits]),
            np.array([float(lasting) for _, _, lasting in limits]),
            since,
            crossed,
            np.full(LANES, asked),
            LANES,
        )
    return crossed


@settings(max_examples=300)
@given(
    st.lists(TRACES, min_size=1, max_size=4),
    st.lists(
        st.tuples(st.integers(-4, 4), st.booleans(), st.integers(0, 30)), min_size=1, max_size=5
    ),
)
def test_limits_held_step_by_step_are_crossed_when_the_whole_trace_says(traces, limits):
    # Given traces of several members on one clock, which begin on the right side of every limit,
    length = min(len(trace) for trace in traces)
    times = np.cumsum([0, *(step for step, _ in traces[0][:length])]).tolist()
    for value, above, lasting in limits:
        first = value - 1 if above else value + 1
        own = [[first, *(at for _, at in trace[:length])] for trace in traces]
        lanes = np.array([own[j % len(own)] for j in range(LANES)], dtype=np.float64).T
        # when the limit is held at every step,
        found = held(times, lanes, [(value, above, lasting)])[0]
        # then every member's crossing is the one that the finished trace shows.
        for j, trace in enumerate(own):
            expected = first_crossing(
                np.array(times, float), np.array(trace, float), value, above, lasting
            )
            assert found[j] == pytest.approx(NEVER if expected is None else expected, rel=1e-12)


@given(TRACES)
def test_who_is_no_longer_asked_crosses_nothing(trace):
    times = np.cumsum([0, *(step for step, _ in trace)]).tolist()
    lanes = np.array([[-9] * LANES, *([at] * LANES for _, at in trace)], dtype=np.float64)
    assert np.all(held(times, lanes, [(-6, True, 0)], asked=1.0) < NEVER)
    assert np.all(held(times, lanes, [(-6, True, 0)], asked=0.0) == NEVER)


def test_standing_water_crosses_nothing():
    # Given an inlet that is too warm for a minute, then stands, then is too warm again,
    values = np.array([0.0, 2.0, np.nan, 2.0, 2.0])
    lanes = np.repeat(values[:, None], LANES, axis=1)
    # then the limit's time counts from when the water moves again.
    assert np.all(held([0, 60, 120, 180, 240], lanes, [(1, True, 130)]) == NEVER)
    assert np.all(held([0, 60, 120, 180, 240], lanes, [(1, True, 100)]) == 120.0 + 100.0)


@given(st.floats(-15.0, 60.0))
def test_the_dew_point_is_where_the_vapour_saturates(temperature):
    assert dew_point(saturation_pressure(temperature)) == pytest.approx(temperature, abs=1e-4)


# Ending when the slack is known


def asks(crossed: list[float], relief: list[float], now: float, kinds: tuple[int, ...]) -> bool:
    """Whether a member whose limits are so is still undecided."""
    whole = np.zeros(WHOLE_SIZE)
    whole[ELAPSED : ELAPSED + LANES] = now
    times, own = (np.repeat(np.array(v)[:, None], LANES, axis=1) for v in (crossed, relief))
    asked = np.zeros(LANES)
    some = undecided(whole, np.full(LANES, 100.0), own, np.array(kinds), times, asked, LANES)
    assert np.all(asked == float(some))
    return bool(some)


def test_a_member_is_decided_when_what_is_to_come_leaves_more_slack():
    # Two limits of one relief: 60 s after the failure with help after 20 s, and one to come whose
    # help takes 300 s: up to 340 s after the failure it would leave less.
    assert asks([160.0, NEVER], [20.0, 300.0], 439.0, (AIR, AIR))
    assert not asks([160.0, NEVER], [20.0, 300.0], 441.0, (AIR, AIR))
    # What was crossed before the failure counts from the failure.
    assert asks([10.0, NEVER], [20.0, 300.0], 379.0, (HEAT, HEAT))
    assert not asks([10.0, NEVER], [20.0, 300.0], 381.0, (HEAT, HEAT))


def test_air_and_heat_are_decided_apart():
    assert asks([160.0, NEVER], [20.0, 300.0], 1e6, (AIR, HEAT))
    assert not asks([160.0, 1e5], [20.0, 300.0], 1e6, (AIR, HEAT))


@pytest.mark.parametrize("kinds", [(AIR, AIR), (AIR, HEAT)])
def test_a_crossing_that_is_itself_asked_for_is_waited_for(kinds):
    assert asks([160.0, NEVER], [20.0, NEVER], 1e6, kinds)
    assert asks([101.0, NEVER], [NEVER, NEVER], 1e6, kinds)
    assert not asks([160.0, 1e5], [NEVER, NEVER], 1e6, kinds)


HARD = outing_of(
    one_spell("dress", place="bay", **{"for": "5 min"}, cooling="pack", air="pack", valve="100 %"),
    one_spell(metabolic_rate="520 W", cooling="pack", air="pack", valve="100 %", **{"for": "1 h"}),
    code="yard-walk",
)
HARD_DOUBTS = len(dimensions(HARD))


def clocks(scenario: Scenario, pace: Pace, reserves: FloatArray) -> dict[str, Clocks]:
    times = frozenset({900.0, 2400.0})
    trunk = run_trunk(scenario, DEMO.limits, times, 20.0)
    codes = ("fans", "pump", "battery", "fall", "down")
    return map_of(trunk, dict.fromkeys(codes, times), reserves, pace)


@settings(max_examples=12)
@given(
    st.integers(0, 2**31),
    st.sampled_from((0.0, 15.0, 400.0)),
    st.sampled_from((0.0, 300.0, 1500.0)),
)
def test_ending_early_never_changes_the_slack(seed, air_reserve, reserve):
    # Given members in hard work, of whom many lose air or grow too hot,
    members = drawn(HARD, sobol_points(HARD_DOUBTS, 0, 10, seed))
    reserves = np.array([air_reserve, reserve])
    # when branches end as soon as the slack is known, or run to their end,
    early = clocks(members, Pace(), reserves)
    whole = clocks(members, Pace(to_the_end=True), reserves)
    # then the slack of the air and of the heat is the same to the last bit, and so is its limit.
    for code, found in early.items():
        slack = [np.minimum(c.margin(reserves), 900.0) for c in (found, whole[code])]
        assert np.array_equal(*slack), code
        known = slack[0] < 900.0
        assert np.array_equal(found.limit[known], whole[code].limit[known])
    assert any(np.isfinite(found.harm).any() for found in early.values())


def test_to_the_end_every_limit_gets_its_clock():
    # Given a battery that dies in hard work: oxygen runs short before carbon dioxide rises,
    members = drawn(HARD, sobol_points(HARD_DOUBTS, 0, 16, 1))
    pace = Pace(to_the_end=True, beyond=7200.0)
    found = clocks(members, pace, np.array([15.0, 300.0]))["battery"]
    # then the later limit has its time too, and so has what the heat does an hour later.
    trunk = run_trunk(members, DEMO.limits, frozenset({900.0}), 20.0)
    by_quantity = dict(zip([r.quantity for r in trunk.rules.limits], found.each, strict=True))
    oxygen, carbon_dioxide = by_quantity["inspired_o2"], by_quantity["inspired_co2"]
    assert np.all(np.isfinite(oxygen) & np.isfinite(carbon_dioxide))
    core = by_quantity["core_temperature"][np.isfinite(by_quantity["core_temperature"])]
    assert core.size >= 4
    assert core.max() > 3600.0


@pytest.mark.parametrize("code", sorted(DEMO.runs))
def test_a_run_goes_on_after_its_limits_are_crossed(code):
    # Given a run in which cautions, and perhaps worse, are met on the way,
    scenario = scenario_of(code)
    trunk = run_trunk(scenario, DEMO.limits, frozenset({0.0}), 10.0)
    # then it is computed to its end, and its limits are crossed when the plan says.
    elapsed = row(trunk.batch.whole, "ELAPSED", 1)[0]
    assert elapsed == pytest.approx(sum(leg.duration for leg in trunk.ready))
    trace, age = simulate(scenario).trace, scenario.wearer.age.nominal
    for number, limit in enumerate(trunk.every.limits):
        reached = hold(limit, age, trace).reached
        crossed = trunk.held.crossed[0, number, 0]
        assert crossed == (NEVER if reached is None else pytest.approx(reached, abs=60.0))


def test_a_limit_that_lasts_is_counted_from_before_the_failure():
    # Given a heart that has beaten too fast for some minutes when the pump stops,
    busy = with_value(HARD.run, ("outing", "2", "metabolic_rate"), of_value(900.0, "power"))
    scenario = outing_of(*busy.outing, code="yard-walk")
    times = frozenset({540.0, 600.0})
    trunk = run_trunk(scenario, DEMO.limits, times, 10.0)
    found = map_of(trunk, {"pump": times}, np.array([15.0, 300.0]), Pace(to_the_end=True))["pump"]
    # then its five minutes do not begin anew: a minute later there is a minute less.
    heart = [r.quantity for r in trunk.rules.limits].index("heart_rate")
    first, second = found.each[heart, :, 0]
    assert 0.0 < second < 200.0
    assert first - second == pytest.approx(60.0, abs=5.0)
