"""Sensitivity: what carries the doubt, how surely that is known, and what is said about it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scenarios import scenario_of

from neckring.outing.draws import dimensions
from neckring.outing.outlook import Doubt
from neckring.outing.sensitivity import Indices, doubts_of, measuring_advice, total_order

SEEDS = st.integers(0, 2**31)
SLOPES = st.lists(st.floats(-10.0, 10.0), min_size=1, max_size=6).filter(
    lambda slopes: max(map(abs, slopes)) > 0.1
)


def arrays_of(found: Indices) -> tuple[np.ndarray, ...]:
    return found.total, found.low, found.high


@given(SLOPES, SEEDS)
def test_independent_effects_share_the_doubt_by_their_variance(slopes, seed):
    weights = np.array(slopes)
    found = total_order(lambda points: points @ weights, len(slopes), 512, seed)
    assert np.allclose(found.total, weights**2 / np.sum(weights**2), atol=0.03)
    assert abs(found.total.sum() - 1.0) < 0.03


@given(SLOPES, SEEDS)
def test_what_plays_no_part_carries_exactly_nothing(slopes, seed):
    weights = np.array(slopes)
    found = total_order(lambda points: np.exp(points[:, 1:] @ weights), len(slopes) + 1, 64, seed)
    assert found.total[0] == found.low[0] == found.high[0] == 0.0
    assert found.total.max() > 0.0


@given(SEEDS, st.floats(-1e3, 1e3), st.floats(0.01, 1e3))
def test_units_do_not_matter(seed, offset, factor):
    def product(points: np.ndarray) -> np.ndarray:
        return points[:, 0] * points[:, 1] + points[:, 2]

    one = total_order(product, 3, 128, seed)
    other = total_order(lambda points: offset + factor * product(points), 3, 128, seed)
    for own, same in zip(arrays_of(one), arrays_of(other), strict=True):
        assert np.allclose(own, same, rtol=1e-5, atol=1e-8)


@given(SEEDS)
def test_shared_effects_count_for_each(seed):
    # The product of two centred inputs is all interaction: each carries all of it.
    found = total_order(lambda p: (p[:, 0] - 0.5) * (p[:, 1] - 0.5), 2, 512, seed)
    assert np.allclose(found.total, 1.0, atol=0.15)


@given(SEEDS, st.integers(1, 8))
def test_the_interval_holds_the_index(seed, power):
    found = total_order(lambda p: np.maximum(p[:, 0] - 0.8, 0.3 * p[:, 1] ** 4), 2, 2**power, seed)
    assert np.all((found.low <= found.total) & (found.total <= found.high))


def test_more_members_make_it_surer():
    def width(members: int) -> float:
        found = total_order(lambda p: np.exp(3.0 * p[:, 0]) + p[:, 1] ** 2, 2, members, 1)
        return float(np.max(found.high - found.low))

    assert width(4096) < 0.35 * width(128)


@pytest.mark.parametrize("answer", [0.0, 1234.5])
def test_an_answer_that_never_changes_has_no_doubt(answer):
    found = total_order(lambda points: np.full(len(points), answer), 4, 32, 1)
    assert np.array_equal([found.total, found.low, found.high], np.zeros((3, 4)))


def test_an_answer_that_only_rounding_changes_has_no_doubt():
    found = total_order(lambda points: 7000.0 + 1e-9 * points[:, 0], 2, 32, 1)
    assert np.array_equal(found.total, [0.0, 0.0])


def test_it_is_the_same_each_time_and_asks_no_more_than_it_says():
    calls = []

    def answer(points: np.ndarray) -> np.ndarray:
        calls.append(points.shape)
        return np.sin(6.0 * points[:, 0]) * points[:, 1]

    one, two = total_order(answer, 2, 64, 9), total_order(answer, 2, 64, 9)
    assert np.array_equal(arrays_of(one), arrays_of(two))
    assert calls == [(64, 2)] * 8


@pytest.mark.parametrize("members", [0, 1, 3, 100])
def test_members_must_be_a_power_of_two(members):
    with pytest.raises(ValueError, match="accepted: a power of two"):
        total_order(lambda points: points[:, 0], 1, members, 1)


@pytest.mark.parametrize("answer", [np.nan, np.inf])
def test_an_answer_without_a_number_is_refused(answer):
    with pytest.raises(ValueError, match="finite"):
        total_order(lambda points: np.where(points[:, 0] > 0.9, answer, 1.0), 1, 64, 1)


# What is said


def test_doubts_come_greatest_first_with_their_words():
    own = dimensions(scenario_of("floor-survey"))
    shares = np.linspace(0.0, 1.0, len(own))
    shares[-1] = 1.05  # By chance an index may come out above 1.
    found = doubts_of(own, Indices(shares, 0.9 * shares, 1.1 * shares))
    assert [doubt.label for doubt in found] == [dimension.label for dimension in own][::-1]
    assert all(0.0 <= d.low <= d.share <= d.high <= 1.0 for d in found)
    conductance = next(doubt for doubt in found if doubt.label == "the garment's conductance")
    assert (conductance.written, conductance.measurable) == ("22 W/K +/- 6", True)


def test_what_carries_most_is_to_be_measured():
    conductance = Doubt("the garment's conductance", "22 W/K +/- 6", 0.612, 0.5, 0.7, True)
    sweat = Doubt("how much the wearer sweats", "assumed", 0.2, 0.1, 0.3, False)
    little = Doubt("the suit's leak", "6 L/min +/- 1", 0.099, 0.05, 0.12, True)
    assert measuring_advice((conductance, sweat, little)) == (
        "Measure the garment's conductance: it carries 61 % (50 to 70) of the doubt in the worst "
        "slack.",
        "How much the wearer sweats carries 20 % (10 to 30) of the doubt in the worst slack: no "
        "measurement before the run takes that away, only the reserve covers it.",
    )


def test_every_dimension_of_the_demo_reads_as_words():
    for code in ("floor-survey", "bench-climb", "yard-walk"):
        for dimension in dimensions(scenario_of(code)):
            assert "_" not in dimension.label
            assert dimension.label.split()[0] in ("the", "how", "where"), dimension.label
            assert dimension.written
