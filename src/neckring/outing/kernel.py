"""The one kernel: a batch of wearers in their suits, step by step through the spells of a run.

Planning (one member), ensembles (thousands) and the live estimate call `advance`.
"""

from __future__ import annotations

from numpy import float64, int64
from numpy.typing import NDArray

from neckring.body.circulation import eliminate_inward, substitute_outward
from neckring.body.control import cap, respond, sense, signal
from neckring.body.strain import strain
from neckring.compiled import compiled
from neckring.lanes import (
    AIR_TO_HELMET,
    AIR_TO_SUIT,
    ALIVE,
    BODY_WATER_LOSS,
    CARDIAC_OUTPUT,
    CENTRAL_BLOOD,
    CHARGE,
    CORE,
    DIRECT_CONDUCTANCE,
    DIRECT_TEMPERATURE,
    ELAPSED,
    ENERGY_IN,
    ENERGY_TURNOVER,
    EVAPORATED,
    HEART_RATE,
    HELMET_CO2,
    HELMET_TEMPERATURE,
    ICE,
    INLET_WATER,
    INSPIRED_CO2,
    INSPIRED_O2,
    INSPIRED_WATER_PRESSURE,
    LOWEST_SKIN,
    MEAN_SKIN,
    METABOLIC_HEAT,
    OUTSIDE_TEMPERATURE,
    RESERVOIR,
    RETURN_WATER,
    SKIN,
    STEP,
    STORAGE,
    SUIT_TEMPERATURE,
    SWEAT_TOTAL,
    VISOR_TEMPERATURE,
    VOLTAGE,
    WALL,
    WALL_OUTSIDE,
    WALL_SUN,
    WATER_FLOW,
    WATER_HEAT,
    WETTEDNESS,
)
from neckring.suit.cooling import (
    garment_exchange,
    heart_and_reservoir,
    melt,
    tube_surface,
    water_flow,
)
from neckring.suit.gas import breathed_gas, helmet_heat, inspire, suit_heat
from neckring.suit.power import draw
from neckring.suit.vapour import (
    close_helmet_water,
    close_suit_water,
    evaporate,
    helmet_water_balance,
    solve_zone_water,
    suit_water_balance,
    surfaces,
)

Array = NDArray[float64]

# What a record holds, in this order.
RECORDED = (
    ELAPSED,
    HEART_RATE,
    MEAN_SKIN,
    LOWEST_SKIN,
    METABOLIC_HEAT,
    STORAGE,
    SWEAT_TOTAL,
    BODY_WATER_LOSS,
    WETTEDNESS,
    RESERVOIR,
    INLET_WATER,
    RETURN_WATER,
    WATER_FLOW,
    WATER_HEAT,
    ICE,
    INSPIRED_CO2,
    INSPIRED_O2,
    HELMET_CO2,
    HELMET_TEMPERATURE,
    INSPIRED_WATER_PRESSURE,
    VISOR_TEMPERATURE,
    AIR_TO_HELMET,
    AIR_TO_SUIT,
    CHARGE,
    VOLTAGE,
    SUIT_TEMPERATURE,
    EVAPORATED,
    CARDIAC_OUTPUT,
    CENTRAL_BLOOD,
    ALIVE,
)
# After these come the pelvis core (what a rectal probe reads) and the head core.
RECORD_ROWS = len(RECORDED) + 2


@compiled
def air(
    state: Array, body: Array, around: Array, whole: Array, traits: Array, spell: Array, lanes: int
) -> None:
    """Advance the suit's air: water, then heat, then what is breathed."""
    surfaces(state, body, whole, traits, spell, lanes)
    helmet_water_balance(whole, traits, spell, lanes)
    solve_zone_water(state, around, whole, 0, 2, lanes)
    evaporate(state, body, around, whole, spell, 0, 2, lanes)
    close_helmet_water(whole, traits, spell, lanes)
    suit_water_balance(whole, traits, spell, lanes)
    solve_zone_water(state, around, whole, 2, 17, lanes)
    evaporate(state, body, around, whole, spell, 2, 17, lanes)
    close_suit_water(state, body, whole, traits, spell, lanes)
    helmet_heat(state, around, whole, traits, spell, lanes)
    suit_heat(state, around, whole, traits, spell, lanes)
    breathed_gas(whole, traits, spell, lanes)
    inspire(whole, traits, spell, lanes)


