"""Members side by side in the kernel's arrays, and advancing them."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring import lanes
from neckring.lanes import LANES, SEGMENTS
from neckring.outing import kernel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Rows = Mapping[str, FloatArray]

NO_UPSTREAM: IntArray = np.full(SEGMENTS, -1, dtype=np.int64)
ANY_ORDER: IntArray = np.arange(SEGMENTS, dtype=np.int64)


def blocks_of(members: int) -> int:
    """How many blocks of LANES members hold so many."""
    return -(-members // LANES)


def _spread(values: FloatArray, members: int) -> FloatArray:
    """Values (..., members) as (blocks, ..., LANES); the last member fills the last block up."""
    filled = np.broadcast_to(values, (*values.shape[:-1], members))
    short = blocks_of(members) * LANES - members
    padded = np.concatenate([filled, np.repeat(filled[..., -1:], short, axis=-1)], axis=-1)
    shaped = padded.reshape(*padded.shape[:-1], -1, LANES)
    return np.moveaxis(shaped, -2, 0)


def fill(array: FloatArray, rows: Rows, members: int) -> None:
    """Write named rows, each of shape (..., members), into a kernel array (blocks, ..., SIZE)."""
    for name, values in rows.items():
        place = getattr(lanes, name)
        array[..., place : place + LANES] = _spread(np.asarray(values, np.float64), members)


def row(array: FloatArray, name: str, members: int) -> FloatArray:
    """One named row of a kernel array (blocks, ..., SIZE) as (..., members)."""
    place = getattr(lanes, name)
    part = np.moveaxis(array[..., place : place + LANES], 0, -2)
    return part.reshape(*part.shape[:-2], -1)[..., :members]


@dataclass
class Batch:
    """A batch of members with everything the kernel needs; arrays have blocks first.

    Attributes:
        members: How many members.
        state: shape (blocks, 18, STATE_SIZE).
        body: shape (blocks, 17, BODY_SIZE).
        whole: shape (blocks, WHOLE_SIZE).
        traits: shape (blocks, TRAITS_SIZE).
        upstream: Segment whose garment outlet feeds each segment, -1 for the manifold.
        order: Segments with upstream ones first.
    """

    members: int
    state: FloatArray
    body: FloatArray
    whole: FloatArray
    traits: FloatArray
    upstream: IntArray
    order: IntArray

    def copy(self) -> Batch:
        """A batch whose state can be advanced without touching this one's."""
        return Batch(
            self.members,
            self.state.copy(),
            self.body,
            self.whole.copy(),
            self.traits,
            self.upstream,
            self.order,
        )


@dataclass(frozen=True)
class Schedule:
    """What the members do and what surrounds them, spell by spell.

    Attributes:
        spells: shape (blocks, spells, SPELL_SIZE).
        around: shape (blocks, spells, 17, AROUND_SIZE).
        steps: Steps of each spell, shape (spells,).
    """

    spells: FloatArray
    around: FloatArray
    steps: IntArray

    def part(self, first: int, last: int) -> Schedule:
        """The spells from `first` up to, not including, `last`."""
        return Schedule(
            np.ascontiguousarray(self.spells[:, first:last]),
            np.ascontiguousarray(self.around[:, first:last]),
            self.steps[first:last],
        )

    def with_steps(self, steps: IntArray) -> Schedule:
        """The same spells with other numbers of steps."""
        return Schedule(self.spells, self.around, np.asarray(steps, dtype=np.int64))


def new_batch(members: int, upstream: IntArray = NO_UPSTREAM, order: IntArray = ANY_ORDER) -> Batch:
    """An empty batch, all zero."""
    blocks = blocks_of(members)
    return Batch(
        members,
        np.zeros((blocks, SEGMENTS + 1, lanes.STATE_SIZE)),
        np.zeros((blocks, SEGMENTS, lanes.BODY_SIZE)),
        np.zeros((blocks, lanes.WHOLE_SIZE)),
        np.zeros((blocks, lanes.TRAITS_SIZE)),
        upstream,
        order,
    )


def new_schedule(members: int, spells: Rows, around: Rows, steps: IntArray) -> Schedule:
    """A schedule from named rows.

    Args:
        members: How many members.
        spells: Row name to values of shape (spells, members).
        around: Row name to values of shape (spells, 17, members).
        steps: Steps of each spell, shape (spells,).
    """
    blocks = blocks_of(members)
    count = len(steps)
    spell_array = np.zeros((blocks, count, lanes.SPELL_SIZE))
    around_array = np.zeros((blocks, count, SEGMENTS, lanes.AROUND_SIZE))
    fill(spell_array, spells, members)
    fill(around_array, around, members)
    return Schedule(spell_array, around_array, np.asarray(steps, dtype=np.int64))


def advance(
    batch: Batch, schedule: Schedule, every: int = 0, active: bool = True, workers: int = 1
) -> FloatArray:
    """Advance a batch in place through a schedule.

    Args:
        batch: Changed in place.
        schedule: What to do.
        every: Record after every so many steps; 0 for no record.
        active: False for a body without a controller.
        workers: Threads; the answer does not depend on it.

    Returns:
        Records, shape (records, RECORD_ROWS, members).
    """
    count = int(schedule.steps.sum()) // every if every else 0
    blocks = batch.state.shape[0]
    records = np.zeros((blocks, count, kernel.RECORD_ROWS, LANES))

    def run(block: int) -> None:
        kernel.advance(
            batch.state[block],
            batch.body[block],
            schedule.around[block],
            batch.whole[block],
            batch.traits[block],
            schedule.spells[block],
            schedule.steps,
            batch.upstream,
            batch.order,
            1.0 if active else 0.0,
            every,
            records[block],
            LANES,
        )

    if workers > 1 and blocks > 1:
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(run, range(blocks)))
    else:
        for block in range(blocks):
            run(block)
    flat = np.moveaxis(records, 0, -2).reshape(count, kernel.RECORD_ROWS, blocks * LANES)
    return flat[..., : batch.members]
