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

from neckring.body.tissue import (
    core_and_skin,
    dress_skin,
    inner_back,
    inner_layers,
    superficial_back,
    superficial_vein,
    tissue,
)
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
    CORE_V,
    CORE_W,
    FLOW_OWN,
    FOOT_SHUNT,
    GARMENT_WATER,
    HAND_SHUNT,
    HEART,
    HEAT_CORE,
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
    RESPIRED_HEAT_DRY,
    RESPIRED_HEAT_WET,
    SKIN,
    SKIN_0,
    SKIN_A,
    SKIN_V,
    SKIN_W,
    STEP,
    SUPERFICIAL_0,
    SUPERFICIAL_ARTERY,
    SUPERFICIAL_INLET,
    SUPERFICIAL_SKIN,
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
    WALL_SKIN,
    WATER_0,
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
