"""The answer depends on what is asked alone: not on side, cut, batch, chunk or workers."""

from __future__ import annotations

import zlib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenarios import (
    DEMO,
    DIPPER,
    FloatArray,
    made_ready,
    one_spell,
    outing_of,
    revalidated,
    scenario_of,
    scenarios,
)

from neckring import lanes
from neckring.lanes import LANES
from neckring.outing.batch import Batch, Schedule, advance, row
from neckring.outing.scenario import Scenario
from neckring.units import Quantity

LEFT = [5, 6, 7, 11, 12, 13]
RIGHT = [8, 9, 10, 14, 15, 16]
NODES = ("ARTERY", "VEIN", "CORE", "SKIN", "SUPERFICIAL_VEIN", "GARMENT_WATER", "WALL", "LIQUID")


def same_bits(one: FloatArray, other: FloatArray) -> bool:
    """Equal to the last bit; a value that is not a number equals itself."""
    return one.shape == other.shape and one.tobytes() == other.tobytes()


def sides_agree(batch: Batch) -> list[str]:
    """Names of nodes in which left and right differ."""
    return [
        node
        for node in NODES
        if not same_bits(row(batch.state[:, LEFT], node, 1), row(batch.state[:, RIGHT], node, 1))
    ]


@settings(max_examples=25)
@given(scenarios())
def test_left_and_right_are_alike(scenario: Scenario) -> None:
    batch, schedule = made_ready(scenario)
    advance(batch, schedule)
    assert sides_agree(batch) == []


def test_left_and_right_are_alike_in_chains() -> None:
    chains = (("pelvis", "thighs", "lower_legs"), ("forearms", "upper_arms", "chest", "back"))
    garment = revalidated(DIPPER.garment.model_copy(update={"circuits": chains}))
    suit = DIPPER.model_copy(update={"garment": garment})
    batch, schedule = made_ready(outing_of(one_spell(cooling="pack", air="pack"), suit=suit))
    advance(batch, schedule)
    assert sides_agree(batch) == []
    # Down a chain the water grows warmer.
    water = row(batch.state[:, :17], "GARMENT_WATER", 1)[:, 0]
    assert water[4] < water[11] < water[12]


def split(schedule: Schedule, taken: int) -> tuple[Schedule, Schedule]:
    """The schedule up to so many steps, and the rest."""
    before = np.cumsum(schedule.steps) - schedule.steps
    first = np.clip(taken - before, 0, schedule.steps)
    return schedule.with_steps(first), schedule.with_steps(schedule.steps - first)


@settings(max_examples=25)
@given(scenarios(), st.floats(0.0, 1.0))
def test_a_run_cut_in_two_and_resumed_is_the_whole(scenario: Scenario, share: float) -> None:
    # Given a run computed whole,
    batch, schedule = made_ready(scenario)
    whole = batch.copy()
    records = advance(whole, schedule, every=1)
    # when it is stopped anywhere and taken up again,
    first, rest = split(schedule, int(share * int(schedule.steps.sum())))
    parts = [advance(batch, part, every=1) for part in (first, rest)]
    # then state and record are the same bit for bit.
    assert same_bits(batch.state[:, :, : lanes.TO_SKIN], whole.state[:, :, : lanes.TO_SKIN])
    assert same_bits(batch.whole, whole.whole)
    assert same_bits(np.concatenate(parts), records)


def drawn(members: int, first: int = 0, total: int = 100) -> Scenario:
    """A demo run whose every uncertain quantity is drawn; members `first` and on of `total`."""

    def draw(quantity: Quantity) -> FloatArray:
        seed = zlib.crc32(f"{quantity.text} {quantity.kind}".encode())
        shares = np.random.default_rng(seed).random(total)[first : first + members]
        return quantity.low + shares * (quantity.high - quantity.low)

    return replace(scenario_of("bench-climb"), members=members, draw=draw)


def course(scenario: Scenario, workers: int = 1) -> FloatArray:
    """Its records, every minute."""
    batch, schedule = made_ready(scenario)
    return advance(batch, schedule, every=6, workers=workers)


@pytest.fixture(scope="module")
def hundred() -> FloatArray:
    """A hundred members computed together."""
    return course(drawn(100))


def test_members_differ(hundred: FloatArray) -> None:
    assert np.ptp(hundred[-1], axis=-1)[6] > 0.0
    assert np.ptp(hundred[-1, -1]) > 0.05


@pytest.mark.parametrize(("first", "members"), [(0, 1), (99, 1), (0, 7), (0, LANES), (33, 17)])
def test_a_member_does_not_feel_its_neighbours(
    hundred: FloatArray, first: int, members: int
) -> None:
    # Given the same members in a batch of another size, at other places in it,
    alone = course(drawn(members, first))
    # then their answers are the same bit for bit.
    assert same_bits(alone, hundred[..., first : first + members].copy())


@pytest.mark.parametrize("workers", [2, 3, 8])
def test_workers_do_not_matter(hundred: FloatArray, workers: int) -> None:
    assert same_bits(course(drawn(100), workers), hundred)


@pytest.mark.parametrize("chunk", [10, 48])
def test_chunks_do_not_matter(hundred: FloatArray, chunk: int) -> None:
    parts = [course(drawn(min(chunk, 100 - at), at)) for at in range(0, 100, chunk)]
    assert same_bits(np.concatenate(parts, axis=-1), hundred)


def test_asked_twice_answered_alike() -> None:
    first, second = (course(scenario_of("yard-walk")) for _ in range(2))
    assert same_bits(first, second)
    assert len(DEMO.runs) >= 3
