"""Metabolic rates keep the order that loads, slopes and ground give them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.body import walking, work

bodies = st.floats(50.0, 110.0)
shares = st.floats(0.0, 0.6)
speeds = st.floats(0.4, 1.6)
grades = st.floats(-0.15, 0.2)
terrains = st.sampled_from(sorted(walking.TERRAIN_FACTORS.values()))


@given(bodies, shares, shares, speeds, grades, terrains)
def test_more_load_more_watts(body, one, other, speed, grade, terrain):
    less, more = sorted((one, other))
    light, heavy = (
        work.walking_metabolic_rate(body, body * s, speed, grade, terrain) for s in (less, more)
    )
    assert light.likely <= heavy.likely * (1 + 1e-12)
    assert light.high <= heavy.high * (1 + 1e-12)


@given(bodies, shares, speeds, st.floats(0.0, 0.2), st.floats(0.0, 0.2), terrains)
def test_steeper_uphill_more_watts(body, share, speed, one, other, terrain):
    less, more = sorted((one, other))
    flat, steep = (
        work.walking_metabolic_rate(body, body * share, speed, g, terrain).likely
        for g in (less, more)
    )
    assert flat <= steep * (1 + 1e-12)


@given(bodies, shares, speeds, grades)
def test_rough_ground_never_costs_less(body, share, speed, grade):
    smooth, rough = (
        walking.looney_2022(body, body * share, speed, grade, factor) for factor in (1.0, 1.8)
    )
    assert rough >= smooth * (1 - 1e-12)


@given(bodies, shares, speeds, grades, terrains)
def test_the_band_holds_its_likely_value(body, share, speed, grade, terrain):
    band = work.walking_metabolic_rate(body, body * share, speed, grade, terrain)
    assert 0 < band.low <= band.likely <= band.high


@given(bodies, shares, speeds, st.floats(1.0, 1.2))
def test_bulk_multiplies_the_whole_band(body, share, speed, bulk):
    bare = work.walking_metabolic_rate(body, body * share, speed)
    bulky = work.walking_metabolic_rate(body, body * share, speed, bulk_factor=bulk)
    assert list(bulky) == pytest.approx([bulk * part for part in bare])


def test_a_load_in_the_hands_costs_more_than_on_the_back():
    back = work.walking_metabolic_rate(80.0, 36.0, 0.7)
    hands = work.walking_metabolic_rate(80.0, 30.0, 0.7, hand_load=6.0)
    assert hands.likely > back.likely


def test_going_down_a_rough_slope_the_larger_reading_is_taken():
    level = walking.looney_2022(80.0, 30.0, 1.0, 0.0, 1.5)
    down = walking.looney_2022(80.0, 30.0, 1.0, -0.05, 1.5)
    eased = 0.34 * -5.0 * (1.0 - 1.05 ** (1.0 - 1.1**27)) * 80 * (1 + 1.96 * 0.375**1.36)
    assert down == pytest.approx(level + eased)


def test_downhill_correction_fades_in_without_a_jump():
    grades = np.linspace(-0.25, 0.05, 601)
    rates = walking.pandolf_santee(80.0, 20.0, 1.2, grades)
    assert np.abs(np.diff(rates)).max() < 0.02 * rates.min()
    assert rates[0] == walking.pandolf_santee(80.0, 20.0, 1.2, -0.20)


def test_standing_is_the_walk_without_speed():
    assert walking.looney_2022(80.0, 0.0, 0.0) == pytest.approx(80 * 1.24)


@pytest.mark.parametrize("activity", sorted(work.ACTIVITIES))
def test_every_activity_names_its_source_and_orders_its_band(activity):
    row = work.ACTIVITIES[activity]
    band = work.activity_metabolic_rate(activity, 80.0, 1.9, 40.0, 1.1)
    assert band.low <= band.likely <= band.high
    assert "ISO" in row.source
    assert "from memory" in row.source


@given(st.sampled_from(sorted(work.ACTIVITIES)), bodies, st.floats(0.0, 50.0), st.floats(0.0, 50.0))
def test_load_never_makes_an_activity_easier(activity, body, one, other):
    less, more = sorted((one, other))
    rates = [work.activity_metabolic_rate(activity, body, 1.8, m).likely for m in (less, more)]
    assert rates[0] <= rates[1]


def test_a_seat_bears_the_load():
    assert work.activity_metabolic_rate("ride", 80.0, 1.9, 40.0) == work.activity_metabolic_rate(
        "ride", 80.0, 1.9
    )


def test_hard_work_is_harder_than_light():
    order = ["rest", "stand", "dress", "kneel", "hammer"]
    rates = [work.activity_metabolic_rate(a, 80.0, 1.9, 38.0).likely for a in order]
    assert rates == sorted(rates)


@pytest.mark.parametrize(
    ("rate", "name"), [(60.0, "resting"), (65.1, "low"), (165.0, "moderate"), (900.0, "very high")]
)
def test_classes(rate, name):
    assert work.metabolic_class(rate) == name


def test_remarks_say_what_lies_outside_the_trials():
    assert work.range_remarks(80.0, 40.0, 1.0) == ()
    outside = work.range_remarks(60.0, 45.0, 0.3, -0.5)
    assert len(outside) == 4
    assert outside[0].startswith("load above 66 %")


def test_climbing_and_descending_are_equal_and_opposite():
    assert walking.climbing_power(100.0, 0.8, 0.1) == -walking.climbing_power(100.0, 0.8, -0.1)
    assert walking.grade_of(30.0, 50.0) == pytest.approx(0.75)
    with pytest.raises(ValueError, match="cannot rise"):
        walking.grade_of(50.0, 40.0)
