"""Drawing: what is uncertain is drawn as it is written, and each member stays who it is."""

from __future__ import annotations

import itertools
import pickle
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scenarios import DEMO, made_ready, one_spell, outing_of, scenario_of, varying, with_place
from scipy import stats

from neckring.body import anatomy
from neckring.body.work import activity_metabolic_rate, walking_metabolic_rate
from neckring.lanes import FLOW_0, FLOW_3, LANES
from neckring.outing import doubts
from neckring.outing.batch import row
from neckring.outing.draws import Dimension, Uncertain, dimensions, drawn, sobol_points
from neckring.outing.scenario import Scenario
from neckring.outing.spells import carried_mass, leg, legs, movement, work_rows
from neckring.outing.wearing import control_of, person_of
from neckring.units import parse_quantity

SURVEY = scenario_of("floor-survey")
DOUBTS = dimensions(SURVEY)
KEYS = [dimension.key for dimension in DOUBTS]
SHARES = st.floats(0.0, 1.0)


def points_of(share: float, members: int = 3) -> np.ndarray:
    return np.full((members, len(DOUBTS)), share)


def column(key: str) -> int:
    return KEYS.index(key)


# The sequence


@given(st.integers(1, 60), st.lists(st.integers(0, 300), max_size=4), st.integers(0, 2**31))
def test_a_row_is_the_same_however_the_rows_are_cut_up(columns, cuts, seed):
    whole = sobol_points(columns, 0, 300, seed)
    edges = [0, *sorted(cuts), 300]
    parts = [sobol_points(columns, a, b, seed) for a, b in itertools.pairwise(edges)]
    assert np.array_equal(np.concatenate(parts), whole)


def test_points_fill_each_dimension_evenly_and_never_touch_its_ends():
    points = sobol_points(40, 0, 1024, seed=7)
    counts = [np.histogram(points[:, i], bins=64, range=(0, 1))[0] for i in range(40)]
    assert np.all(np.array(counts) == 16)
    assert points.min() > 0.0
    assert points.max() < 1.0


def test_another_seed_gives_other_points():
    assert not np.array_equal(sobol_points(5, 0, 8, 1), sobol_points(5, 0, 8, 2))


@pytest.mark.parametrize(("first", "last"), [(-1, 3), (5, 4), (0, 2**30 + 1)])
def test_rows_outside_the_sequence_are_refused(first, last):
    with pytest.raises(ValueError, match="accepted: from 0"):
        sobol_points(3, first, last, 1)


# What is drawn


def test_the_surveys_doubts_are_those_of_its_files_and_of_the_model():
    assert "suit.garment.conductance" in KEYS
    assert KEYS[-len(doubts.MODEL_DOUBTS) :] == [d.key for d in doubts.MODEL_DOUBTS]
    assert len(set(KEYS)) == len(KEYS)
    assert not [key for key in KEYS if "policy" in key]


def test_only_places_that_are_touched_are_asked():
    def texts(code: str) -> str:
        return next(
            d.written
            for d in dimensions(scenario_of(code))
            if d.key == "station.places.radiant_temperature"
        )

    assert texts("floor-survey") == "21 degC +/- 3"
    assert "34 degC +/- 4" in texts("bench-climb")


def test_a_place_on_the_way_home_counts_as_touched():
    # given a run whose wearer rides to the bench by no path, and must walk home over the floor
    rest = {"for": "10 min", "helmet": "on"}
    there = outing_of(one_spell("rest", place="bay", **rest), one_spell("rest", place="bench"))
    own = {u.quantity.text for d in dimensions(there) for u in d.quantities}
    assert DEMO.station.places["floor"].radiant_temperature.text in own


