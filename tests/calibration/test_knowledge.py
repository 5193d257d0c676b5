"""Normal distributions: textbook posteriors, and runs that may come in any order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.calibration.knowledge import Gaussian, Knowledge, Measurements, linear_posterior
from neckring.calibration.posterior import MODEL_ERROR, channel_covariance
from neckring.live.likelihood import OFFSET_SHARE

SEEDS = st.integers(0, 10_000)


def measurements(draw: np.random.Generator, count: int, numbers: int) -> Measurements:
    precision = np.diag(draw.uniform(0.2, 5.0, count))
    slopes, told = draw.standard_normal((count, numbers)), draw.standard_normal(count)
    return Measurements(slopes, told, precision)


@given(SEEDS)
def test_two_runs_at_once_tell_what_they_tell_one_after_the_other(seed):
    # given three scores and two runs that each tell of some
    draw = np.random.default_rng(seed)
    first, second = measurements(draw, 4, 3), measurements(draw, 5, 3)
    # when both are heard at once, or one after the other in either order
    at_once = linear_posterior(Gaussian.standard(3), [first, second])
    for one, other in ((first, second), (second, first)):
        after = linear_posterior(linear_posterior(Gaussian.standard(3), [one]), [other])
        # then all know the same
        assert after.mean == pytest.approx(at_once.mean, abs=1e-9)
        assert after.covariance == pytest.approx(at_once.covariance, abs=1e-9)


@given(SEEDS)
def test_what_a_run_tells_of_the_suit_reaches_the_wearer_who_hangs_on_it(seed):
    # given a run that told of suit and wearer together, and another of the suit alone
    draw = np.random.default_rng(seed)
    both, alone = measurements(draw, 3, 2), measurements(draw, 2, 1)
    names = ["suit", "wearer"]
    known = Knowledge().told(names, linear_posterior(Gaussian.standard(2), [both]))
    # when the second is heard by the suit's score only
    suit = linear_posterior(known.of(["suit"]), [alone])
    after = known.told(["suit"], suit).of(names)
    # then the wearer is known as by hearing all of it at once
    wide = Measurements(np.column_stack([alone.slopes, 0.0 * alone.slopes]), *_rest(alone))
    whole = linear_posterior(Gaussian.standard(2), [both, wide])
    assert after.mean == pytest.approx(whole.mean, abs=1e-9)
    assert after.covariance == pytest.approx(whole.covariance, abs=1e-9)


def _rest(one: Measurements) -> tuple[np.ndarray, np.ndarray]:
    return one.told, one.precision


def test_what_nobody_told_of_stays_as_it_was():
    known = Knowledge().told(["a"], Gaussian(np.array([1.0]), np.array([[0.25]])))
    assert known.of(["b", "a"]).mean == pytest.approx([0.0, 1.0])
    assert known.of(["b"]).covariance == pytest.approx(np.eye(1))


@pytest.mark.parametrize("count", [1, 4, 25])
def test_the_mean_of_normal_readings_is_known_as_the_textbook_says(count):
    # given a garment of 22 W/K +/- 6 and readings of it to 3 W/K each
    # Source: Gelman et al. 2013, Bayesian Data Analysis, 3rd ed., equation 2.12 (from memory)
    told = 20.0 + np.linspace(-2.0, 2.0, count)
    measured = Measurements(np.ones((count, 1)), told, np.eye(count) / 9.0)
    # when they are heard
    after = linear_posterior(Gaussian(np.array([22.0]), np.array([[36.0]])), [measured])
    # then precisions add up, and the mean is weighed by them
    precision = 1.0 / 36.0 + count / 9.0
    mean = (22.0 / 36.0 + count / 9.0 * told.mean()) / precision
    assert after.covariance[0, 0] == pytest.approx(1.0 / precision)
    assert after.mean[0] == pytest.approx(mean)


@pytest.mark.parametrize("count", [1, 10, 1000])
def test_no_number_of_readings_beats_the_offset_of_their_sensor(count):
    # given readings of one sensor, whose offset is the same in all of them
    slopes, told = np.ones((count, 1)), np.full(count, 0.4)
    precision = np.linalg.inv(channel_covariance(np.ones(count)))
    # when they are heard
    after = linear_posterior(Gaussian.standard(1), [Measurements(slopes, told, precision)])
    # then their mean errs by the offset, and by the noise over their number
    error = OFFSET_SHARE + (1.0 - OFFSET_SHARE + MODEL_ERROR**2) / count
    assert after.covariance[0, 0] == pytest.approx(error / (1.0 + error))
    assert after.mean[0] == pytest.approx(0.4 / (1.0 + error))
