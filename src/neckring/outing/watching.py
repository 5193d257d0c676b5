"""Which limits are watched, and blocks of members advanced under watch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.lanes import LANES
from neckring.outing.batch import Batch, Schedule
from neckring.outing.limits import SEVERITY
from neckring.outing.watch import NEVER, READING_COUNT, READINGS, advance_watched
from neckring.station.limits import Limit, LimitSheet

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Quantities that fresh air at the face brings back.
AIR_QUANTITIES = ("inspired_co2", "inspired_o2")
# What a limit's relief is: of the air, or of the heat and everything else.
AIR, HEAT = 0, 1
RELIEFS = (AIR, HEAT)


@dataclass(frozen=True)
class Rules:
    """Limits as the kernel holds them; arrays of shape (limits,).

    Attributes:
        limits: As written.
        which: Their readings.
        value: In the reading's unit.
        sign: 1 when crossed above, -1 below.
        sustained: How long they must hold [s].
        relief: AIR or HEAT.
    """

    limits: tuple[Limit, ...]
    which: IntArray
    value: FloatArray
    sign: FloatArray
    sustained: FloatArray
    relief: IntArray


@dataclass
class Held:
    """When limits were crossed: arrays of shape (blocks, limits, LANES), times from the start [s].

    Attributes:
        since: When each began to be crossed; NEVER while it is not.
        crossed: When each had held long enough; NEVER until then.
    """

    since: FloatArray
    crossed: FloatArray


def rules_of(limits: tuple[Limit, ...], age: float) -> Rules:
    """Limits made ready for the kernel; what does not change with time is left out.

    Args:
        limits: Of the signed sheet.
        age: The wearer's [years].
    """
    kept = tuple(limit for limit in limits if limit.quantity in READINGS)
    return Rules(
        limits=kept,
        which=np.array([READINGS.index(limit.quantity) for limit in kept], dtype=np.int64),
        value=np.array([limit.value_at(age) for limit in kept]),
        sign=np.array([1.0 if limit.stop_if == "above" else -1.0 for limit in kept]),
        sustained=np.array([limit.sustained.nominal if limit.sustained else 0.0 for limit in kept]),
        relief=np.array(
            [AIR if limit.quantity in AIR_QUANTITIES else HEAT for limit in kept], dtype=np.int64
        ),
    )


def harm_limits(sheet: LimitSheet) -> tuple[Limit, ...]:
    """The limits whose crossing counts as harm: the most severe action that the sheet knows."""
    most = max(SEVERITY[limit.action] for limit in sheet.limits)
    return tuple(limit for limit in sheet.limits if SEVERITY[limit.action] == most)


def nothing_held(blocks: int, rules: Rules) -> Held:
    """No limit crossed yet."""
    shape = (blocks, len(rules.limits), LANES)
    return Held(np.full(shape, NEVER), np.full(shape, NEVER))


def watch(
    batch: Batch,
    schedule: Schedule,
    rules: Rules,
    held: Held,
    start: FloatArray | None = None,
    relief: FloatArray | None = None,
) -> None:
    """Advance a batch in place, block by block, until its members are decided.

    Args:
        batch: Changed in place.
        schedule: What to do; one with fewer blocks than the batch serves them in turn.
        rules: The limits.
        held: Changed in place.
        start: When the failure struck [s], shape (blocks, LANES); nought when None.
        relief: Time from then to relief with its reserve [s], shape (blocks, limits, LANES); when
            None every crossing is wanted.
    """
    blocks = batch.state.shape[0]
    room = np.zeros((2 * READING_COUNT + 2, LANES))
    at_once = np.zeros((blocks, LANES)) if start is None else start
    wanted = np.full(held.crossed.shape, NEVER) if relief is None else relief
    of_spells, of_around = schedule.spells.shape[0], schedule.around.shape[0]
    for block in range(blocks):
        advance_watched(
            batch.state[block],
            batch.body[block % batch.body.shape[0]],
            schedule.around[block % of_around],
            batch.whole[block],
            batch.traits[block % batch.traits.shape[0]],
            schedule.spells[block % of_spells],
            schedule.steps,
            batch.upstream,
            batch.order,
            rules.which,
            rules.value,
            rules.sign,
            rules.sustained,
            held.since[block],
            held.crossed[block],
            at_once[block],
            wanted[block],
            rules.relief,
            LANES,
            room,
        )
