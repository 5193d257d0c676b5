"""How well readings are explained: a sensor's offset learned, a wrong sensor found out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.live.likelihood import LAG, OFFSET_SHARE, QUANTITIES, Belief, weighted_quantile

FLOW = QUANTITIES.index("water_flow")
EVEN = np.full(4, 0.25)


def surely_right(members=4):
    belief = Belief.at_first(members)
    belief.good[:] = 1.0
    return belief


@given(st.lists(st.floats(-3.0, 3.0), min_size=1, max_size=30))
def test_an_offset_is_learned_as_the_textbook_says(errors):
    # Given a sensor that is surely right, when it is read again and again,
    belief = surely_right()
    for error in errors:
        belief.learn("water_flow", np.zeros(4), (2.0 * error, 2.0), EVEN)
    # then its offset is the normal mean with a normal prior (Gelman et al. 2013, Bayesian Data
    # Analysis, equations 2.11 and 2.12), in accuracies.
    prior, noise = OFFSET_SHARE, 1.0 - OFFSET_SHARE
    precision = 1.0 / prior + len(errors) / noise
    assert belief.doubt[FLOW] == pytest.approx(1.0 / precision)
    assert belief.offset[:, FLOW] == pytest.approx(sum(errors) / noise / precision, abs=1e-9)


def test_the_likelihood_of_a_row_of_readings_is_that_of_their_joint_distribution():
    # Given three readings of a right sensor,
    said = np.array([0.3, 1.4, -0.2])
    belief, total = surely_right(), 0.0
    for value in said:
        total += belief.explained("water_flow", np.zeros(4), (value, 1.0), EVEN)[0][0]
        belief.learn("water_flow", np.zeros(4), (value, 1.0), EVEN)
    # then the product of the steps is the joint normal density, whose errors share the offset.
    joint = OFFSET_SHARE + (1.0 - OFFSET_SHARE) * np.eye(3)
    from scipy.stats import multivariate_normal

    assert total == pytest.approx(multivariate_normal(np.zeros(3), joint).logpdf(said))


def test_a_reading_far_from_what_anybody_expects_drags_nobody():
    # Given members that differ, when the sensor says what none of them can explain,
    belief = Belief.at_first(4)
    expected = np.array([0.0, 1.0, 2.0, 3.0])
    logs, sure = belief.explained("water_flow", expected, (60.0, 1.0), EVEN)
    # then all weigh the same, and none believes the sensor.
    assert np.ptp(logs) < 1e-6
    assert sure.max() < 1e-6
    belief.learn("water_flow", expected, (60.0, 1.0), EVEN)
    assert np.abs(belief.offset[:, FLOW]).max() < 1e-3


def test_a_reading_of_what_changes_fast_says_less_and_is_no_reason_to_doubt_the_sensor():
    # Given members in whom the water just went from warm to cold, and a reading that lags behind
    said, expected = (4.0, 1.0), np.array([-1.0, 0.0, 0.0, 1.0])
    steady, fast = Belief.at_first(4), Belief.at_first(4)
    fast.changes("water_flow", -4.0 / LAG, 1.0)
    logs = [belief.explained("water_flow", expected, said, EVEN)[0] for belief in (steady, fast)]
    for belief in (steady, fast):
        belief.learn("water_flow", expected, said, EVEN)
    # then it tells the members less apart, moves the offset less, and leaves the sensor its name;
    assert np.ptp(logs[1]) < 0.5 * np.ptp(logs[0])
    assert np.abs(fast.offset[:, FLOW]).max() < np.abs(steady.offset[:, FLOW]).max()
    assert fast.good[:, FLOW].min() > 0.98 > steady.good[:, FLOW].min()
    # and as soon as it is steady again, it is as if nothing had been.
    fast.changes("water_flow", 0.0, 1.0)
    again = Belief(fast.offset, fast.doubt, fast.good, np.zeros(len(QUANTITIES)))
    assert (
        fast.explained("water_flow", expected, said, EVEN)[0]
        == again.explained("water_flow", expected, said, EVEN)[0]
    ).all()


def test_a_sensor_that_is_right_again_is_believed_again():
    belief = Belief.at_first(4)
    belief.learn("water_flow", np.zeros(4), (60.0, 1.0), EVEN)
    assert belief.good[:, FLOW].max() < 0.01
    for _ in range(6):
        belief.wait(60.0)
        belief.learn("water_flow", np.zeros(4), (0.2, 1.0), EVEN)
    assert belief.good[:, FLOW].min() > 0.9


@given(st.lists(st.floats(-5.0, 5.0), min_size=1, max_size=50))
def test_with_even_weights_a_quantile_is_that_of_the_values(values):
    found = weighted_quantile(np.array(values), np.full(len(values), 1.0), 0.5)
    assert found == np.quantile(values, 0.5, method="inverted_cdf")
