"""Laws of thinning out and smoothing a cloud of particles."""

from __future__ import annotations

import numpy as np
import pytest
from hidden_worlds import demo_run
from hypothesis import given, settings
from hypothesis import strategies as st

from neckring.live.fault_modes import MODES, SOUND
from neckring.live.hidden_values import WORK_LASTS, WORK_SPREAD, doubts_of, work_after
from neckring.live.members import Carried, Loop, Members
from neckring.live.particles import Particles
from neckring.live.resampling import effective, sizes, systematic

WEIGHTS = st.lists(st.floats(1e-6, 1.0), min_size=1, max_size=60).map(np.array)


@given(WEIGHTS, st.integers(1, 200), st.floats(0.0, 0.999))
def test_each_member_is_chosen_about_as_often_as_its_weight_asks(weights, count, start):
    # Given weights, when so many are chosen,
    chosen = systematic(weights, count, start)
    often = np.bincount(chosen, minlength=len(weights))
    # then there are so many, and none is chosen one time more or less than its due.
    assert often.sum() == count
    assert np.all(np.abs(often - count * weights / weights.sum()) < 1.0 + 1e-6)


@given(WEIGHTS)
def test_the_effective_number_lies_between_one_and_all(weights):
    assert 1.0 - 1e-9 <= effective(weights) <= len(weights) + 1e-9
    assert effective(np.ones(len(weights))) == pytest.approx(len(weights))


@given(st.lists(st.floats(0.0, 1.0), min_size=len(MODES), max_size=len(MODES)))
@settings(max_examples=50)
def test_every_fault_keeps_its_scouts_and_all_sizes_add_up(parts):
    mass = np.array(parts) + 1e-9
    found = sizes(mass / mass.sum(), 500)
    assert found.sum() == 500
    assert found.min() >= 10


def test_work_wanders_as_far_as_is_said_and_no_further():
    # Given many people whose work has its usual spread, when half an hour passes,
    draw = np.random.default_rng(1)
    work = WORK_SPREAD * draw.standard_normal(200_000)
    later = work_after(work, WORK_LASTS, draw.standard_normal(len(work)))
    # then the spread is the same, and 1/e of each deviation is left.
    assert later.std() == pytest.approx(WORK_SPREAD, rel=0.01)
    assert np.corrcoef(work, later)[0, 1] == pytest.approx(np.exp(-1.0), abs=0.01)


@pytest.fixture(scope="module")
def doubts():
    return doubts_of(demo_run())


def cloud(doubts, count=320, seed=3):
    scores = np.random.default_rng(seed).standard_normal((count, doubts.columns))
    carried = Carried(scores, WORK_SPREAD * scores[:, 0])
    members = Members(doubts, Loop(doubts.scenario), carried, 0.0)
    return Particles(members, seed)


def test_thinning_and_smoothing_keep_mean_and_spread(doubts):
    # Given a cloud of which half weighs ten times the rest,
    many = cloud(doubts)
    many.pass_time(60.0)
    many.weights = many.weights * np.where(np.arange(320) % 2, 10.0, 1.0)
    many.weights /= many.weights.sum()
    scores = many.members.carried.scores
    mean, spread = (
        many.weights @ scores,
        np.sqrt(many.weights @ (scores - many.weights @ scores) ** 2),
    )
    # when it is thinned out,
    many._thin(np.random.default_rng(1))
    moved = many.members.carried.scores
    # then nobody is where he was, but the cloud is, within what so few show by chance.
    error = 4.0 / np.sqrt(effective(many.weights))
    assert np.abs(many.weights @ moved - mean).max() < error
    assert np.abs(moved.std(axis=0) / spread - 1.0).mean() < 0.1
    assert np.isfinite(many.members.batch.whole).all()


def test_copies_are_copies_to_the_last_number(doubts):
    # Given members, when one is put in the place of another,
    members = cloud(doubts).members
    before = members.vector(np.array([5, 40]))
    members.move(np.array([40]), np.array([5]))
    after = members.vector(np.array([5, 40]))
    # then both are the first, and nobody else is touched.
    assert np.array_equal(after[0], before[0])
    assert np.array_equal(after[1], before[0])
    assert np.array_equal(members.some(np.array([40])).state, members.some(np.array([5])).state)


def test_what_is_taken_out_as_a_row_goes_back_as_it_was(doubts):
    members = cloud(doubts).members
    every = np.arange(members.count)
    row = members.vector(every)
    state, whole = members.batch.state.copy(), members.batch.whole.copy()
    members.put_vector(every, row)
    assert np.array_equal(members.vector(every), row)
    assert np.array_equal(members.batch.state, state)
    assert np.array_equal(members.batch.whole, whole)


def test_faults_are_fed_by_the_sound_and_never_die_out(doubts):
    # Given a cloud that knows nothing, when an hour passes without a reading,
    many = cloud(doubts, 200)
    for _ in range(30):
        many.pass_time(120.0)
    mass = many.masses()
    # then every fault has its scouts, each with some per cent of the belief at most.
    assert mass.sum() == pytest.approx(1.0)
    assert mass[SOUND] > 0.9
    assert np.all(mass[1:] > 1e-4)
    assert np.bincount(many.members.carried.mode, minlength=len(MODES)).min() >= 4