@compiled
def book_outside(state: Array, around: Array, whole: Array, spell: Array, lanes: int) -> None:
    """Book the heat made, and the heat that skins and walls exchanged with the outside."""
    for j in range(lanes):
        step = spell[STEP + j]
        whole[ENERGY_IN + j] += step * whole[METABOLIC_HEAT + j]
        whole[ENERGY_TURNOVER + j] += step * abs(whole[METABOLIC_HEAT + j])
        whole[ELAPSED + j] += step
    for segment in range(17):
        here = state[segment]
        outer = around[segment]
        for j in range(lanes):
            step = spell[STEP + j]
            direct = outer[DIRECT_CONDUCTANCE + j] * (
                outer[DIRECT_TEMPERATURE + j] - here[SKIN + j]
            )
            wall = outer[WALL_OUTSIDE + j] * (spell[OUTSIDE_TEMPERATURE + j] - here[WALL + j])
            sun = outer[WALL_SUN + j]
            whole[ENERGY_IN + j] += step * (direct + wall + sun)
            whole[ENERGY_TURNOVER + j] += step * (abs(direct) + abs(wall) + abs(sun))


@compiled
def step_once(
    state: Array,
    body: Array,
    around: Array,
    whole: Array,
    traits: Array,
    spell: Array,
    upstream: NDArray[int64],
    order: NDArray[int64],
    active: float,
    lanes: int,
) -> None:
    """Advance one step: what the body orders, what air and water carry, then all temperatures."""
    sense(state, body, whole, active, lanes)
    signal(whole, traits, active, lanes)
    respond(state, body, whole, traits, spell, active, lanes)
    cap(state, whole, traits, lanes)
    water_flow(whole, traits, spell, lanes)
    tube_surface(whole, lanes)
    garment_exchange(state, body, whole, upstream, order, lanes)
    air(state, body, around, whole, traits, spell, lanes)
    melt(whole, traits, spell, lanes)
    eliminate_inward(state, body, around, whole, spell, lanes)
    heart_and_reservoir(state, whole, traits, spell, lanes)
    substitute_outward(state, whole, lanes)
    book_outside(state, around, whole, spell, lanes)
    strain(state, body, whole, traits, spell, lanes)
    draw(whole, traits, spell, lanes)


@compiled
def record(state: Array, whole: Array, row: Array, lanes: int) -> None:
    """Copy what is shown into one record."""
    place = 0
    for quantity in RECORDED:
        for j in range(lanes):
            row[place, j] = whole[quantity + j]
        place += 1
    for j in range(lanes):
        row[place, j] = state[4, CORE + j]
        row[place + 1, j] = state[0, CORE + j]


@compiled
def advance(
    state: Array,
    body: Array,
    around: Array,
    whole: Array,
    traits: Array,
    spells: Array,
    steps: NDArray[int64],
    upstream: NDArray[int64],
    order: NDArray[int64],
    active: float,
    every: int,
    records: Array,
    lanes: int,
) -> int:
    """Advance one block of members through spells, changing `state` and `whole` in place.

    Args:
        state: shape (18, STATE_SIZE).
        body: shape (17, BODY_SIZE).
        around: shape (spells, 17, AROUND_SIZE).
        whole: shape (WHOLE_SIZE,).
        traits: shape (TRAITS_SIZE,).
        spells: shape (spells, SPELL_SIZE).
        steps: Steps of each spell, shape (spells,).
        upstream: Segment whose outlet feeds each segment's garment, -1 for the manifold.
        order: Segments in an order in which upstream comes first.
        active: 1 for a living controller, 0 for a passive body (used to find set points).
        every: Record after every so many steps; 0 records nothing.
        records: shape (records, RECORD_ROWS, LANES), filled from the start.
        lanes: Members in the block, always LANES; given at run time so that loops over members
            are compiled to vector instructions.

    Returns:
        How many records were written.
    """
    written = 0
    taken = 0
    for number in range(steps.shape[0]):
        spell = spells[number]
        surroundings = around[number]
        for _ in range(steps[number]):
            step_once(
                state, body, surroundings, whole, traits, spell, upstream, order, active, lanes
            )
            taken += 1
            if every > 0 and taken % every == 0:
                record(state, whole, records[written], lanes)
                written += 1
    return written
