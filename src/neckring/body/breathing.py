"""Heat and water that breathing takes from the chest and gives to the helmet's air."""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.compiled import compiled
from neckring.constants import (
    LATENT_HEAT_PER_MOLE,
    WATER_MOLAR_MASS,
)
from neckring.lanes import (
    BREATHED_WATER,
    EXTERNAL_WORK,
    INSPIRED_TEMPERATURE,
    INSPIRED_WATER_PRESSURE,
    METABOLIC_HEAT,
    RESPIRED_HEAT_DRY,
    RESPIRED_HEAT_WET,
    RESPIRED_WATER,
    STEP,
)

Array = NDArray[float64]

# Respired heat per watt of metabolic rate; Fanger 1970, ISO 7730:
# dry 0.0014 M (34 - t), with t in degC; wet 0.0173 M (5.87 - p), with p in kPa.
DRY_PER_WATT = 0.0014
EXHALED_TEMPERATURE = 34.0
WET_PER_WATT = 0.0173e-3
EXHALED_PRESSURE = 5870.0


@compiled
def breathe(whole: Array, spell: Array, lanes: int) -> None:
    """Set the respired heat and water from the metabolic rate and the gas breathed in."""
    for j in range(lanes):
        watts = whole[METABOLIC_HEAT + j] + spell[EXTERNAL_WORK + j]
        warmed = EXHALED_TEMPERATURE - whole[INSPIRED_TEMPERATURE + j]
        wetted = EXHALED_PRESSURE - whole[INSPIRED_WATER_PRESSURE + j]
        whole[RESPIRED_HEAT_DRY + j] = DRY_PER_WATT * watts * warmed
        whole[RESPIRED_HEAT_WET + j] = WET_PER_WATT * watts * wetted
        moles = whole[RESPIRED_HEAT_WET + j] / LATENT_HEAT_PER_MOLE
        whole[RESPIRED_WATER + j] = moles
        whole[BREATHED_WATER + j] += spell[STEP + j] * moles * WATER_MOLAR_MASS
