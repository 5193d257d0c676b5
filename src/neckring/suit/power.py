"""The pack's battery, step by step, under a load of constant power."""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.compiled import compiled
from neckring.lanes import (
    ALIVE,
    BATTERY_CAPACITY,
    BATTERY_RESISTANCE,
    CHARGE,
    CUT_OFF,
    ELECTRIC_LOAD,
    STEP,
    VOLTAGE,
    VOLTAGE_0,
    VOLTAGE_1,
    VOLTAGE_2,
    VOLTAGE_3,
)

Array = NDArray[float64]


@compiled
def draw(whole: Array, traits: Array, spell: Array, lanes: int) -> None:
    """Draw the spell's load; below the cut-off the pack goes dead and stays dead.

    Source: P = V I with V = E - R I, so V = (E + sqrt(E^2 - 4 R P))/2; identity.
    """
    for j in range(lanes):
        charge = whole[CHARGE + j]
        rested = traits[VOLTAGE_0 + j] + charge * (
            traits[VOLTAGE_1 + j]
            + charge * (traits[VOLTAGE_2 + j] + charge * traits[VOLTAGE_3 + j])
        )
        load = spell[ELECTRIC_LOAD + j] * whole[ALIVE + j]
        room = rested * rested - 4.0 * spell[BATTERY_RESISTANCE + j] * load
        voltage = 0.5 * (rested + max(room, 0.0) ** 0.5)
        current = load / voltage
        left = charge - current * spell[STEP + j] / traits[BATTERY_CAPACITY + j]
        lasting = (room > 0.0) and (voltage > traits[CUT_OFF + j]) and (left > 0.0)
        whole[VOLTAGE + j] = voltage
        whole[CHARGE + j] = max(left, 0.0)
        whole[ALIVE + j] = whole[ALIVE + j] if lasting else 0.0
