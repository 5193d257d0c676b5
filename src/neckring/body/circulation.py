"""One implicit step of heat through tissue, blood, garment water and suit wall.

The 85 temperatures of the body, with a garment-water node and a suit-wall node on each skin, hang
on a tree: the central blood at the root, arteries outward, veins back. Each segment is
eliminated by hand in a fixed order, from fingers and toes to the heart, as linear in two outer
unknowns only: the parent's artery (suffix _P) and the water that enters the garment (suffix _W).
Substituting back from the heart gives every temperature. Nothing is pivoted, nothing is sparse at
run time: the order is the tree.

Source: node graph and coefficients Takahashi et al. 2021 (Energy and Buildings 231:110575);
    the elimination is ours.
"""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.compiled import compiled
from neckring.lanes import (
    ARTERY,
    ARTERY_0,
    ARTERY_CAPACITY,
    ARTERY_P,
    ARTERY_VEIN,
    ARTERY_W,
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
    FLOW_OWN,
    FLOW_SKIN,
    FOOT_SHUNT,
    GARMENT_CONDUCTANCE,
    GARMENT_WATER,
    HAND_SHUNT,
    HEART,
    HEAT_CORE,
    HEAT_FAT,
    HEAT_MUSCLE,
    HEAT_SKIN,
    IN_ARTERY_FLOW,
    IN_SUPERFICIAL_0,
    IN_SUPERFICIAL_P,
    IN_SUPERFICIAL_W,
    IN_VEIN_0,
    IN_VEIN_FLOW,
    IN_VEIN_P,
    IN_VEIN_W,
    IN_WATER_0,
    IN_WATER_P,
    IN_WATER_W,
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
    RESPIRED_HEAT_DRY,
    RESPIRED_HEAT_WET,
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
    VEIN,
    VEIN_0,
    VEIN_ARTERY,
    VEIN_CAPACITY,
    VEIN_CORE,
    VEIN_P,
    VEIN_SKIN,
    VEIN_SOURCE,
    VEIN_W,
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

# Segment whose artery feeds each segment; HEART is the central blood.
PARENT = (1, 17, 17, 17, 17, 17, 5, 6, 17, 8, 9, 4, 11, 12, 4, 14, 15)
# From fingers, toes and crown to the heart; back again for the substitution.
INWARD = (0, 1, 2, 3, 7, 6, 5, 10, 9, 8, 13, 12, 11, 16, 15, 14, 4)
OUTWARD = INWARD[::-1]
CHEST = 2
HAS_MUSCLE_LAYER = tuple(segment in (0, 4) for segment in range(17))
HAS_SUPERFICIAL_VEIN = tuple(segment >= 5 for segment in range(17))
# The shunts of hand and foot feed the superficial veins of the whole limb.
IS_HAND = tuple(segment in (7, 10) for segment in range(17))
IS_FOOT = tuple(segment in (13, 16) for segment in range(17))
IS_ARM = tuple(5 <= segment <= 10 for segment in range(17))
# The superficial vein of upper arm and thigh ends in the parent's deep vein.
JOINS_DEEP_VEIN = tuple(segment in (5, 8, 11, 14) for segment in range(17))


@compiled
def clear_gathered(state: Array, lanes: int) -> None:
    """Empty what the children hand to their parents."""
    for segment in range(HEART + 1):
        here = state[segment]
        for j in range(lanes):
            here[IN_ARTERY_FLOW + j] = 0.0
            here[IN_VEIN_FLOW + j] = 0.0
            here[IN_VEIN_0 + j] = 0.0
            here[IN_VEIN_P + j] = 0.0
            here[IN_VEIN_W + j] = 0.0
            here[IN_SUPERFICIAL_0 + j] = 0.0
            here[IN_SUPERFICIAL_P + j] = 0.0
            here[IN_SUPERFICIAL_W + j] = 0.0
            here[IN_WATER_0 + j] = 0.0
            here[IN_WATER_P + j] = 0.0
            here[IN_WATER_W + j] = 0.0


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
def vessels(
    here: Array,
    mine: Array,
    whole: Array,
    spell: Array,
    shunt: int,
    own_share: float,
    lanes: int,
) -> None:
    """Solve artery and vein as linear in the parent's artery and the inlet water."""
    for j in range(lanes):
        per_step = 1.0 / spell[STEP + j]
        vessel = mine[VESSEL_CORE + j]
        wall = mine[ARTERY_VEIN + j]
        feed = here[FLOW_OWN + j] + here[IN_ARTERY_FLOW + j] + own_share * whole[shunt + j]
        back = here[FLOW_OWN + j] + here[IN_VEIN_FLOW + j]
        artery_capacity = mine[ARTERY_CAPACITY + j] * per_step
        vein_capacity = mine[VEIN_CAPACITY + j] * per_step
        to_core = here[VEIN_CORE + j]
        to_skin = here[VEIN_SKIN + j]
        artery = artery_capacity + feed + wall + vessel - vessel * here[CORE_A + j]
        artery_vein = wall + vessel * here[CORE_V + j]
        artery_source = artery_capacity * here[ARTERY + j] + vessel * here[CORE_0 + j]
        artery_inlet = vessel * here[CORE_W + j]
        vein = vein_capacity + back + wall + vessel
        vein = vein - to_core * here[CORE_V + j] - to_skin * here[SKIN_V + j]
        vein_artery = here[VEIN_ARTERY + j] + here[IN_VEIN_P + j]
        vein_artery += to_core * here[CORE_A + j] + to_skin * here[SKIN_A + j]
        vein_source = vein_capacity * here[VEIN + j] + here[VEIN_SOURCE + j] + here[IN_VEIN_0 + j]
        vein_source += to_core * here[CORE_0 + j] + to_skin * here[SKIN_0 + j]
        vein_inlet = here[IN_VEIN_W + j]
        vein_inlet += to_core * here[CORE_W + j] + to_skin * here[SKIN_W + j]
        pivot = 1.0 / (artery * vein - artery_vein * vein_artery)
        here[ARTERY_0 + j] = (vein * artery_source + artery_vein * vein_source) * pivot
        here[ARTERY_P + j] = vein * feed * pivot
        here[ARTERY_W + j] = (vein * artery_inlet + artery_vein * vein_inlet) * pivot
        here[VEIN_0 + j] = (artery * vein_source + vein_artery * artery_source) * pivot
        here[VEIN_P + j] = vein_artery * feed * pivot
        here[VEIN_W + j] = (artery * vein_inlet + vein_artery * artery_inlet) * pivot


@compiled
def hand_to_parent(
    here: Array,
    above: Array,
    whole: Array,
    shunt: int,
    own_share: float,
    lanes: int,
) -> None:
    """Give the parent this segment's flows and its vein and garment water as linear forms."""
    for j in range(lanes):
        feed = here[FLOW_OWN + j] + here[IN_ARTERY_FLOW + j] + own_share * whole[shunt + j]
        back = here[FLOW_OWN + j] + here[IN_VEIN_FLOW + j]
        above[IN_ARTERY_FLOW + j] += feed
        above[IN_VEIN_FLOW + j] += back
        above[IN_VEIN_0 + j] += back * here[VEIN_0 + j]
        above[IN_VEIN_P + j] += back * here[VEIN_P + j]
        above[IN_VEIN_W + j] += back * here[VEIN_W + j]
    for j in range(lanes):
        # Heat the garment's water carries off, exchange * (water - inlet - offset), as a form in
        # the parent's artery and the inlet.
        exchange = here[WATER_EXCHANGE + j]
        weight = exchange * here[WATER_SKIN + j]
        artery = weight * here[SKIN_A + j] + here[IN_WATER_P + j]
        vein = weight * here[SKIN_V + j]
        own = exchange * (here[WATER_0 + j] - here[INLET_OFFSET + j]) + weight * here[SKIN_0 + j]
        inlet = exchange * (here[WATER_INLET + j] - 1.0) + weight * here[SKIN_W + j]
        above[IN_WATER_0 + j] += (
            own + here[IN_WATER_0 + j] + artery * here[ARTERY_0 + j] + vein * here[VEIN_0 + j]
        )
        above[IN_WATER_P + j] += artery * here[ARTERY_P + j] + vein * here[VEIN_P + j]
        above[IN_WATER_W + j] += (
            inlet + here[IN_WATER_W + j] + artery * here[ARTERY_W + j] + vein * here[VEIN_W + j]
        )


@compiled
def superficial_to_parent(
    here: Array, above: Array, whole: Array, shunt: int, into_deep: float, lanes: int
) -> None:
    """Give the parent the superficial vein: to its own superficial vein or to its deep one."""
    for j in range(lanes):
        flow = whole[shunt + j]
        artery = here[SUPERFICIAL_ARTERY + j] + here[SUPERFICIAL_SKIN + j] * here[SKIN_A + j]
        vein = here[SUPERFICIAL_SKIN + j] * here[SKIN_V + j]
        own = here[SUPERFICIAL_0 + j] + here[SUPERFICIAL_SKIN + j] * here[SKIN_0 + j]
        inlet = here[SUPERFICIAL_INLET + j] + here[SUPERFICIAL_SKIN + j] * here[SKIN_W + j]
        constant = flow * (own + artery * here[ARTERY_0 + j] + vein * here[VEIN_0 + j])
        parent = flow * (artery * here[ARTERY_P + j] + vein * here[VEIN_P + j])
        water = flow * (inlet + artery * here[ARTERY_W + j] + vein * here[VEIN_W + j])
        shallow = 1.0 - into_deep
        above[IN_SUPERFICIAL_0 + j] += shallow * constant
        above[IN_SUPERFICIAL_P + j] += shallow * parent
        above[IN_SUPERFICIAL_W + j] += shallow * water
        above[IN_VEIN_0 + j] += into_deep * constant
        above[IN_VEIN_P + j] += into_deep * parent
        above[IN_VEIN_W + j] += into_deep * water
        above[IN_VEIN_FLOW + j] += into_deep * flow


@compiled
def eliminate_inward(
    state: Array, body: Array, around: Array, whole: Array, spell: Array, lanes: int
) -> None:
    """Eliminate every segment, leaving the heart with what all of them hand to it."""
    clear_gathered(state, lanes)
    for j in range(lanes):
        breathed = whole[RESPIRED_HEAT_DRY + j] + whole[RESPIRED_HEAT_WET + j]
        state[CHEST, HEAT_CORE + j] -= breathed
    for segment in INWARD:
        here = state[segment]
        mine = body[segment]
        above = state[PARENT[segment]]
        shunt = HAND_SHUNT if IS_ARM[segment] else FOOT_SHUNT
        own_share = 1.0 if IS_HAND[segment] or IS_FOOT[segment] else 0.0
        dress_skin(here, mine, around[segment], spell, lanes)
        tissue(here, mine, spell, lanes)
        if HAS_MUSCLE_LAYER[segment]:
            inner_layers(here, mine, spell, lanes)
        if HAS_SUPERFICIAL_VEIN[segment]:
            superficial_vein(here, mine, whole, spell, shunt, own_share, lanes)
        for j in range(lanes):
            here[CORE_V + j] = mine[VESSEL_CORE + j]
        core_and_skin(here, lanes)
        vessels(here, mine, whole, spell, shunt, own_share, lanes)
        hand_to_parent(here, above, whole, shunt, own_share, lanes)
        if HAS_SUPERFICIAL_VEIN[segment]:
            into_deep = 1.0 if JOINS_DEEP_VEIN[segment] else 0.0
            superficial_to_parent(here, above, whole, shunt, into_deep, lanes)


@compiled
def substitute_outward(state: Array, whole: Array, lanes: int) -> None:
    """Find every temperature from the heart's and the inlet water's."""
    for segment in OUTWARD:
        here = state[segment]
        above = state[PARENT[segment]]
        for j in range(lanes):
            feed = above[ARTERY + j]
            inlet = whole[INLET_WATER + j]
            artery = here[ARTERY_0 + j] + here[ARTERY_P + j] * feed + here[ARTERY_W + j] * inlet
            vein = here[VEIN_0 + j] + here[VEIN_P + j] * feed + here[VEIN_W + j] * inlet
            core = here[CORE_0 + j] + here[CORE_A + j] * artery + here[CORE_V + j] * vein
            skin = here[SKIN_0 + j] + here[SKIN_A + j] * artery + here[SKIN_V + j] * vein
            core += here[CORE_W + j] * inlet
            skin += here[SKIN_W + j] * inlet
            here[ARTERY + j] = artery
            here[VEIN + j] = vein
            here[CORE + j] = core
            here[SKIN + j] = skin
            here[GARMENT_WATER + j] = (
                here[WATER_0 + j] + here[WATER_SKIN + j] * skin + here[WATER_INLET + j] * inlet
            )
            here[WALL + j] = here[WALL_0 + j] + here[WALL_SKIN + j] * skin
        if HAS_MUSCLE_LAYER[segment]:
            inner_back(here, lanes)
        if HAS_SUPERFICIAL_VEIN[segment]:
            superficial_back(here, whole, lanes)


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
