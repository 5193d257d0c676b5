"""The most a wearer's heart, lungs and sweat glands can do, and how heart rate rises.

Heart rates are in 1/s, oxygen uptakes in m3/s of dry gas at 0 degC and 101325 Pa.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from neckring.constants import BLOOD_HEAT, LATENT_HEAT

FloatArray = NDArray[np.float64]

# Energy per volume of oxygen at a respiratory quotient of 0.85 [J/m3]; ISO 8996: 340.6 W min/L.
OXYGEN_ENERGY = 340.6 * 60.0e3
# Heat carried by a flow of blood [J/(m3 K)].
BLOOD_FLOW_HEAT = BLOOD_HEAT * 3600.0e3
# Greatest sweat rate as heat [W/m2]; ISO 7933:2004, not acclimatised and acclimatised.
SWEAT_NOT_ACCLIMATISED = 400.0
SWEAT_ACCLIMATISED = 500.0
# Cardiac output at most [m3/s]: 5 L/min and 5.5 L of blood a litre of oxygen; from memory of
# textbook figures for healthy adults (20 to 25 L/min at 3 to 3.5 L/min of oxygen).
CARDIAC_REST = 5.0 / 60.0e3
CARDIAC_PER_OXYGEN = 5.5
# Rise of heart rate a kelvin of core temperature [1/s/K] over oxygen uptake [mL/(kg min)]:
# 33 bpm/K ISO 9886 (quoted by Kampmann and Broede 2019, Front Physiol 10:1524); 17.5 at 22 and
# 7.5 at 32.4 mL/(kg min), doi 10.1007/BF00421151 (abstract).
CORE_SLOPE_UPTAKE = np.array([12.0, 22.0, 32.4])
CORE_SLOPE = np.array([33.0, 17.5, 7.5]) / 60.0
# Rise of heart rate with water lost: 3.3 bpm a percent of body mass, Montain and Coyle 1992
# (J Appl Physiol 73:1340); from memory.
DEHYDRATION_SLOPE = 3.3 / 60.0 / 0.01


def maximum_heart_rate(age: ArrayLike) -> FloatArray:
    """Greatest heart rate [1/s] at an age [years].

    Source: Tanaka, Monahan and Seals 2001 (J Am Coll Cardiol 37:153): 208 - 0.7 age a minute.
    """
    return np.asarray((208.0 - 0.7 * np.asarray(age, dtype=np.float64)) / 60.0)


def maximum_metabolic_rate(maximum_oxygen_uptake: ArrayLike) -> FloatArray:
    """Greatest metabolic rate [W] of a greatest oxygen uptake [m3/s]; ISO 8996."""
    return np.asarray(OXYGEN_ENERGY * np.asarray(maximum_oxygen_uptake, dtype=np.float64))


def sweat_limit(area: ArrayLike, acclimatised: bool) -> FloatArray:
    """Greatest sweat rate [kg/s] of a body surface [m2]; ISO 7933:2004."""
    heat = SWEAT_ACCLIMATISED if acclimatised else SWEAT_NOT_ACCLIMATISED
    return np.asarray(heat * np.asarray(area, dtype=np.float64) / LATENT_HEAT)


def cardiac_limit(maximum_oxygen_uptake: ArrayLike) -> FloatArray:
    """Greatest cardiac output, as heat carried [W/K], of a greatest oxygen uptake [m3/s]."""
    uptake = np.asarray(maximum_oxygen_uptake, dtype=np.float64)
    return np.asarray(BLOOD_FLOW_HEAT * (CARDIAC_REST + CARDIAC_PER_OXYGEN * uptake))


def dehydration_slope() -> float:
    """Rise of heart rate [1/s] a unit fraction of body mass lost as water."""
    return DEHYDRATION_SLOPE


def heart_rate_slope(metabolic_rate: ArrayLike, mass: ArrayLike) -> FloatArray:
    """Rise of heart rate with core temperature [1/s/K] at a metabolic rate.

    Args:
        metabolic_rate: [W]
        mass: Body mass [kg].

    Returns:
        [1/s/K]: the standard's slope in light work, less in hard work, never outside the published
        range.
    """
    watts = np.asarray(metabolic_rate, dtype=np.float64)
    uptake = watts / OXYGEN_ENERGY * 60.0e6 / np.asarray(mass, dtype=np.float64)
    return np.asarray(np.interp(uptake, CORE_SLOPE_UPTAKE, CORE_SLOPE))
