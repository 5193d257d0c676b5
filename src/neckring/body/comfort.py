"""Neutral operative temperature: where a resting bare person feels neither warm nor cool.

The published body takes its set points in the steady state at this temperature.

Source: predicted mean vote of Fanger 1970, equations as in ISO 7730 and ASHRAE Fundamentals 2017
    chapter 9.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def _antoine_kilopascal(temperature: FloatArray) -> FloatArray:
    return np.asarray(np.exp(16.6536 - 4030.183 / (temperature + 235.0)))


def predicted_mean_vote(
    air: FloatArray, metabolic_flux: FloatArray, speed: float = 0.1, humidity: float = 0.5
) -> FloatArray:
    """Predicted mean vote of a bare person with radiant equal to air temperature.

    Args:
        air: Air temperature [degC], shape (members,).
        metabolic_flux: Metabolic rate per area [W/m2], shape (members,).
        speed: Air speed [m/s].
        humidity: Relative humidity, 0..1.

    Returns:
        Vote on the seven-point scale, shape (members,).
    """
    pressure = _antoine_kilopascal(air) * humidity
    skin = 35.7 - 0.028 * metabolic_flux
    natural = 2.38 * np.abs(skin - air) ** 0.25
    convective = np.maximum(natural, 12.1 * speed**0.5)
    radiated = 3.96e-8 * ((skin + 273.0) ** 4 - (air + 273.0) ** 4)
    convected = convective * (skin - air)
    diffused = 3.05 * (5.73 - 0.007 * metabolic_flux - pressure)
    sweated = np.maximum(0.0, 0.42 * (metabolic_flux - 58.15))
    breathed = 0.0173 * metabolic_flux * (5.87 - pressure) + 0.0014 * metabolic_flux * (34.0 - air)
    load = metabolic_flux - radiated - convected - diffused - sweated - breathed
    return np.asarray((0.303 * np.exp(-0.036 * metabolic_flux) + 0.028) * load)


def neutral_temperature(metabolic_flux: FloatArray) -> FloatArray:
    """Operative temperature [degC] at which a bare person votes neutral, shape (members,).

    Args:
        metabolic_flux: Metabolic rate per area [W/m2], shape (members,).
    """
    low = np.full_like(metabolic_flux, 10.0)
    high = np.full_like(metabolic_flux, 40.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        warm = predicted_mean_vote(middle, metabolic_flux) > 0.0
        low = np.where(warm, low, middle)
        high = np.where(warm, middle, high)
    return 0.5 * (low + high)
