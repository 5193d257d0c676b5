"""Do energy, water, carbon dioxide and oxygen add up? Contents before and after, and what crossed.

The kernel books everything that crosses the border of body and suit while it runs; here the
contents are counted from the state alone, so that an error in either shows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.constants import (
    AIR_MOLAR_HEAT,
    ICE_LATENT_HEAT,
    LATENT_HEAT_PER_MOLE,
    WATER_MOLAR_MASS,
    WATER_SPECIFIC_HEAT,
)
from neckring.outing.batch import Batch, row
from neckring.outing.bodies import stored_heat
from neckring.outing.findings import Residuals

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Contents:
    """What body and suit hold, and what the kernel has booked so far; shape (members,) each.

    Attributes:
        energy: Heat from 0 degC, liquid water as reference [J].
        water: Outside the body: vapour, liquid in the suit, condensate [kg].
        co2: In helmet and suit [mol].
        o2: In helmet and suit [mol].
        secreted: Water the body has given off since the start [kg].
        booked: Net inflow booked for energy, water, co2, o2, shape (4, members).
        turnover: Sum of the sizes of all booked flows, shape (4, members).
    """

    energy: FloatArray
    water: FloatArray
    co2: FloatArray
    o2: FloatArray
    secreted: FloatArray
    booked: FloatArray
    turnover: FloatArray


def contents(batch: Batch) -> Contents:
    """Count what a batch holds now."""
    members = batch.members

    def whole(name: str) -> FloatArray:
        return row(batch.whole, name, members)

    helmet, suit = (row(batch.traits, name, members) for name in ("HELMET_MOLES", "SUIT_MOLES"))
    vapour = helmet * whole("HELMET_WATER") + suit * whole("SUIT_WATER")
    liquid = row(batch.state[:, :17], "LIQUID", members).sum(axis=0)
    balances = ("ENERGY", "WATER", "CO2", "O2")
    return Contents(
        energy=_suit_heat(batch) + stored_heat(batch) + LATENT_HEAT_PER_MOLE * vapour,
        water=vapour * WATER_MOLAR_MASS + liquid + whole("DRIPPED") + whole("CONDENSATE"),
        co2=helmet * whole("HELMET_CO2") + suit * whole("SUIT_CO2"),
        o2=helmet * whole("HELMET_O2") + suit * whole("SUIT_O2"),
        secreted=whole("SWEATED") + whole("DIFFUSED") + whole("BREATHED_WATER"),
        booked=np.stack([whole(f"{name}_IN") for name in balances]),
        turnover=np.stack([whole(f"{name}_TURNOVER") for name in balances]),
    )


def _suit_heat(batch: Batch) -> FloatArray:
    members = batch.members

    def whole(name: str) -> FloatArray:
        return row(batch.whole, name, members)

    total = WATER_SPECIFIC_HEAT * whole("RESERVOIR_WATER") * whole("RESERVOIR")
    total = total - ICE_LATENT_HEAT * whole("ICE")
    for moles, air in (
        ("HELMET_MOLES", "HELMET_TEMPERATURE"),
        ("SUIT_MOLES", "SUIT_TEMPERATURE"),
    ):
        total = total + AIR_MOLAR_HEAT * row(batch.traits, moles, members) * whole(air)
    for capacity, node in (("WATER_CAPACITY", "GARMENT_WATER"), ("WALL_CAPACITY", "WALL")):
        heat = row(batch.body, capacity, members) * row(batch.state[:, :17], node, members)
        total = total + heat.sum(axis=0)
    return np.asarray(total)


def closure(before: Contents, after: Contents) -> FloatArray:
    """Relative closure errors of energy, water, co2 and o2, shape (4, members)."""
    change = np.stack(
        [
            after.energy - before.energy,
            (after.water - before.water) - (after.secreted - before.secreted),
            after.co2 - before.co2,
            after.o2 - before.o2,
        ]
    )
    booked = after.booked - before.booked
    turnover = after.turnover - before.turnover
    turnover[1] += np.abs(after.secreted - before.secreted)
    return np.asarray(np.abs(change - booked) / np.maximum(turnover, 1e-12))


def residuals(before: Contents, after: Contents) -> Residuals:
    """The worst member's closure errors."""
    energy, water, co2, o2 = (float(value) for value in closure(before, after).max(axis=1))
    return Residuals(energy=energy, water=water, co2=co2, o2=o2)
