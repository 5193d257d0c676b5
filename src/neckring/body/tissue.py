"""The rows of one segment's tissue: water and wall on the skin, muscle, fat, core, shallow vein.

Each function eliminates or writes one part of a segment for `neckring.body.circulation`; what is
left after them is linear in the segment's own artery (suffix _A), its own vein (_V) and the water
that enters the garment (_W).

Source: node graph and coefficients Takahashi et al. 2021 (Energy and Buildings 231:110575);
    the elimination is ours.
"""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.compiled import compiled
from neckring.lanes import (
    ARTERY,
    ARTERY_VEIN,
    CORE,
    CORE_0,
    CORE_A,
    CORE_ARTERY,
    CORE_CAPACITY,
    CORE_DIAGONAL,
    CORE_MUSCLE,
    CORE_SKIN_CONDUCTANCE,
    CORE_SOURCE,
    CORE_V,
    CORE_W,
    CROSS,
    DIRECT_CONDUCTANCE,
    DIRECT_TEMPERATURE,
    EVAPORATION,
    FAT,
    FAT_0,
    FAT_ARTERY,
    FAT_CAPACITY,
    FAT_CORE,
    FAT_SKIN,
    FAT_SKIN_CONDUCTANCE,
    FLOW_CORE,
    FLOW_FAT,
    FLOW_MUSCLE,
    FLOW_SKIN,
    GARMENT_CONDUCTANCE,
    GARMENT_WATER,
    HEAT_CORE,
    HEAT_FAT,
    HEAT_MUSCLE,
    HEAT_SKIN,
    IN_SUPERFICIAL_0,
    IN_SUPERFICIAL_P,
    IN_SUPERFICIAL_W,
    INLET_OFFSET,
    INLET_WATER,
    MUSCLE,
    MUSCLE_0,
    MUSCLE_ARTERY,
    MUSCLE_CAPACITY,
    MUSCLE_CORE,
    MUSCLE_FAT,
    MUSCLE_SKIN,
    OUTSIDE_TEMPERATURE,
    SKIN,
    SKIN_0,
    SKIN_A,
    SKIN_ARTERY,
    SKIN_CAPACITY,
    SKIN_DIAGONAL,
    SKIN_INLET,
    SKIN_SOURCE,
    SKIN_V,
    SKIN_W,
    SKIN_WALL,
    STEP,
    SUPERFICIAL_0,
    SUPERFICIAL_ARTERY,
    SUPERFICIAL_CAPACITY,
    SUPERFICIAL_INLET,
    SUPERFICIAL_SKIN,
    SUPERFICIAL_SKIN_CONDUCTANCE,
    SUPERFICIAL_VEIN,
    TO_SKIN,
    TO_WALL,
    VEIN_ARTERY,
    VEIN_CORE,
    VEIN_SKIN,
    VEIN_SOURCE,
    VESSEL_CORE,
    WALL,
    WALL_0,
    WALL_CAPACITY,
    WALL_OUTSIDE,
    WALL_SKIN,
    WALL_SUN,
    WATER_0,
    WATER_CAPACITY,
    WATER_EXCHANGE,
    WATER_INLET,
    WATER_SKIN,
)

Array = NDArray[float64]


@compiled
def dress_skin(here: Array, mine: Array, outer: Array, spell: Array, lanes: int) -> None:
    """Eliminate garment water and suit wall; what is left is the skin's own row."""
    for j in range(lanes):
        per_step = 1.0 / spell[STEP + j]
        contact = mine[GARMENT_CONDUCTANCE + j]
        exchange = here[WATER_EXCHANGE + j]
        capacity = mine[WATER_CAPACITY + j] * per_step
        pivot = 1.0 / (capacity + contact + exchange)
        stored = capacity * here[GARMENT_WATER + j] + exchange * here[INLET_OFFSET + j]
        here[WATER_0 + j] = stored * pivot
        here[WATER_SKIN + j] = contact * pivot
        here[WATER_INLET + j] = exchange * pivot
        wall_contact = outer[SKIN_WALL + j]
        outside = outer[WALL_OUTSIDE + j]
        capacity = mine[WALL_CAPACITY + j] * per_step
        pivot = 1.0 / (capacity + wall_contact + outside)
        gained = here[TO_WALL + j] + outer[WALL_SUN + j] + outside * spell[OUTSIDE_TEMPERATURE + j]
        here[WALL_0 + j] = (capacity * here[WALL + j] + gained) * pivot
        here[WALL_SKIN + j] = wall_contact * pivot
        capacity = mine[SKIN_CAPACITY + j] * per_step
        direct = outer[DIRECT_CONDUCTANCE + j]
        here[SKIN_DIAGONAL + j] = (
            capacity
            + direct
            + here[FLOW_SKIN + j]
            + mine[SUPERFICIAL_SKIN_CONDUCTANCE + j]
            + mine[CORE_SKIN_CONDUCTANCE + j]
            + mine[FAT_SKIN_CONDUCTANCE + j]
            + contact * (1.0 - here[WATER_SKIN + j])
            + wall_contact * (1.0 - here[WALL_SKIN + j])
        )
        here[SKIN_SOURCE + j] = (
            capacity * here[SKIN + j]
            + direct * outer[DIRECT_TEMPERATURE + j]
            + here[HEAT_SKIN + j]
            - here[EVAPORATION + j]
            + here[TO_SKIN + j]
            + contact * here[WATER_0 + j]
            + wall_contact * here[WALL_0 + j]
        )
        here[SKIN_INLET + j] = contact * here[WATER_INLET + j]


