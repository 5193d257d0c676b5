"""Many members: the same whoever computes them in whatever pieces, and surer the more they are."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenarios import DEMO, FloatArray, scenario_of
from worlds import MINUTE, RESERVES, warm

from neckring.outing import ensemble, gathered
from neckring.outing.branches import Clocks
from neckring.outing.draws import dimensions, drawn, sobol_points
from neckring.outing.ensemble import (
    PACE,
    TRUNK_STEP,
    FailureMap,
    Question,
    Task,
    compute,
    failure_map,
    in_threads,
    map_of,
    tasks_of,
)
from neckring.outing.gathered import Chunk, Gathered
from neckring.outing.scenario import Scenario
from neckring.outing.slack import findings, turn_back
from neckring.outing.trunk import run_trunk
from neckring.outing.watching import AIR, HEAT

HOT = warm(360.0, "30 degC")
SHORT = warm(500.0, "34 degC", lasting="25 min")
WANTED = {
    "fans": frozenset({600.0, 3000.0}),
    "fall": frozenset({600.0}),
    "pump": frozenset({3000.0, 3600.0}),
    "down": frozenset({3600.0}),
    "nothing": frozenset({600.0, 3600.0}),
}


def asked(code: str = "yard-walk", **parts: object) -> Question:
    return replace(Question(scenario_of(code), DEMO.limits, members=40), **parts)


def of_arrays(found: Clocks) -> Iterable[FloatArray]:
    return found.runs, found.harm, found.help, found.limit


def same_clocks(one: Clocks, other: Clocks) -> bool:
    """Equal to the last bit."""
    pairs = zip(of_arrays(one), of_arrays(other), strict=True)
    return one.instants == other.instants and all(
        a.shape == b.shape and a.tobytes() == b.tobytes() for a, b in pairs
    )


def assert_same(one: Gathered, other: Gathered) -> None:
    """Two sets of chunks say the same to the last bit."""
    assert one.members == other.members
    assert {c: set(t) for c, t in one.clocks.items()} == {
        c: set(t) for c, t in other.clocks.items()
    }
    for code, times in one.clocks.items():
        for instant, clocks in times.items():
            assert same_clocks(clocks, other.clocks[code][instant]), (code, instant)
    assert np.array_equal(one.lost, other.lost)
    assert np.array_equal(one.crossings, other.crossings)
    assert np.array_equal(one.reached, other.reached)


# Pieces


def backwards(tasks: Sequence[Task]) -> list[Chunk]:
    """A runner that computes the last chunk first."""
    return [compute(task) for task in reversed(tasks)][::-1]


@pytest.fixture(scope="module")
def whole() -> FailureMap:
    """The yard walk, forty members in one piece, one worker."""
    return failure_map(asked(), in_threads(1), 1)


@pytest.mark.parametrize(
    ("chunk", "run", "workers"),
    [(16, in_threads(2), 2), (7, in_threads(3), 1), (39, in_threads(1), 2), (13, backwards, 1)],
)
def test_chunks_and_workers_change_nothing(whole, chunk, run, workers, monkeypatch):
    monkeypatch.setattr(ensemble, "CHUNK", chunk)
    found = failure_map(asked(), run, workers)
    assert_same(found.drawn, whole.drawn)
    assert list(found.as_written) == list(whole.as_written)
    assert all(same_clocks(c, whole.as_written[code]) for code, c in found.as_written.items())


@settings(max_examples=15)
@given(st.lists(st.integers(1, 59), max_size=5), st.integers(0, 2**31))
def test_a_member_does_not_feel_who_is_computed_beside_it(cuts, seed):
    # Given sixty members who lose air or grow too hot, cut up anywhere, a chunk of one among them,
    question = replace(asked(), scenario=HOT, seed=seed)
    edges = [0, *sorted(set(cuts)), 60]
    parts = [compute(Task(question, a, b, WANTED)) for a, b in itertools.pairwise(edges)]
    one, pieces = Gathered(RESERVES, PACE.beyond), Gathered(RESERVES, PACE.beyond)
    one.add([compute(Task(question, 0, 60, WANTED))])
    pieces.add(parts)
    assert_same(one, pieces)
    heat = np.concatenate([c.harm[HEAT].ravel() for c in one.clocks["pump"].values()])
    assert np.isfinite(heat).any()


@pytest.mark.parametrize("chunk", [5, 16, 30])
def test_what_is_kept_for_percentiles_does_not_depend_on_chunks(chunk, monkeypatch):
    # Given that the first 21 of 30 members are kept, and of the others only counts,
    monkeypatch.setattr(gathered, "KEPT_MEMBERS", 21)
    monkeypatch.setattr(ensemble, "CHUNK", chunk)
    question = replace(asked(), scenario=HOT)
    found = Gathered(RESERVES, PACE.beyond)
    found.add(compute(task) for task in tasks_of(question, 0, 30, WANTED))
    # then they are those 21, and all 30 are counted.
    assert {c.harm.shape[-1] for times in found.clocks.values() for c in times.values()} == {21}
    assert found.reached.shape[1] == 21
    assert found.members == 30
    own = compute(Task(question, 0, 30, WANTED))
    assert np.array_equal(found.crossings, np.isfinite(own.reached).sum(axis=1))


def test_later_members_are_spent_where_slack_is_short_and_counted_alike(monkeypatch):
    # Given that after sixteen members only what is near its reserve is computed,
    monkeypatch.setattr(ensemble, "FIRST_MEMBERS", 16)
    runs: list[FailureMap] = []
    for chunk in (8, 11):
        monkeypatch.setattr(ensemble, "CHUNK", chunk)
        question = replace(asked(members=40), scenario=SHORT)
        monkeypatch.setattr(ensemble, "clearly_lost", lambda *_: False)
        runs.append(failure_map(question, in_threads(2), 2))
    assert_same(runs[0].drawn, runs[1].drawn)
    counts = {c.harm.shape[-1] for t in runs[0].drawn.clocks.values() for c in t.values()}
    assert counts == {16, 40}


# The draw


def test_another_seed_draws_other_members(whole):
    other = failure_map(asked(seed=2), in_threads(2), 2)
    for code in ("fans", "fall"):
        instant = min(whole.drawn.clocks[code], key=lambda i: i.time)
        one, two = (m.drawn.clocks[code][instant].harm[AIR] for m in (whole, other))
        assert not np.any(one == two)
        # Other members of the same people: the same clock within seconds.
        assert np.median(one) == pytest.approx(np.median(two), abs=3.0)


def test_the_first_members_of_a_larger_draw_are_the_same(whole):
    fewer = failure_map(asked(members=24), in_threads(2), 2)
    shared = 0
    for code, times in fewer.drawn.clocks.items():
        for instant in set(times) & set(whole.drawn.clocks[code]):
            few, more = times[instant], whole.drawn.clocks[code][instant]
            assert np.array_equal(few.help, more.help[..., :24])
            # Which instants are refined depends on the members, and a little on them the steps.
            assert np.allclose(few.harm, more.harm[..., :24], atol=0.5)
            shared += 1
    assert shared > 60


@settings(max_examples=15)
@given(st.integers(1, 50), st.integers(0, 2**31))
def test_at_the_same_instants_they_are_the_same_to_the_last_bit(members, seed):
    question = replace(asked(), scenario=HOT, seed=seed)
    few, more = (compute(Task(question, 0, count, WANTED)) for count in (members, 50))
    for code, found in few.clocks.items():
        assert np.array_equal(found.harm, more.clocks[code].harm[..., :members])
        assert np.array_equal(found.limit, more.clocks[code].limit[..., :members])


def test_asked_twice_answered_alike(whole):
    again = failure_map(asked(), in_threads(2), 2)
    assert_same(again.drawn, whole.drawn)
    assert turn_back(again) == turn_back(whole)
    for one, two in zip(findings(whole), findings(again), strict=True):
        assert one.code == two.code
        assert np.array_equal(one.slack, two.slack)
        assert one.worst == two.worst


def test_told_what_is_done():
    told: list[str] = []
    failure_map(asked(members=8), in_threads(1), tell=told.append)
    assert told[0].startswith("the run as written")
    assert "8 members" in told[1]


# Convergence


# Fifty minutes on foot from home in great heat: without the battery that is too long for anybody.
FAR = warm(300.0, "34 degC", 1500.0)
TOLD = (("fans", AIR, 3.0), ("fall", AIR, 3.0), ("battery", HEAT, 60.0))


def slacks(scenario: Scenario, members: int) -> dict[str, FloatArray]:
    """Slack of each member at a few failures and instants beyond its reserve [s]."""
    points = sobol_points(len(dimensions(scenario)), 0, members, seed=5)
    times = frozenset({10.0 * MINUTE, 50.0 * MINUTE})
    trunk = run_trunk(drawn(scenario, points), DEMO.limits, times, TRUNK_STEP)
    wanted = dict.fromkeys((code for code, _, _ in TOLD), times)
    found = map_of(trunk, wanted, RESERVES, PACE, workers=2)
    made = {code: found[code].margin(RESERVES)[relief] for code, relief, _ in TOLD}
    return {code: np.minimum(margin, PACE.beyond) for code, margin in made.items()}


def test_percentiles_converge_with_members():
    # Given 4,096 members far out on a hot day, also taken as many groups of fewer members,
    found = slacks(FAR, 4096)
    for code, _, within in TOLD:
        sure = np.quantile(found[code], 0.05, axis=1)
        assert np.all(sure < PACE.beyond)

        def errors(members: int, code: str = code, sure: FloatArray = sure) -> FloatArray:
            groups = found[code].reshape(2, -1, members)
            return np.quantile(groups, 0.05, axis=2) - sure[:, None]

        # then 512 tell the slack that 95 % have to a few seconds of air, to a minute of heat,
        assert np.abs(errors(512)).max() < within, code
        # and sixteen times the members have no more than 0.4 of the error: as their root, 0.25.
        few, many = (np.sqrt(np.mean(errors(n) ** 2, axis=1)) for n in (32, 512))
        assert np.all(many < 0.4 * few), code