def test_quantities_of_one_kind_move_together_and_named_fields_apart():
    # given a warm floor and a cool yard, and a wall uncertain on two regions
    wall = SURVEY.suit.wall
    thick = wall.trunk.model_copy(update={"insulation": parse_quantity("1..3 clo", "insulation")})
    thin = wall.legs.model_copy(update={"insulation": parse_quantity("1..3 clo", "insulation")})
    suit = SURVEY.suit.model_copy(
        update={"wall": wall.model_copy(update={"trunk": thick, "legs": thin})}
    )
    scenario = replace(SURVEY, suit=suit)
    world = drawn(scenario, sobol_points(len(dimensions(scenario)), 0, 64, 3))

    yard, floor = (scenario.station.places[code].air_temperature for code in ("yard", "floor"))
    assert np.allclose(world.of(floor) - world.of(yard), 2.0)
    assert np.std(world.of(floor)) > 1.0
    assert abs(np.corrcoef(world.of(thick.insulation), world.of(thin.insulation))[0, 1]) < 0.5


def test_a_place_nobody_touches_is_drawn_with_the_others():
    world = drawn(SURVEY, points_of(0.9))
    bench = world.of(SURVEY.station.places["bench"].air_temperature)
    assert np.allclose(bench - world.of(SURVEY.station.places["yard"].air_temperature), 9.0)


def test_equal_words_of_different_things_are_drawn_apart():
    places = with_place(SURVEY.station, "yard", wind="1..2 m/s", sun="1..2 W/m2")
    scenario = replace(SURVEY, station=places)
    world = drawn(scenario, sobol_points(len(dimensions(scenario)), 0, 16, 3))
    yard = scenario.station.places["yard"]
    assert not np.allclose(world.of(yard.wind), world.of(yard.sun))


def test_a_stranger_with_a_spread_is_refused_and_an_exact_one_is_not():
    world = drawn(SURVEY, points_of(0.5))
    stranger = parse_quantity(SURVEY.suit.garment.conductance.text, "conductance")
    assert stranger == SURVEY.suit.garment.conductance
    with pytest.raises(KeyError, match="no quantity of the scenario"):
        world.of(stranger)
    assert np.array_equal(world.of(parse_quantity("3 W/K", "conductance")), [3.0, 3.0, 3.0])


def test_points_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match=f"accepted: {len(DOUBTS)} columns"):
        drawn(SURVEY, np.full((3, 2), 0.5))


# How it is drawn


@given(st.sampled_from(DOUBTS), st.lists(SHARES, min_size=1, max_size=20))
def test_quantiles_are_those_of_the_distribution_as_written(dimension: Dimension, shares):
    for uncertain in dimension.quantities:
        quantity, asked = uncertain.quantity, np.array(shares)
        if quantity.spread == "range":
            expected = stats.uniform(quantity.low, quantity.high - quantity.low).ppf(asked)
        else:
            ends = np.array([uncertain.lowest, uncertain.highest])
            a, b = (ends - quantity.nominal) / quantity.deviation
            expected = stats.truncnorm(a, b, quantity.nominal, quantity.deviation).ppf(asked)
        # The normal's inverse is steep at its ends: there only the range is held.
        inner = (asked > 1e-6) & (asked < 1 - 1e-6)
        assert np.allclose(uncertain.at(asked)[inner], expected[inner], rtol=1e-6, atol=1e-9)


@given(st.sampled_from(DOUBTS), SHARES, SHARES)
def test_a_higher_share_never_gives_a_lower_value(dimension, one, other):
    low, high = sorted((one, other))
    for uncertain in dimension.quantities:
        assert uncertain.at(np.array(low)) <= uncertain.at(np.array(high))


def test_the_middle_of_all_points_is_the_value_as_written():
    world = drawn(SURVEY, points_of(0.5))
    for dimension in DOUBTS:
        for uncertain in dimension.quantities:
            quantity = uncertain.quantity
            room = 0.03 * quantity.deviation  # A cut-off tail moves the median by so much at most.
            assert abs(world.of(quantity)[0] - quantity.nominal) <= room, dimension.key


@given(arrays(np.float64, (4, len(DOUBTS)), elements=SHARES))
def test_no_member_leaves_what_the_files_accept(points):
    world = drawn(SURVEY, points)
    for dimension in DOUBTS:
        for uncertain in dimension.quantities:
            values = world.of(uncertain.quantity)
            assert np.all(np.isfinite([uncertain.lowest, uncertain.highest])), dimension.key
            assert np.all((values >= uncertain.lowest) & (values <= uncertain.highest))