@compiled
def tissue(here: Array, mine: Array, spell: Array, lanes: int) -> None:
    """Write the core's row and what tissue gives to artery and vein, without inner layers."""
    for j in range(lanes):
        capacity = mine[CORE_CAPACITY + j] / spell[STEP + j]
        flow = here[FLOW_CORE + j]
        vessel = mine[VESSEL_CORE + j]
        here[CORE_DIAGONAL + j] = (
            capacity + flow + 2.0 * vessel + mine[CORE_SKIN_CONDUCTANCE + j] + mine[CORE_MUSCLE + j]
        )
        here[CORE_SOURCE + j] = capacity * here[CORE + j] + here[HEAT_CORE + j]
        here[CROSS + j] = mine[CORE_SKIN_CONDUCTANCE + j]
        here[CORE_ARTERY + j] = flow + vessel
        here[SKIN_ARTERY + j] = here[FLOW_SKIN + j]
        here[VEIN_CORE + j] = flow + vessel
        here[VEIN_SKIN + j] = here[FLOW_SKIN + j]
        here[VEIN_ARTERY + j] = mine[ARTERY_VEIN + j]
        here[VEIN_SOURCE + j] = 0.0


@compiled
def inner_layers(here: Array, mine: Array, spell: Array, lanes: int) -> None:
    """Eliminate muscle and fat of head and pelvis into the rows of core, skin and vein."""
    for j in range(lanes):
        per_step = 1.0 / spell[STEP + j]
        inner = mine[CORE_MUSCLE + j]
        middle = mine[MUSCLE_FAT + j]
        outer = mine[FAT_SKIN_CONDUCTANCE + j]
        muscle_flow = here[FLOW_MUSCLE + j]
        fat_flow = here[FLOW_FAT + j]
        muscle_capacity = mine[MUSCLE_CAPACITY + j] * per_step
        fat_capacity = mine[FAT_CAPACITY + j] * per_step
        muscle_diagonal = muscle_capacity + inner + middle + muscle_flow
        fat_diagonal = fat_capacity + middle + outer + fat_flow
        muscle_source = muscle_capacity * here[MUSCLE + j] + here[HEAT_MUSCLE + j]
        fat_source = fat_capacity * here[FAT + j] + here[HEAT_FAT + j]
        pivot = 1.0 / (muscle_diagonal * fat_diagonal - middle * middle)
        here[MUSCLE_0 + j] = (fat_diagonal * muscle_source + middle * fat_source) * pivot
        here[MUSCLE_CORE + j] = fat_diagonal * inner * pivot
        here[MUSCLE_SKIN + j] = middle * outer * pivot
        here[MUSCLE_ARTERY + j] = (fat_diagonal * muscle_flow + middle * fat_flow) * pivot
        here[FAT_0 + j] = (muscle_diagonal * fat_source + middle * muscle_source) * pivot
        here[FAT_CORE + j] = middle * inner * pivot
        here[FAT_SKIN + j] = muscle_diagonal * outer * pivot
        here[FAT_ARTERY + j] = (muscle_diagonal * fat_flow + middle * muscle_flow) * pivot
    for j in range(lanes):
        inner = mine[CORE_MUSCLE + j]
        outer = mine[FAT_SKIN_CONDUCTANCE + j]
        muscle_flow = here[FLOW_MUSCLE + j]
        fat_flow = here[FLOW_FAT + j]
        here[CORE_DIAGONAL + j] -= inner * here[MUSCLE_CORE + j]
        here[CORE_SOURCE + j] += inner * here[MUSCLE_0 + j]
        here[CORE_ARTERY + j] += inner * here[MUSCLE_ARTERY + j]
        here[CROSS + j] += inner * here[MUSCLE_SKIN + j]
        here[SKIN_DIAGONAL + j] -= outer * here[FAT_SKIN + j]
        here[SKIN_SOURCE + j] += outer * here[FAT_0 + j]
        here[SKIN_ARTERY + j] += outer * here[FAT_ARTERY + j]
        here[VEIN_CORE + j] += muscle_flow * here[MUSCLE_CORE + j] + fat_flow * here[FAT_CORE + j]
        here[VEIN_SKIN + j] += muscle_flow * here[MUSCLE_SKIN + j] + fat_flow * here[FAT_SKIN + j]
        here[VEIN_ARTERY + j] += (
            muscle_flow * here[MUSCLE_ARTERY + j] + fat_flow * here[FAT_ARTERY + j]
        )
        here[VEIN_SOURCE + j] += muscle_flow * here[MUSCLE_0 + j] + fat_flow * here[FAT_0 + j]


