"""The same kernel, watched: each step's readings are held against limits, and no trace is kept.

What follows after a failure needs no trace, only the times at which limits are crossed, and may
end as soon as nothing that is still to come can matter.
"""

from __future__ import annotations

import math

from numpy import float64, int64
from numpy.typing import NDArray

from neckring.compiled import compiled
from neckring.lanes import (
    BODY_MASS,
    BODY_WATER_LOSS,
    CHARGE,
    CORE,
    CORE_BASELINE,
    ELAPSED,
    HEART_RATE,
    INLET_WATER,
    INSPIRED_CO2,
    INSPIRED_O2,
    INSPIRED_WATER_PRESSURE,
    LOWEST_SKIN,
    MEAN_SKIN,
    STORAGE,
    VISOR_TEMPERATURE,
    WATER_FLOW,
)
from neckring.outing.kernel import step_once

Array = NDArray[float64]
IntArray = NDArray[int64]

# Order of the readings; names as in the limit sheet. What does not change with time is not watched.
READINGS = (
    "core_temperature",
    "core_rise",
    "mean_skin_temperature",
    "lowest_skin_temperature",
    "skin_core_gap",
    "heart_rate",
    "body_water_loss",
    "heat_storage",
    "inspired_co2",
    "inspired_o2",
    "water_inlet_temperature",
    "battery_charge",
    "fog_margin",
)
READING_COUNT = len(READINGS)
PELVIS = 4
# Later than any run.
NEVER = 1e18


@compiled
def dew_point(vapour: float) -> float:
    """Temperature [degC] at which so much vapour [Pa] saturates.

    Source: Antoine's equation as in `neckring.arithmetic.saturation_pressure`, solved for the
        temperature.
    """
    return 4030.183 / (16.6536 - math.log(max(vapour, 1.1) * 0.001)) - 235.0


@compiled
def read(state: Array, whole: Array, traits: Array, readings: Array, lanes: int) -> None:
    """Fill `readings`, shape (READING_COUNT, LANES), from the present state."""
    for j in range(lanes):
        core = state[PELVIS, CORE + j]
        readings[0, j] = core
        readings[1, j] = core - whole[CORE_BASELINE + j]
        readings[2, j] = whole[MEAN_SKIN + j]
        readings[3, j] = whole[LOWEST_SKIN + j]
        readings[4, j] = core - whole[MEAN_SKIN + j]
        readings[5, j] = whole[HEART_RATE + j]
        readings[6, j] = whole[BODY_WATER_LOSS + j]
        readings[7, j] = whole[STORAGE + j] / traits[BODY_MASS + j]
        readings[8, j] = whole[INSPIRED_CO2 + j]
        readings[9, j] = whole[INSPIRED_O2 + j]
        # Standing water crosses nothing: what enters the garment must flow.
        flows = whole[WATER_FLOW + j] > 0.0
        readings[10, j] = whole[INLET_WATER + j] if flows else math.nan
        readings[11, j] = whole[CHARGE + j]
    for j in range(lanes):
        vapour = whole[INSPIRED_WATER_PRESSURE + j]
        readings[12, j] = whole[VISOR_TEMPERATURE + j] - dew_point(vapour)


