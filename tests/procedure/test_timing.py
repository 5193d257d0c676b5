"""Durations, waiting and float of a procedure; published values are in tests/validation."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckring.procedure.courses import Drawing, Shape, drawn_durations
from neckring.procedure.durations import (
    Moments,
    later_of_two,
    lognormal_duration,
    pert,
    pert_beta,
    practised,
    practised_total,
    triangular,
)
from neckring.procedure.model import Duration, Model, Variable
from neckring.procedure.steps import Procedure, Step, StepKind
from neckring.procedure.timing import (
    latest_starts,
    practised_procedure,
    times,
    total_of_runs,
    waiting_while,
)

KIT = Model("invented", (Variable("helmet", ("off", "on")),), ())
DRESSER, WEARER, TENDER = range(3)
FEW = Drawing(runs=200)

POINTS = st.tuples(*[st.integers(0, 300)] * 3).map(sorted)
DURATIONS = POINTS.map(lambda points: Duration(*map(float, points)))
LANES = st.integers(0, 2)


def move(lane, duration):
    return Step(0, lane, StepKind.MOVE, "move", duration=duration)


def meeting(lanes, duration=Duration()):  # noqa: B008, a frozen default
    return Step(0, -1, StepKind.MEET, "meet", duration=duration, meets=frozenset(lanes))


def exactly(seconds):
    return Duration(seconds, seconds, seconds)


def procedure_of(*steps):
    numbered = tuple(replace(step, number=place) for place, step in enumerate(steps, start=1))
    return Procedure(KIT, (), ("dresser", "wearer", "tender"), numbered)


MEETINGS = st.builds(meeting, st.frozensets(LANES, min_size=2), DURATIONS)
STEPS = st.one_of(st.builds(move, LANES, DURATIONS), MEETINGS)
PROCEDURES = st.lists(STEPS, max_size=12).map(lambda steps: procedure_of(*steps))


def people(step):
    return step.meets or {step.lane}


def longest_way(procedure, seconds, first):
    """Longest sum of durations from one step over steps that share a person; tried one by one."""
    later = [
        longest_way(procedure, seconds, next_)
        for next_ in range(first + 1, len(procedure.steps))
        if people(procedure.steps[first]) & people(procedure.steps[next_])
    ]
    return seconds[first] + max(later, default=0.0)


@settings(max_examples=60)
@given(st.lists(STEPS, max_size=9).map(lambda steps: procedure_of(*steps)))
def test_total_is_the_longest_way(procedure):
    # Given all ways through the procedure, added up one by one
    seconds = [step.duration.likely for step in procedure.steps]
    ways = [longest_way(procedure, seconds, first) for first in range(len(seconds))]
    found = times(procedure, FEW)
    # Then the longest is the total, and each step's float is what its longest way leaves
    assert found.total.likely == max(ways, default=0.0)
    for way, step in zip(ways, found.steps, strict=True):
        assert step.latest_start == found.total.likely - way
        assert step.float_time == pytest.approx(step.latest_start - step.start)
        assert step.float_time >= 0.0


@given(PROCEDURES)
def test_critical_chain_has_no_gap(procedure):
    found = times(procedure, FEW)
    # Given the chain, then its durations fill the whole time
    seconds = [procedure.steps[place].duration.likely for place in found.chain]
    assert sum(seconds) == found.total.likely
    # And each of its steps has no float and shares a person with the next
    assert all(found.steps[place].float_time == 0.0 for place in found.chain)
    for one, other in zip(found.chain, found.chain[1:], strict=False):
        assert people(procedure.steps[one]) & people(procedure.steps[other])


@given(PROCEDURES)
def test_somebody_is_always_the_last(procedure):
    found = times(procedure, FEW)
    for meeting_ in found.meetings:
        # Given a meeting, then the last one does not wait, and in every run somebody is last
        likely = [wait.time.likely for wait in meeting_.waits]
        assert min(likely) == 0.0
        assert (meeting_.late is None) == (max(likely) == 0.0)
        assert sum(wait.waited_for for wait in meeting_.waits) >= 1.0 - 1e-9
        assert [w.lane for w in meeting_.waits] == sorted(people(procedure.steps[meeting_.step]))
        late = [w for w in meeting_.waits if w.lane == meeting_.late]
        assert all(wait.time.likely == 0.0 for wait in late)


@given(PROCEDURES, st.integers(0, 5000))
def test_lanes_that_keep_their_latest_start_keep_the_deadline(procedure, deadline):
    # Given the latest starts
    starts = latest_starts(procedure, float(deadline), FEW)
    for kind, point in (("likely", "likely"), ("worst", "high")):
        # When each lane first waits until its latest start, counted from the earliest of them
        begin = [getattr(start, kind) for start in starts]
        held = procedure_of(
            *(move(lane, exactly(begin[lane] - min(begin))) for lane in range(3)),
            *(replace(s, duration=exactly(getattr(s.duration, point))) for s in procedure.steps),
        )
        # Then all have ended at the deadline, not before
        assert min(begin) + times(held, Drawing(runs=1)).total.likely == pytest.approx(deadline)
    assert all(start.worst <= start.likely for start in starts)


def test_sure_start_keeps_the_deadline_in_nineteen_of_twenty_runs():
    # Given two lanes that meet twice
    wide = Duration(10.0, 20.0, 60.0)
    procedure = procedure_of(
        move(DRESSER, wide),
        move(WEARER, wide),
        meeting((DRESSER, WEARER)),
        move(WEARER, wide),
        move(DRESSER, wide),
        meeting((DRESSER, WEARER), wide),
    )
    starts = latest_starts(procedure, 300.0)
    # When the lanes start then, in many other runs
    begin = [start.sure for start in starts]
    held = procedure_of(
        *(move(lane, exactly(begin[lane] - min(begin[:2]))) for lane in (DRESSER, WEARER)),
        *procedure.steps,
    )
    other = times(held, Drawing(runs=20_000, seed=77))
    # Then 95 % end by the deadline, within five standard errors of either draw
    assert min(begin[:2]) + other.total.high == pytest.approx(300.0, abs=3.0)
    # And who does nothing may start at the deadline
    assert starts[TENDER].sure == starts[TENDER].worst == 300.0


def test_who_waits_and_who_is_late():
    # Given a dresser who needs 60 s and a wearer who needs 45 s before they meet
    procedure = procedure_of(
        move(DRESSER, exactly(60.0)),
        move(WEARER, exactly(45.0)),
        meeting((DRESSER, WEARER), exactly(5.0)),
        move(TENDER, exactly(10.0)),
    )
    found = times(procedure, FEW)
    # Then the wearer waits 15 s for the dresser
    (met,) = found.meetings
    assert met.late == DRESSER
    assert [(wait.lane, wait.time.likely, wait.waited_for) for wait in met.waits] == [
        (DRESSER, 0.0, 1.0),
        (WEARER, 15.0, 0.0),
    ]
    # And the tender has float, the wearer's step as much as the wait
    assert [step.float_time for step in found.steps] == [0.0, 15.0, 0.0, 55.0]
    assert found.chain == (0, 2)
    assert [lane.likely for lane in found.lanes] == [65.0, 65.0, 10.0]


def test_waiting_with_the_helmet_on():
    # Given two meetings, the helmet being on at the second only
    procedure = procedure_of(
        move(DRESSER, exactly(30.0)),
        meeting((DRESSER, WEARER)),
        move(WEARER, exactly(4.0)),
        move(DRESSER, Duration(10.0, 20.0, 50.0)),
        meeting((DRESSER, WEARER)),
    )
    helmet_on = [False, False, True, True, True]
    found = waiting_while(procedure, WEARER, helmet_on)
    # Then only the second wait counts
    assert found.likely == 16.0
    # And its spread is that of the dresser's step
    drawn = drawn_durations(procedure, Drawing())[3] - 4.0
    assert found.mean == pytest.approx(drawn.mean())
    assert found.high == pytest.approx(np.quantile(drawn, 0.95), rel=1e-3)
    assert waiting_while(procedure, WEARER, [True] * 5).likely == 46.0
    assert waiting_while(procedure, TENDER, [True] * 5).high == 0.0


def test_meeting_of_equals_costs_what_clark_says():
    # Given two lanes of many equal steps, whose sums are nearly normal, each step apart
    steps = 40
    duration = Duration(8.0, 10.0, 12.0)
    lanes = [move(lane, duration) for lane in (DRESSER, WEARER) for _ in range(steps)]
    procedure = procedure_of(*lanes, meeting((DRESSER, WEARER)))
    found = times(procedure, Drawing(runs=100_000, correlation=0.0))
    # When the beta's own variance, (mean - low)(high - mean)/7, is added up
    one = Moments(10.0 * steps, math.sqrt(steps * 2.0 * 2.0 / 7.0))
    expected = later_of_two(one, one)
    # Then the meeting is later than its likely time by Clark's gain
    assert found.total.likely == 400.0
    assert found.total.mean == pytest.approx(expected.mean, abs=0.05)


@pytest.mark.parametrize("shape", Shape)
@pytest.mark.parametrize("correlation", [0.0, 0.5, 1.0])
def test_slow_people_are_slow_everywhere(shape, correlation):
    # Given one person's many steps and one of another's
    steps = [move(DRESSER, Duration(10.0, 20.0, 30.0)) for _ in range(12)]
    procedure = procedure_of(*steps, move(WEARER, Duration(10.0, 20.0, 30.0)))
    drawn = drawn_durations(procedure, Drawing(runs=40_000, correlation=correlation, shape=shape))
    # Then two steps of one person go together as asked, those of two people not at all
    together = np.corrcoef(drawn)
    assert together[0, 5] == pytest.approx(correlation, abs=0.03)
    assert together[0, 12] == pytest.approx(0.0, abs=0.03)
    # And the mean does not depend on it
    assert drawn.mean() == pytest.approx(20.0, abs=0.15)


@pytest.mark.parametrize("correlation", [0.0, 0.5, 1.0])
def test_meeting_is_spread_like_any_step(correlation):
    # Given a meeting of three with a duration of its own
    points = Duration(10.0, 20.0, 30.0)
    procedure = procedure_of(meeting((DRESSER, WEARER, TENDER), points))
    (drawn,) = drawn_durations(procedure, Drawing(runs=40_000, correlation=correlation))
    # Then its spread is that of the three points, whatever the people have in common
    assert drawn.std() == pytest.approx(math.sqrt(10.0 * 10.0 / 7.0), rel=0.02)


def test_correlation_makes_sums_wider():
    procedure = procedure_of(*[move(DRESSER, Duration(5.0, 10.0, 30.0))] * 20)
    high = [times(procedure, Drawing(correlation=r)).total.high for r in (0.0, 0.5, 1.0)]
    assert high[0] < high[1] < high[2]


def test_same_seed_same_answer_and_another_seed_nearly():
    procedure = procedure_of(*[move(DRESSER, Duration(5.0, 10.0, 30.0))] * 20)
    one, again, other = (times(procedure, Drawing(seed=seed)).total for seed in (1, 1, 2))
    assert one == again
    assert one != other
    assert one.high == pytest.approx(other.high, rel=0.02)


@given(DURATIONS, st.sampled_from([pert_beta, triangular]))
def test_shapes_keep_their_three_points(duration, shape):
    # Given any three points, when many shares are asked
    shares = np.linspace(0.0, 1.0, 101)
    found = shape(duration, shares)
    # Then durations rise from the least to the most
    assert (np.diff(found) >= -1e-9).all()
    ends = (duration.low, duration.high)
    assert (found[0], found[-1]) == pytest.approx(ends)


@settings(max_examples=30)
@given(DURATIONS)
def test_means_of_the_shapes(duration):
    # Given the middles of 20,000 equal shares
    shares = (np.arange(20_000) + 0.5) / 20_000
    width = max(1e-9, duration.high - duration.low)
    # Then the beta has PERT's mean, the triangle that of its corners
    beta, corners = pert_beta(duration, shares).mean(), triangular(duration, shares).mean()
    assert beta == pytest.approx(pert(duration).mean, abs=1e-3 * width)
    third = (duration.low + duration.likely + duration.high) / 3.0
    assert corners == pytest.approx(third, abs=1e-3 * width)


@given(
    st.tuples(st.floats(-1e3, 1e3), st.floats(0.0, 100.0)).map(lambda both: Moments(*both)),
    st.tuples(st.floats(-1e3, 1e3), st.floats(0.0, 100.0)).map(lambda both: Moments(*both)),
    st.floats(-1.0, 1.0),
)
def test_later_of_two_is_later(one, other, correlation):
    found = later_of_two(one, other, correlation)
    # Given any two, then both at once are not earlier than either, nor surer than nothing
    assert found.mean >= max(one.mean, other.mean) - 1e-9
    assert 0.0 <= found.deviation <= math.hypot(one.deviation, other.deviation) + 1e-6
    # And it does not matter who is named first
    swapped = later_of_two(other, one, correlation)
    assert (swapped.mean, swapped.deviation) == pytest.approx(
        (found.mean, found.deviation), abs=1e-6
    )


def test_practice_shortens_every_step():
    # Given a procedure done for the fourth time at a rate of 0.8
    procedure = procedure_of(move(DRESSER, Duration(50.0, 100.0, 150.0)))
    fourth = practised_procedure(procedure, 4, 0.8)
    assert fourth.steps[0].duration == Duration(
        *(pytest.approx(0.64 * point) for point in (50.0, 100.0, 150.0))
    )
    # Then four runs take the sum of all four
    sums = 1.0 + 0.8 + practised(1.0, 3, 0.8) + 0.64
    assert total_of_runs(procedure, 4, 0.8).likely == pytest.approx(100.0 * sums)
    assert practised_total(100.0, 4, 1.0) == 400.0


@given(st.floats(1.0, 1e4), st.floats(1.0, 20.0))
def test_lognormal_keeps_its_two_points(median, ratio):
    found = lognormal_duration(median, median * ratio)
    assert found.beyond(0.0) == median
    assert found.beyond(1.2816) == pytest.approx(median * ratio)
    assert found.moments.mean >= median * (1 - 1e-12)


def test_nothing_takes_no_time():
    found = times(procedure_of())
    assert (found.total.high, found.steps, found.chain, found.meetings) == (0.0, (), (), ())


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: times(procedure_of(move(0, Duration(5.0, 2.0, 9.0)))), 'step 1, "move", is 5, 2'),
        (lambda: times(procedure_of(move(0, Duration(-1.0, 2.0, 9.0)))), "is -1, 2, 9 s"),
        (lambda: times(procedure_of(move(0, Duration(0.0, math.nan, 9.0)))), "is 0, nan, 9 s"),
        (lambda: times(procedure_of(move(7, Duration()))), r"lanes \[7\]; accepted: at least one"),
        (lambda: times(procedure_of(meeting(()))), r"lanes \[\]"),
        (lambda: waiting_while(procedure_of(), 3, []), "lane is 3"),
        (lambda: waiting_while(procedure_of(), 0, [True]), "1 values for 0 steps"),
        (lambda: latest_starts(procedure_of(), math.inf), "deadline is inf"),
        (lambda: Drawing(correlation=1.5), "correlation is 1.5"),
        (lambda: Drawing(runs=0), "runs drawn is 0"),
        (lambda: practised(1.0, 0, 0.8), "repeat is 0"),
        (lambda: practised(1.0, 2, 1.8), "learning rate is 1.8"),
        (lambda: lognormal_duration(10.0, 5.0), "90th percentile is 5"),
        (lambda: later_of_two(Moments(1, 1), Moments(1, 1), 2.0), "correlation is 2"),
        (lambda: pert(Duration(3.0, 2.0, 1.0)), "each not less than the one before"),
    ],
)
def test_what_is_no_time_is_refused(wrong, words):
    with pytest.raises(ValueError, match=words):
        wrong()
