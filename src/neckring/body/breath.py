"""Gas exchange and breathing that go with a metabolic rate, and what breathing carries away.

Gas flows are at standard conditions (0 degC, 101325 Pa, dry) unless named otherwise.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from neckring.constants import (
    CELSIUS_ZERO,
    DRY_PER_WATT,
    EXHALED_PRESSURE,
    EXHALED_TEMPERATURE,
    LATENT_HEAT,
    MOLAR_VOLUME,
    STANDARD_PRESSURE,
    WET_PER_WATT,
)
from neckring.values import Values, plain

RESTING_QUOTIENT = 0.80
HARDEST_QUOTIENT = 1.00
"""[1], respiratory quotient at rest on a mixed diet and in hard work (from memory)."""


def energy_equivalent(respiratory_quotient: Values) -> Values:
    """Energy set free per oxygen.

    Args:
        respiratory_quotient: Carbon dioxide given off over oxygen taken up [1].

    Returns:
        [J/m3] of standard oxygen.

    Source: ISO 8996, (0.23 RQ + 0.77) 5.88 W h/L (coefficients from memory; within 0.4 % of Weir
        1949 and Brockway 1987).
    """
    return (0.23 * respiratory_quotient + 0.77) * 5.88 * 3600.0 / 1e-3


def metabolic_rate_from_gases(
    oxygen: Values, carbon_dioxide: Values, method: Literal["weir", "brockway"] = "weir"
) -> Values:
    """Metabolic rate from measured gas exchange, without urinary nitrogen.

    Args:
        oxygen: Taken up [m3/s].
        carbon_dioxide: Given off [m3/s].
        method: Whose coefficients.

    Returns:
        [W]

    Source: Weir 1949 (J Physiol 109:1), Brockway 1987 (Hum Nutr Clin Nutr 41C:463); coefficients
        from memory.
    """
    kilojoules = {"weir": (3.941 * 4.184, 1.106 * 4.184), "brockway": (16.58, 4.51)}[method]
    return 1e6 * (kilojoules[0] * oxygen + kilojoules[1] * carbon_dioxide)


def respiratory_quotient(work_share: Values) -> Values:
    """Respiratory quotient at a share of the largest work.

    Args:
        work_share: Metabolic rate above rest over its range from rest to maximum [1].

    Returns:
        [1], 0.80 at rest to 1.00 at the hardest; the line between is assumed. More carbon dioxide
        comes with a higher quotient.
    """
    share = np.clip(work_share, 0.0, 1.0)
    return plain(RESTING_QUOTIENT + (HARDEST_QUOTIENT - RESTING_QUOTIENT) * share)


def oxygen_uptake(metabolic_rate: Values, quotient: Values) -> Values:
    """Oxygen taken up [m3/s] at a metabolic rate [W] and respiratory quotient [1]."""
    return metabolic_rate / energy_equivalent(quotient)


def carbon_dioxide_output(metabolic_rate: Values, quotient: Values) -> Values:
    """Carbon dioxide given off [m3/s] at a metabolic rate [W] and respiratory quotient [1]."""
    return quotient * oxygen_uptake(metabolic_rate, quotient)


def oxygen_moles_per_joule(quotient: Values) -> Values:
    """Oxygen taken up per metabolic energy [mol/J] at a respiratory quotient [1]."""
    return 1.0 / (energy_equivalent(quotient) * MOLAR_VOLUME)


def carbon_dioxide_moles_per_joule(quotient: Values) -> Values:
    """Carbon dioxide given off per metabolic energy [mol/J] at a respiratory quotient [1]."""
    return quotient * oxygen_moles_per_joule(quotient)


def ventilation_per_carbon_dioxide(age: Values, height: Values, female: Values) -> Values:
    """Breathed volume (37 degC, saturated) over standard carbon dioxide.

    Args:
        age: [years], 17 to 78.
        height: [m]
        female: 1 or True for women.

    Returns:
        [1]

    Source: Sun et al. 2002, Am J Respir Crit Care Med 166:1443, lowest ratio during exercise. Hard
        work and inspired carbon dioxide raise it; that is not modelled.
    """
    return 27.94 + 0.108 * age + 0.97 * np.asarray(female, dtype=np.float64) - 3.76 * height


def vital_capacity(age: Values, height: Values, female: Values) -> Values:
    """Vital capacity [m3] from age [years] and height [m].

    Source: European Community for Steel and Coal 1993 (Eur Respir J 6 S16), from memory.
    """
    woman = np.asarray(female, dtype=bool)
    years = np.maximum(age, 25.0)
    litres = np.where(
        woman, 4.43 * height - 0.026 * years - 2.89, 5.76 * height - 0.026 * years - 4.34
    )
    return plain(1e-3 * litres)


def tidal_volume(ventilation: Values, capacity: Values) -> Values:
    """Volume of one breath.

    Args:
        ventilation: [m3/s]
        capacity: Vital capacity [m3].

    Returns:
        [m3]

    Source: Hey et al. 1966 (Respir Physiol 1:193), ventilation = 28/min (breath - 0.3 L) up to
        half the vital capacity, faster breathing beyond; from memory. The settings of two
        breathing machines of standards lie within 10 % of it.
    """
    return plain(np.minimum(ventilation * 60.0 / 28.0 + 0.3e-3, 0.5 * np.asarray(capacity)))


class Breathing(NamedTuple):
    """Gas exchange and breathing.

    Attributes:
        oxygen: Taken up, standard [m3/s].
        carbon_dioxide: Given off, standard [m3/s].
        ventilation: Breathed at 37 degC, saturated [m3/s].
        tidal_volume: Of one breath, same conditions [m3].
        rate: Breaths in a time [1/s].
        carbon_dioxide_share: Carbon dioxide given off over breathed volume, both at 37 degC,
            saturated and sea level [1].
    """

    oxygen: Values
    carbon_dioxide: Values
    ventilation: Values
    tidal_volume: Values
    rate: Values
    carbon_dioxide_share: Values


def breathing(
    metabolic_rate: Values, quotient: Values, age: Values, height: Values, female: Values
) -> Breathing:
    """Gas exchange and breathing at a metabolic rate.

    Args:
        metabolic_rate: [W], above 0.
        quotient: Respiratory quotient [1].
        age: [years]
        height: [m]
        female: 1 or True for women.

    Returns:
        All of it. The carbon dioxide share, with dead space and total pressure, gives what a
        helmet makes the wearer breathe back.
    """
    carbon_dioxide = carbon_dioxide_output(metabolic_rate, quotient)
    ratio = ventilation_per_carbon_dioxide(age, height, female)
    breathed = ratio * carbon_dioxide
    breath = tidal_volume(breathed, vital_capacity(age, height, female))
    return Breathing(
        oxygen_uptake(metabolic_rate, quotient),
        carbon_dioxide,
        breathed,
        breath,
        breathed / breath,
        STANDARD_TO_BODY / ratio,
    )


STANDARD_TO_BODY = 310.15 / CELSIUS_ZERO * STANDARD_PRESSURE / (STANDARD_PRESSURE - 6_281.0)
"""[1], volume at 37 degC, saturated (6281 Pa, ASHRAE), sea level over standard volume."""


def respiratory_dry_heat(metabolic_rate: Values, inspired_temperature: Values) -> Values:
    """Heat lost by warming the breath [W].

    Args:
        metabolic_rate: [W]
        inspired_temperature: [degC]; warmer than 34 gives a gain.

    Returns:
        [W]

    Source: Fanger 1970, as ISO 7730 Eq. 1.
    """
    return DRY_PER_WATT * metabolic_rate * (EXHALED_TEMPERATURE - inspired_temperature)


def respiratory_latent_heat(metabolic_rate: Values, inspired_vapour_pressure: Values) -> Values:
    """Heat lost by moistening the breath [W].

    Args:
        metabolic_rate: [W]
        inspired_vapour_pressure: [Pa]; above 5870 gives a gain.

    Returns:
        [W]

    Source: Fanger 1970, as ISO 7730 Eq. 1.
    """
    return WET_PER_WATT * metabolic_rate * (EXHALED_PRESSURE - inspired_vapour_pressure)


def respiratory_water_loss(metabolic_rate: Values, inspired_vapour_pressure: Values) -> Values:
    """Water lost with the breath [kg/s]; see `respiratory_latent_heat`."""
    return respiratory_latent_heat(metabolic_rate, inspired_vapour_pressure) / LATENT_HEAT