@compiled
def hold_limits(
    readings: Array,
    previous: Array,
    whole: Array,
    before: Array,
    which: IntArray,
    value: Array,
    sign: Array,
    sustained: Array,
    since: Array,
    crossed: Array,
    asked: Array,
    lanes: int,
) -> None:
    """Hold one step's readings against all limits.

    Args:
        readings: Now, shape (READING_COUNT, LANES).
        previous: Before the step, same shape.
        whole: After the step; its clock is read.
        before: The clock before the step [s], shape (LANES,).
        which: Reading of each limit, shape (limits,).
        value: Same shape, in the reading's unit.
        sign: 1 when crossed above, -1 below, same shape.
        sustained: How long it must hold [s], same shape.
        since: When each limit began to be crossed, NEVER when it is not, (limits, LANES).
        crossed: When each limit had held long enough, NEVER until then, same shape.
        asked: 1 where crossings are still asked for, 0 where the slack is known, (LANES,).
        lanes: LANES.
    """
    for limit in range(which.shape[0]):
        row = which[limit]
        for j in range(lanes):
            now = whole[ELAPSED + j]
            over = sign[limit] * (readings[row, j] - value[limit])
            under = sign[limit] * (previous[row, j] - value[limit])
            # A straight line between the two readings.
            share = under / min(under - over, -1e-300) if under < 0.0 else 0.0
            begun = min(since[limit, j], before[j] + share * (now - before[j]))
            begun = begun if over > 0.0 else NEVER
            since[limit, j] = begun
            held = begun + sustained[limit]
            crossed[limit, j] = min(
                crossed[limit, j], held if held <= now and asked[j] > 0.0 else NEVER
            )


@compiled
def undecided(
    whole: Array,
    start: Array,
    relief: Array,
    kind: IntArray,
    crossed: Array,
    asked: Array,
    lanes: int,
) -> bool:
    """Whether a limit that is not yet crossed could still leave less slack than those that are.

    Air and heat are told apart, so that each has its own clock.

    Args:
        whole: With the clock.
        start: When the failure struck [s], shape (LANES,).
        relief: Time from then until relief with its reserve [s], shape (limits, LANES); NEVER asks
            for the crossing itself, whatever the slack.
        kind: Relief of each limit, 0 or 1, shape (limits,).
        crossed: shape (limits, LANES).
        asked: Filled: 1 for members for whom it could, 0 for the others, shape (LANES,).
        lanes: LANES.

    Returns:
        Whether it could for any member.
    """
    some = False
    for j in range(lanes):
        asked[j] = 0.0
        for own in range(2):
            least = NEVER
            coming = NEVER
            for limit in range(crossed.shape[0]):
                if kind[limit] != own:
                    continue
                if crossed[limit, j] < NEVER:
                    least = min(least, max(crossed[limit, j] - start[j], 0.0) - relief[limit, j])
                elif relief[limit, j] >= NEVER:
                    coming = -2.0 * NEVER
                else:
                    coming = min(coming, whole[ELAPSED + j] - start[j] - relief[limit, j])
            if coming < least:
                asked[j] = 1.0
                some = True
    return some


@compiled
def advance_watched(
    state: Array,
    body: Array,
    around: Array,
    whole: Array,
    traits: Array,
    spells: Array,
    steps: IntArray,
    upstream: IntArray,
    order: IntArray,
    which: IntArray,
    value: Array,
    sign: Array,
    sustained: Array,
    since: Array,
    crossed: Array,
    start: Array,
    relief: Array,
    kind: IntArray,
    lanes: int,
    room: Array,
) -> None:
    """Advance one block through spells until every member is decided, or the spells end.

    Args up to `order` as in `neckring.outing.kernel.advance`; the others as in `hold_limits` and
    `undecided`; `room` is for readings, the clock and who is asked, shape
    (2 READING_COUNT + 2, LANES).
    """
    previous, readings = room[:READING_COUNT], room[READING_COUNT : 2 * READING_COUNT]
    before, asked = room[2 * READING_COUNT], room[2 * READING_COUNT + 1]
    asked[:] = 1.0
    read(state, whole, traits, previous, lanes)
    for number in range(steps.shape[0]):
        spell, outer = spells[number], around[number]
        for _ in range(steps[number]):
            for j in range(lanes):
                before[j] = whole[ELAPSED + j]
            step_once(state, body, outer, whole, traits, spell, upstream, order, 1.0, lanes)
            read(state, whole, traits, readings, lanes)
            hold_limits(
                readings,
                previous,
                whole,
                before,
                which,
                value,
                sign,
                sustained,
                since,
                crossed,
                asked,
                lanes,
            )
            if not undecided(whole, start, relief, kind, crossed, asked, lanes):
                return
            previous[:] = readings