@compiled
def superficial_vein(
    here: Array,
    mine: Array,
    whole: Array,
    spell: Array,
    shunt: int,
    own_share: float,
    lanes: int,
) -> None:
    """Eliminate the superficial vein of a limb segment into the skin's row."""
    for j in range(lanes):
        flow = whole[shunt + j]
        capacity = mine[SUPERFICIAL_CAPACITY + j] / spell[STEP + j]
        contact = mine[SUPERFICIAL_SKIN_CONDUCTANCE + j]
        pivot = 1.0 / (capacity + contact + flow)
        stored = capacity * here[SUPERFICIAL_VEIN + j]
        here[SUPERFICIAL_0 + j] = (stored + here[IN_SUPERFICIAL_0 + j]) * pivot
        here[SUPERFICIAL_ARTERY + j] = (own_share * flow + here[IN_SUPERFICIAL_P + j]) * pivot
        here[SUPERFICIAL_INLET + j] = here[IN_SUPERFICIAL_W + j] * pivot
        here[SUPERFICIAL_SKIN + j] = contact * pivot
        here[SKIN_DIAGONAL + j] -= contact * here[SUPERFICIAL_SKIN + j]
        here[SKIN_SOURCE + j] += contact * here[SUPERFICIAL_0 + j]
        here[SKIN_ARTERY + j] += contact * here[SUPERFICIAL_ARTERY + j]
        here[SKIN_INLET + j] += contact * here[SUPERFICIAL_INLET + j]


@compiled
def core_and_skin(here: Array, lanes: int) -> None:
    """Solve core and skin as linear in the own artery (_A), the own vein (_V) and the inlet (_W).

    Only the core touches the vein's wall, with the vessel conductance held in `CORE_V`.
    """
    for j in range(lanes):
        core = here[CORE_DIAGONAL + j]
        skin = here[SKIN_DIAGONAL + j]
        cross = here[CROSS + j]
        vessel = here[CORE_V + j]
        pivot = 1.0 / (core * skin - cross * cross)
        core_source = here[CORE_SOURCE + j]
        skin_source = here[SKIN_SOURCE + j]
        core_artery = here[CORE_ARTERY + j]
        skin_artery = here[SKIN_ARTERY + j]
        inlet = here[SKIN_INLET + j]
        here[CORE_0 + j] = (skin * core_source + cross * skin_source) * pivot
        here[CORE_A + j] = (skin * core_artery + cross * skin_artery) * pivot
        here[CORE_V + j] = skin * vessel * pivot
        here[CORE_W + j] = cross * inlet * pivot
        here[SKIN_0 + j] = (core * skin_source + cross * core_source) * pivot
        here[SKIN_A + j] = (core * skin_artery + cross * core_artery) * pivot
        here[SKIN_V + j] = cross * vessel * pivot
        here[SKIN_W + j] = core * inlet * pivot


@compiled
def inner_back(here: Array, lanes: int) -> None:
    """Muscle and fat from core, skin and artery."""
    for j in range(lanes):
        core = here[CORE + j]
        skin = here[SKIN + j]
        artery = here[ARTERY + j]
        here[MUSCLE + j] = (
            here[MUSCLE_0 + j]
            + here[MUSCLE_CORE + j] * core
            + here[MUSCLE_SKIN + j] * skin
            + here[MUSCLE_ARTERY + j] * artery
        )
        here[FAT + j] = (
            here[FAT_0 + j]
            + here[FAT_CORE + j] * core
            + here[FAT_SKIN + j] * skin
            + here[FAT_ARTERY + j] * artery
        )


@compiled
def superficial_back(here: Array, whole: Array, lanes: int) -> None:
    """Superficial vein from skin, artery and inlet water."""
    for j in range(lanes):
        here[SUPERFICIAL_VEIN + j] = (
            here[SUPERFICIAL_0 + j]
            + here[SUPERFICIAL_SKIN + j] * here[SKIN + j]
            + here[SUPERFICIAL_ARTERY + j] * here[ARTERY + j]
            + here[SUPERFICIAL_INLET + j] * whole[INLET_WATER + j]
        )
