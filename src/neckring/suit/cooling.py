"""The cooling water, step by step: flow, garment and reservoir.

The garment is effectiveness-NTU against each skin, written as a water node so that water standing
still when the flow stops keeps its heat: with NTU = UA/(m c) and effectiveness
e = 1 - exp(-NTU), the node exchanges UA with the skin and k m c with the inlet, where
k = e/(1 - e/NTU). In steady flow that is exactly e m c (skin - inlet); with no flow it is UA alone.

Source: effectiveness of one stream against a steady surface, Kays and London, Compact Heat
    Exchangers (1984), chapter 2; the node form is ours.
"""

from __future__ import annotations

from numpy import float64, int64
from numpy.typing import NDArray

from neckring.arithmetic import exponential
from neckring.compiled import compiled
from neckring.constants import (
    ICE_LATENT_HEAT,
    WATER_SPECIFIC_HEAT,
)
from neckring.lanes import (
    ALIVE,
    ARTERY,
    CENTRAL_BLOOD,
    CENTRAL_CAPACITY,
    ENERGY_IN,
    ENERGY_TURNOVER,
    FLOW_0,
    FLOW_1,
    FLOW_2,
    FLOW_3,
    GARMENT_CONDUCTANCE,
    GARMENT_FLOW_SHARE,
    HEART,
    ICE,
    ICE_CONTACT,
    IN_VEIN_0,
    IN_VEIN_FLOW,
    IN_VEIN_P,
    IN_VEIN_W,
    IN_WATER_0,
    IN_WATER_P,
    IN_WATER_W,
    INLET_OFFSET,
    INLET_WATER,
    LINE_CONDUCTANCE,
    MEAN_SKIN,
    MELTED,
    OUTSIDE_TEMPERATURE,
    PUMP_HEAT,
    RESERVOIR,
    RESERVOIR_WATER,
    RETURN_WATER,
    SKIN,
    STEP,
    SUPPLY_WATER,
    TUBE_HEAT,
    TUBE_TEMPERATURE,
    WALL_CONDUCTANCE,
    WATER_EXCHANGE,
    WATER_FLOW,
    WATER_FROM_PACK,
    WATER_HEAT,
    WATER_ON,
)

Array = NDArray[float64]

# Pump off is a trickle far below anything that carries heat [kg/s].
LEAST_FLOW = 1e-9
# Water that stays liquid however cold the reservoir gets [kg]; assumed, keeps the solve finite.
LEAST_WATER = 0.02
# Where the tubes' outside lies between water and skin; assumed, half way.
TUBE_WARMTH = 0.5


@compiled
def water_flow(whole: Array, traits: Array, spell: Array, lanes: int) -> None:
    """Flow of cooling water [kg/s], from the pack's temperature when the pack drives it."""
    for j in range(lanes):
        powered = 1.0 - spell[WATER_FROM_PACK + j] * (1.0 - whole[ALIVE + j])
        t = min(max(whole[RESERVOIR + j], 0.0), 45.0)
        flow = spell[FLOW_0 + j] + t * (
            spell[FLOW_1 + j] + t * (spell[FLOW_2 + j] + t * spell[FLOW_3 + j])
        )
        whole[WATER_FLOW + j] = spell[WATER_ON + j] * powered * max(flow, 0.0)


@compiled
def garment_exchange(
    state: Array,
    body: Array,
    whole: Array,
    upstream: NDArray[int64],
    order: NDArray[int64],
    lanes: int,
) -> None:
    """Set each segment's exchange with its inlet, and the inlet of segments that lie in series."""
    for segment in order:
        here = state[segment]
        mine = body[segment]
        for j in range(lanes):
            flow = whole[WATER_FLOW + j] * mine[GARMENT_FLOW_SHARE + j]
            carried = WATER_SPECIFIC_HEAT * max(flow, LEAST_FLOW)
            contact = mine[GARMENT_CONDUCTANCE + j]
            units = max(contact / carried, 1e-4)
            effectiveness = 1.0 - exponential(-units)
            factor = effectiveness / (1.0 - effectiveness / units)
            covered = 1.0 if contact > 0.0 else 0.0
            here[WATER_EXCHANGE + j] = covered * factor * carried
            here[INLET_OFFSET + j] = 0.0
        before = upstream[segment]
        if before >= 0:
            earlier = state[before]
            earlier_body = body[before]
            for j in range(lanes):
                flow = whole[WATER_FLOW + j] * earlier_body[GARMENT_FLOW_SHARE + j]
                carried = WATER_SPECIFIC_HEAT * max(flow, LEAST_FLOW)
                into = whole[INLET_WATER + j] + earlier[INLET_OFFSET + j]
                # Exchange and contact in a row are e m c: the outlet lies between inlet and skin,
                # so that a chain of any length stays stable.
                exchange = earlier[WATER_EXCHANGE + j]
                contact = earlier_body[GARMENT_CONDUCTANCE + j]
                reached = exchange * contact / max(exchange + contact, 1e-30)
                picked_up = reached * (earlier[SKIN + j] - into)
                running = 1.0 if flow > LEAST_FLOW else 0.0
                here[INLET_OFFSET + j] = running * (earlier[INLET_OFFSET + j] + picked_up / carried)


