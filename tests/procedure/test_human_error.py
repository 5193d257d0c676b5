"""Laws of the arithmetic of human error; published values are in tests/validation."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.procedure.human_error import (
    ERROR_ROWS,
    JOINT_FLOOR,
    Dependence,
    Lognormal,
    Stress,
    at_least_in_row,
    at_least_one,
    given_failure,
    product,
    under_stress,
)
from neckring.procedure.shaping_factors import (
    ERROR_PRODUCING_CONDITIONS,
    GENERIC_TASKS,
    NOMINAL,
    SHAPING_FACTORS,
    TaskKind,
    heart,
    spar_h,
)

PROBABILITIES = st.floats(0.0, 1.0)
BANDS = st.builds(Lognormal, st.floats(1e-6, 1.0), st.floats(1.0, 30.0))


@given(PROBABILITIES, PROBABILITIES)
def test_dependence_never_helps(one, other):
    # Given any two probabilities, when the failure before draws the next one more
    rising = [given_failure(one, level) for level in Dependence]
    # Then it is not less likely, and certain at the end
    assert all(low <= high + 1e-15 for low, high in pairwise(rising))
    assert (rising[0], rising[-1]) == (one, 1.0)
    # And a likelier failure stays likelier at every level
    for level in Dependence:
        less, more = given_failure(min(one, other), level), given_failure(max(one, other), level)
        assert less <= more


def test_dependence_takes_arrays():
    # Given many probabilities, then each is as when taken alone
    many = np.array([0.0, 0.003, 0.1, 1.0])
    for level in Dependence:
        expected = [given_failure(float(one), level) for one in many]
        assert np.array_equal(given_failure(many, level), expected)


@given(BANDS, st.integers(0, 2**32 - 1))
def test_band_holds_nine_in_ten(band, seed):
    # Given a band, when its lognormal is drawn many times
    draw = np.random.default_rng(seed)
    drawn = band.median * np.exp(band.sigma * draw.standard_normal(4000))
    # Then about one in twenty lies on either side of it; five standard errors are 1.7 %
    if band.error_factor > 1.0:
        assert np.mean(drawn < band.low) == pytest.approx(0.05, abs=0.018)
    assert band.low <= band.median <= band.high <= 1.0
    assert band.mean >= band.median or band.mean == 1.0


def test_mean_is_the_mean_of_what_is_drawn():
    # Given an error factor of 5
    band = Lognormal(0.003, 5.0)
    drawn = 0.003 * np.exp(band.sigma * np.random.default_rng(3).standard_normal(1_000_000))
    # Then the formula gives the mean, within five standard errors
    assert band.mean == pytest.approx(drawn.mean(), abs=5 * drawn.std() / 1000)


@given(st.lists(BANDS, min_size=1, max_size=5), st.randoms(use_true_random=False))
def test_product_does_not_hang_on_the_order(bands, random):
    shuffled = list(bands)
    random.shuffle(shuffled)
    one = product(bands)
    other = product(shuffled)
    assert one.median == pytest.approx(other.median, rel=1e-12)
    assert one.error_factor == pytest.approx(other.error_factor, rel=1e-12)
    # And it is wider than each factor, and narrower than if all doubts added up
    assert one.error_factor >= max(band.error_factor for band in bands) * (1 - 1e-12)
    assert one.error_factor <= math.prod(band.error_factor for band in bands) * (1 + 1e-12)


@given(PROBABILITIES, st.integers(0, 200))
def test_at_least_one_is_the_rest_of_none(probability, items):
    none = math.prod([1.0 - probability] * items)
    assert at_least_one(probability, items) == pytest.approx(1.0 - none, abs=1e-12)


@pytest.mark.parametrize(
    ("place", "least"),
    [
        (1, Dependence.ZERO),
        (2, Dependence.ZERO),
        (3, Dependence.MODERATE),
        (4, Dependence.HIGH),
        (9, Dependence.HIGH),
    ],
)
def test_later_failures_hang_together(place, least):
    for level in Dependence:
        assert at_least_in_row(level, place) == max(level, least)


def test_every_row_says_where_it_is_from():
    assert len(ERROR_ROWS) == 26
    for name, row in ERROR_ROWS.items():
        # Given a row, then it can be found in its table and has a band
        assert name == row.table
        assert 0.0 < row.median < 1.0 < row.error_factor
        # And nothing remembered is called seen
        assert not (row.verified and row.from_memory)
        assert ("from memory" in row.how) == (not row.verified)
        assert row.source
        assert row.how


def test_rows_seen_are_those_that_were_seen():
    # Given the records that were opened (see the rows' `how`), then only these count as seen
    seen = {name for name, row in ERROR_ROWS.items() if row.verified}
    assert seen == {
        "20-6 (7)",
        "20-7 (3)",
        "20-7 (5)",
        "20-13 (1)",
        "20-14 (3)",
        "20-22 (2)",
    }
    half = {n for n, row in ERROR_ROWS.items() if not (row.verified or row.from_memory)}
    assert half == {"20-12 (2)", "20-12 (7)"}


def test_stress_is_harder_on_novices():
    band = Lognormal(0.01, 3.0)
    medians = {
        (stress, novice): under_stress(band, stress, novice).median
        for stress in Stress
        for novice in (False, True)
    }
    assert medians[Stress.OPTIMUM, True] == medians[Stress.OPTIMUM, False] == 0.01
    assert medians[Stress.MODERATELY_HIGH, False] == pytest.approx(0.02)
    assert medians[Stress.EXTREMELY_HIGH, True] == pytest.approx(0.1)
    # And no probability passes one
    assert under_stress(Lognormal(0.5, 5.0), Stress.EXTREMELY_HIGH, True).median == 1.0


@given(st.sampled_from(TaskKind), st.lists(st.floats(0.01, 50.0), max_size=8))
def test_spar_h_stays_a_probability_and_rises(task, multipliers):
    # Given shaping factors, when one more negative one joins two others
    found = spar_h(task, multipliers)
    assert 0.0 < found <= 1.0
    # Then with the correction in force it never falls
    negative = [2.0, 2.0, 2.0]
    corrected = spar_h(task, [*multipliers, *negative])
    assert corrected <= spar_h(task, [*multipliers, *negative, 5.0]) <= 1.0


@pytest.mark.parametrize("task", TaskKind)
def test_spar_h_without_factors_is_nominal(task):
    assert spar_h(task, ()) == NOMINAL[task]
    assert spar_h(task, (50.0, 20.0)) == min(1.0, NOMINAL[task] * 1000.0)


def test_the_corrected_multiplier_is_the_one_that_ships():
    # Given the slip in one transcription (2 for a poor action), then five stands here
    poor = next(f for f in SHAPING_FACTORS if (f.factor, f.level) == ("work processes", "poor"))
    good = next(f for f in SHAPING_FACTORS if (f.factor, f.level) == ("work processes", "good"))
    assert (poor.diagnosis, poor.action) == (2, 5)
    assert (good.diagnosis, good.action) == (0.8, 0.5)
    # And what rests on the file with the slip says that it is in doubt
    assert all(("in doubt" in f.how) == (not f.verified) for f in SHAPING_FACTORS)


def test_heart_grows_with_what_is_present():
    # Given a task and a condition that is absent, half there, fully there
    task, unfamiliar = GENERIC_TASKS["F"].value, ERROR_PRODUCING_CONDITIONS["unfamiliar"].value
    found = [heart(task, [(unfamiliar, share)]) for share in (0.0, 0.5, 1.0)]
    assert found == pytest.approx([0.003, 0.027, 0.051])
    assert heart(0.55, [(17.0, 1.0)]) == 1.0
    doubted = [*GENERIC_TASKS.values(), *ERROR_PRODUCING_CONDITIONS.values()]
    assert {generic.name for generic in doubted if generic.verified} == {"E", "F", "unfamiliar"}


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: Lognormal(0.0, 3.0), "median is 0"),
        (lambda: Lognormal(1.5, 3.0), "accepted"),
        (lambda: Lognormal(0.1, 0.5), "error factor is 0.5"),
        (lambda: given_failure(1.2, Dependence.LOW), "probability is 1.2"),
        (lambda: given_failure(math.nan, Dependence.ZERO), "probability is nan"),
        (lambda: product([]), "at least one"),
        (lambda: at_least_one(0.1, -1), "items is -1"),
        (lambda: spar_h(TaskKind.ACTION, [0.0]), "multiplier is 0"),
        (lambda: heart(0.1, [(0.5, 1.0)]), "greatest effect is 0.5"),
        (lambda: heart(0.1, [(5.0, 1.5)]), "share is 1.5"),
    ],
)
def test_what_is_no_probability_is_refused(wrong, words):
    with pytest.raises(ValueError, match=words):
        wrong()


def test_floor_lies_at_the_careful_end():
    assert JOINT_FLOOR == 1e-5