def test_a_normal_quantity_close_to_zero_stays_above_it():
    tight = Uncertain(parse_quantity("3 W/K +/- 1", "conductance"), 1.0, 100.0)
    values = tight.at(sobol_points(1, 0, 4096, 1)[:, 0])
    expected = stats.truncnorm(-2.0, 97.0, 3.0, 1.0)
    assert values.min() >= 1.0
    assert abs(values.mean() - expected.mean()) < 2e-3
    assert abs(values.std() - expected.std()) < 2e-3


@given(st.integers(1, 63), st.integers(0, 2**31))
def test_a_member_is_the_same_whatever_it_is_drawn_with(cut, seed):
    def values(first: int, last: int) -> np.ndarray:
        world = drawn(SURVEY, sobol_points(len(DOUBTS), first, last, seed))
        return np.array([world.of(u.quantity) for d in DOUBTS for u in d.quantities])

    assert np.array_equal(np.hstack([values(0, cut), values(cut, 64)]), values(0, 64))


def test_a_member_alone_is_dressed_and_scheduled_as_among_others():
    # given a garment whose shares are uncertain too, for their sum is taken member by member
    texts = {"chest": "14 % +/- 2", "thighs": "26 % +/- 4", "back": "14 % +/- 3"}
    read = {name: parse_quantity(text, "fraction") for name, text in texts.items()}
    garment = SURVEY.suit.garment
    shares = garment.model_copy(update={"shares": garment.shares.model_copy(update=read)})
    scenario = replace(SURVEY, suit=SURVEY.suit.model_copy(update={"garment": shares}))
    columns = len(dimensions(scenario))

    def ready(first: int, last: int) -> list[np.ndarray]:
        world = drawn(scenario, sobol_points(columns, first, last, 11))
        batch, plan = made_ready(world)
        # The flow is fitted apart, by a library that may round otherwise for other members.
        plan.spells[..., FLOW_0 : FLOW_3 + LANES] = 0.0
        held = (batch.state, batch.body, batch.whole, batch.traits, plan.spells, plan.around)
        lanes = [array.reshape(*array.shape[:-1], -1, LANES) for array in held]
        return [np.concatenate(array, axis=-1)[..., : last - first] for array in lanes]

    together = ready(0, 33)
    for member in (0, 15, 32):
        for alone, all_of_them in zip(ready(member, member + 1), together, strict=True):
            assert np.array_equal(alone[..., 0], all_of_them[..., member])


# In another process


def all_values(world: Scenario) -> np.ndarray:
    asked = [u.quantity for d in dimensions(world) for u in d.quantities]
    return np.array([world.of(quantity) for quantity in asked])


def test_a_drawn_scenario_is_the_same_in_another_process(tmp_path: Path):
    world = drawn(SURVEY, sobol_points(len(DOUBTS), 0, 16, 5))
    sent, back = tmp_path / "sent", tmp_path / "back.npy"
    sent.write_bytes(pickle.dumps(world))
    script = (
        "import pickle, sys, numpy\n"
        "from neckring.outing.draws import dimensions\n"
        "world = pickle.load(open(sys.argv[1], 'rb'))\n"
        "asked = [u.quantity for d in dimensions(world) for u in d.quantities]\n"
        "numpy.save(sys.argv[2], numpy.array([world.of(q) for q in asked]))\n"
    )
    subprocess.run([sys.executable, "-c", script, str(sent), str(back)], check=True, timeout=120)
    assert np.array_equal(np.load(back), all_values(world))


# What the model itself does not know