@compiled
def tube_surface(whole: Array, lanes: int) -> None:
    """Temperature of the tubes' outside, where vapour may condense while water flows."""
    for j in range(lanes):
        inlet = whole[INLET_WATER + j]
        whole[TUBE_TEMPERATURE + j] = inlet + TUBE_WARMTH * (whole[MEAN_SKIN + j] - inlet)


@compiled
def melt(whole: Array, traits: Array, spell: Array, lanes: int) -> None:
    """Ice melted in this step [kg], by the contact of the water as it was."""
    for j in range(lanes):
        contact = traits[ICE_CONTACT + j] * whole[ICE + j]
        capacity = WATER_SPECIFIC_HEAT * whole[RESERVOIR_WATER + j]
        step = spell[STEP + j]
        # Never more than half way to the melting point in one step.
        heat = min(contact * step, 0.5 * capacity) * whole[RESERVOIR + j]
        melted = min(heat / ICE_LATENT_HEAT, whole[ICE + j])
        # Water below 0 degC freezes at once; the last of it stays, so that nothing divides by 0.
        frozen = min(
            capacity * -whole[RESERVOIR + j] / ICE_LATENT_HEAT,
            0.5 * (whole[RESERVOIR_WATER + j] - LEAST_WATER),
        )
        whole[MELTED + j] = melted if whole[RESERVOIR + j] > 0.0 else -max(frozen, 0.0)


@compiled
def heart_and_reservoir(
    state: Array, whole: Array, traits: Array, spell: Array, lanes: int
) -> None:
    """Solve the last two unknowns together: central blood and reservoir."""
    heart = state[HEART]
    for j in range(lanes):
        step = spell[STEP + j]
        outside = spell[OUTSIDE_TEMPERATURE + j]
        pack = spell[WATER_FROM_PACK + j]
        supply = spell[SUPPLY_WATER + j]
        blood = traits[CENTRAL_CAPACITY + j] / step
        a11 = blood + heart[IN_VEIN_FLOW + j] - heart[IN_VEIN_P + j]
        a12 = -heart[IN_VEIN_W + j]
        b1 = blood * whole[CENTRAL_BLOOD + j] + heart[IN_VEIN_0 + j] - a12 * (1.0 - pack) * supply
        before = WATER_SPECIFIC_HEAT * whole[RESERVOIR_WATER + j] / step
        after = before + WATER_SPECIFIC_HEAT * whole[MELTED + j] / step
        gains = traits[WALL_CONDUCTANCE + j] + pack * traits[LINE_CONDUCTANCE + j]
        pump = spell[PUMP_HEAT + j] * whole[ALIVE + j]
        warmed = pump + pack * (heart[IN_WATER_0 + j] + whole[TUBE_HEAT + j])
        a21 = -pack * heart[IN_WATER_P + j]
        a22 = after + gains - pack * heart[IN_WATER_W + j]
        b2 = before * whole[RESERVOIR + j] + gains * outside + warmed
        b2 -= ICE_LATENT_HEAT * whole[MELTED + j] / step
        pivot = 1.0 / (a11 * a22 - a12 * pack * a21)
        central = (b1 * a22 - a12 * pack * b2) * pivot
        reservoir = (a11 * b2 - a21 * b1) * pivot
        inlet = pack * reservoir + (1.0 - pack) * supply
        heat = heart[IN_WATER_0 + j] + heart[IN_WATER_P + j] * central
        heat += heart[IN_WATER_W + j] * inlet
        whole[CENTRAL_BLOOD + j] = central
        heart[ARTERY + j] = central
        whole[RESERVOIR + j] = reservoir
        whole[INLET_WATER + j] = inlet
        whole[WATER_HEAT + j] = heat
        carried = WATER_SPECIFIC_HEAT * max(whole[WATER_FLOW + j], LEAST_FLOW)
        running = 1.0 if whole[WATER_FLOW + j] > LEAST_FLOW else 0.0
        whole[RETURN_WATER + j] = inlet + running * heat / carried
        whole[ICE + j] -= whole[MELTED + j]
        whole[RESERVOIR_WATER + j] += whole[MELTED + j]
        gained = gains * (outside - reservoir)
        to_facility = (1.0 - pack) * (heat + whole[TUBE_HEAT + j])
        whole[ENERGY_IN + j] += step * (gained + pump - to_facility)
        whole[ENERGY_TURNOVER + j] += step * (abs(gained) + pump + abs(to_facility))
