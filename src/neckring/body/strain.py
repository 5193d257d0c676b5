"""What the step means for the wearer: heart rate, water lost, heat stored."""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.compiled import compiled
from neckring.lanes import (
    AREA_FRACTION,
    ARTERY,
    ARTERY_CAPACITY,
    BODY_MASS,
    BODY_WATER_LOSS,
    BREATHED_WATER,
    CENTRAL_BLOOD,
    CENTRAL_CAPACITY,
    CORE,
    CORE_BASELINE,
    CORE_CAPACITY,
    DEHYDRATION_SLOPE,
    DIFFUSED,
    EXTERNAL_WORK,
    FAT,
    FAT_CAPACITY,
    HEART_CORE_SLOPE,
    HEART_RATE,
    LOWEST_SKIN,
    MAXIMUM_HEART_RATE,
    MAXIMUM_METABOLISM,
    MEAN_SKIN,
    METABOLIC_HEAT,
    MUSCLE,
    MUSCLE_CAPACITY,
    RESTING_HEART_RATE,
    RESTING_METABOLISM,
    SKIN,
    SKIN_CAPACITY,
    STEP,
    STORAGE,
    STORAGE_BASELINE,
    SUPERFICIAL_CAPACITY,
    SUPERFICIAL_VEIN,
    SWEAT_TOTAL,
    SWEATED,
    VEIN,
    VEIN_CAPACITY,
)

Array = NDArray[float64]

# Rise of heart rate with core temperature when the skin is hot [1/s/K]: 39 to 41 bpm/K in 273
# trials of walking at 25 to 55 degC, Kampmann and Broede 2019 (Front Physiol 10:1524, abstract).
HOT_SLOPE = 40.0 / 60.0
# Mean skin temperatures [degC] between which cool skin becomes hot; assumed.
COOL_SKIN = 32.0
HOT_SKIN = 35.5


@compiled
def strain(
    state: Array, body: Array, whole: Array, traits: Array, spell: Array, lanes: int
) -> None:
    """Set heart rate, water loss, mean and lowest skin temperature and heat storage.

    Heart rate is the reserve used by the work (share of heart-rate reserve equals share of
    oxygen-uptake reserve; Swain 1998, Dalleck 2006), plus the rise with core temperature
    (with cool skin 33 bpm/K, ISO 9886, smaller in hard work; with hot skin 40 bpm/K), plus a rise
    with water lost.
    """
    for j in range(lanes):
        whole[MEAN_SKIN + j] = 0.0
        whole[LOWEST_SKIN + j] = 1e3
        whole[STORAGE + j] = -whole[STORAGE_BASELINE + j]
    for segment in range(17):
        here = state[segment]
        mine = body[segment]
        for j in range(lanes):
            skin = here[SKIN + j]
            whole[MEAN_SKIN + j] += mine[AREA_FRACTION + j] * skin
            whole[LOWEST_SKIN + j] = min(whole[LOWEST_SKIN + j], skin)
            tissue = mine[CORE_CAPACITY + j] * here[CORE + j] + mine[SKIN_CAPACITY + j] * skin
            tissue += mine[MUSCLE_CAPACITY + j] * here[MUSCLE + j]
            tissue += mine[FAT_CAPACITY + j] * here[FAT + j]
            blood = mine[ARTERY_CAPACITY + j] * here[ARTERY + j]
            blood += mine[VEIN_CAPACITY + j] * here[VEIN + j]
            blood += mine[SUPERFICIAL_CAPACITY + j] * here[SUPERFICIAL_VEIN + j]
            whole[STORAGE + j] += tissue + blood
    for j in range(lanes):
        whole[STORAGE + j] += traits[CENTRAL_CAPACITY + j] * whole[CENTRAL_BLOOD + j]
        whole[SWEATED + j] += spell[STEP + j] * whole[SWEAT_TOTAL + j]
        lost = whole[SWEATED + j] + whole[DIFFUSED + j] + whole[BREATHED_WATER + j]
        whole[BODY_WATER_LOSS + j] = lost / traits[BODY_MASS + j]
        watts = whole[METABOLIC_HEAT + j] + spell[EXTERNAL_WORK + j]
        resting = traits[RESTING_METABOLISM + j]
        share = (watts - resting) / (traits[MAXIMUM_METABOLISM + j] - resting)
        reserve = traits[MAXIMUM_HEART_RATE + j] - traits[RESTING_HEART_RATE + j]
        rise = max(state[4, CORE + j] - whole[CORE_BASELINE + j], 0.0)
        rate = traits[RESTING_HEART_RATE + j] + reserve * max(share, 0.0)
        cool = spell[HEART_CORE_SLOPE + j]
        warmth = (whole[MEAN_SKIN + j] - COOL_SKIN) / (HOT_SKIN - COOL_SKIN)
        hot = max(HOT_SLOPE - cool, 0.0)
        rate += (cool + min(max(warmth, 0.0), 1.0) * hot) * rise
        rate += traits[DEHYDRATION_SLOPE + j] * whole[BODY_WATER_LOSS + j]
        whole[HEART_RATE + j] = min(rate, traits[MAXIMUM_HEART_RATE + j])