@pytest.mark.parametrize("code", list(DEMO.runs))
def test_a_plan_as_written_does_not_feel_the_models_doubts(code):
    scenario = scenario_of(code)
    mass, worn = scenario.of(scenario.wearer.mass), carried_mass(scenario)
    bulk = scenario.of(scenario.suit.bulk_factor)
    area = anatomy.surface_area(scenario.of(scenario.wearer.height), mass)
    tabled = [ready for ready in legs(scenario) if ready.spell.metabolic_rate is None]
    assert tabled
    for ready in tabled:
        spell, held = ready.spell, scenario.of(ready.spell.load)
        walked = movement(scenario, spell)[0]
        if walked.speed[0] > 0.0:
            ways = (mass, worn, walked.speed, walked.grade, walked.terrain, bulk, held)
            expected = walking_metabolic_rate(*ways)
        else:
            expected = activity_metabolic_rate(spell.spell, mass, area, worn + held, bulk)
        assert np.array_equal(ready.rate.likely, expected.likely * np.ones(1))


def test_each_doubt_of_the_model_is_neutral_at_its_nominal_value():
    for doubt in doubts.MODEL_DOUBTS:
        factor = doubt.quantity in (
            doubts.HEART_SLOPE_FACTOR,
            doubts.SWEAT_FACTOR,
            doubts.VENTILATION_FACTOR,
        )
        assert doubt.quantity.nominal == (1.0 if factor else 0.0), doubt.key
        assert doubt.lowest < doubt.quantity.nominal < doubt.highest
        assert doubt.source


@pytest.mark.parametrize("activity", ["walk", "hammer"])
def test_the_metabolic_rate_goes_from_edge_to_edge_of_its_band(activity):
    keys = {"speed": "0.8 m/s"} if activity == "walk" else {}
    own = doubts.WALKING_PLACE if activity == "walk" else doubts.ACTIVITY_PLACE
    scenario = outing_of(one_spell(activity, **keys))
    places = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
    rate = leg(varying(scenario, own, places), scenario.run.outing[0]).rate

    low, likely, high = rate.low[0], rate.likely[2], rate.high[0]
    expected = [low, 0.5 * (low + likely), likely, 0.5 * (likely + high), high]
    assert low < likely < high
    assert np.allclose(rate.likely, expected)


def test_a_measured_metabolic_rate_has_no_doubt_of_the_model():
    scenario = outing_of(one_spell("work"))
    rate = leg(
        varying(scenario, doubts.ACTIVITY_PLACE, np.array([-1.0, 1.0])), scenario.run.outing[0]
    ).rate
    assert np.array_equal(rate.likely, [300.0, 300.0])


def rows_with(quantity, values) -> dict[str, np.ndarray]:
    world = varying(outing_of(one_spell("hammer")), quantity, np.array(values))
    return work_rows(world, legs(world)[0], np.full(len(values), 101325.0))


def test_a_higher_quotient_makes_more_carbon_dioxide():
    rows = rows_with(doubts.QUOTIENT_SHIFT, [-0.1, 0.0, 0.1])
    assert np.all(np.diff(rows["CO2_PER_WATT"]) > 0.0)
    assert np.all(np.diff(rows["O2_PER_WATT"]) < 0.0)


def test_deeper_breaths_take_back_less_carbon_dioxide():
    assert np.all(
        np.diff(rows_with(doubts.VENTILATION_FACTOR, [0.7, 1, 1.3])["REBREATHED_CO2"]) < 0
    )


def test_the_heart_rate_slope_follows_its_factor():
    slopes = rows_with(doubts.HEART_SLOPE_FACTOR, [0.5, 1.0, 1.5])["HEART_CORE_SLOPE"]
    assert np.allclose(slopes / slopes[1], [0.5, 1.0, 1.5])


def test_the_sweat_gain_follows_its_factor():
    world = varying(SURVEY, doubts.SWEAT_FACTOR, np.array([0.5, 1.0]))
    gain = control_of(world, person_of(world)).sweat_gain
    assert gain[0] == gain[1] / 2.0


def test_a_wearer_who_runs_warm_starts_warm():
    shifts = np.array([-0.5, 0.0, 0.5])
    batch, _ = made_ready(varying(SURVEY, doubts.SET_POINT_SHIFT, shifts))
    core = row(batch.state[:, 4:5], "CORE", 3)[0]
    assert np.allclose(core - core[1], shifts)
    assert np.allclose(row(batch.whole, "CORE_BASELINE", 3), core)
