"""Heat and vapour exchange of skin, bare or in ordinary clothes, with a room.

Used where no suit encloses a segment: the head with the helmet off, and the checks of the bare body
against the published model.

Source: local coefficients Ichihara et al. 1997 (doi 10.3130/aija.62.45_5), fitted to the two-node
    model's whole-body values as in Takahashi et al. 2021 (Energy and Buildings 231:110575);
    clothing area and permeation as there. The lying body of that paper is not offered: nobody lies
    in a suit by plan.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from neckring.body.anatomy import AREA, by_segment

FloatArray = NDArray[np.float64]
Posture = Literal["standing", "sitting"]

# Insulation of one clo [m2 K/W]; Gagge, Burton and Bazett 1941.
CLO = 0.155
# Lewis ratio [K/Pa]; Gagge and Gonzalez 1996, 16.5 K/kPa.
LEWIS_RATIO = 16.5e-3
# Permeation of ordinary clothing; Takahashi et al. 2021.
PERMEATION = 0.45
STILL_AIR = 0.2
REFERENCE_PRESSURE = 101330.0

NATURAL = {
    "standing": by_segment([4.48, 4.48, 2.97, 2.91, 2.85], [3.61, 3.55, 3.67], [2.80, 2.04, 2.04]),
    "sitting": by_segment([4.75, 4.75, 3.12, 2.48, 1.84], [3.76, 3.62, 2.06], [2.98, 2.98, 2.62]),
}
FORCED_FACTOR = by_segment([15.0, 15.0, 11.0, 17.0, 13.0], [17.0, 17.0, 20.0], [14.0, 15.8, 15.1])
FORCED_EXPONENT = by_segment([0.62, 0.62, 0.67, 0.49, 0.60], [0.59, 0.61, 0.60], [0.61, 0.74, 0.62])
RADIATIVE = {
    "standing": by_segment([4.89, 4.89, 4.32, 4.09, 4.32], [4.55, 4.43, 4.21], [4.77, 5.34, 6.14]),
    "sitting": by_segment([4.96, 4.96, 3.99, 4.64, 4.21], [4.96, 4.21, 4.74], [4.10, 4.74, 6.36]),
}


def convective_coefficient(posture: Posture, air_speed: ArrayLike) -> FloatArray:
    """Convective coefficient of each segment [W/(m2 K)], shape (17, members).

    Args:
        posture: How the body is held.
        air_speed: [m/s], shape (members,).
    """
    speed = np.atleast_1d(np.asarray(air_speed, dtype=np.float64))
    natural = NATURAL[posture][:, None] * np.ones_like(speed)
    forced = FORCED_FACTOR[:, None] * speed ** FORCED_EXPONENT[:, None]
    local = np.where(speed < STILL_AIR, natural, forced)
    whole = np.maximum(3.0, 8.600001 * speed**0.53)
    mean = np.asarray(np.average(local, axis=0, weights=AREA))
    return np.asarray(local * whole / mean, dtype=np.float64)


def radiative_coefficient(posture: Posture) -> FloatArray:
    """Radiative coefficient of each segment [W/(m2 K)], shape (17,), mean 4.7."""
    local = RADIATIVE[posture]
    return np.asarray(local * 4.7 / np.average(local, weights=AREA), dtype=np.float64)


def clothing_area_factor(clo: FloatArray) -> FloatArray:
    """Area of clothed over bare body; McCullough and Jones 1984 as in ISO 9920."""
    return np.where(clo < 0.5, 1.0 + 0.2 * clo, 1.05 + 0.1 * clo)


def dry_conductance(
    convective: FloatArray, radiative: FloatArray, clo: FloatArray, pressure: ArrayLike
) -> FloatArray:
    """Sensible heat per area and kelvin, skin to operative temperature [W/(m2 K)].

    Args:
        convective: [W/(m2 K)], shape (17, members).
        radiative: [W/(m2 K)], shape (17, 1) or (17, members).
        clo: Insulation of clothing [clo], shape (17, members).
        pressure: Air pressure [Pa], shape (members,).
    """
    corrected = convective * (np.asarray(pressure) / REFERENCE_PRESSURE) ** 0.55
    outer = 1.0 / (corrected + radiative) / clothing_area_factor(clo)
    return np.asarray(1.0 / (outer + CLO * clo), dtype=np.float64)


def vapour_conductance(convective: FloatArray, clo: FloatArray, pressure: ArrayLike) -> FloatArray:
    """Latent heat per area and pascal, wet skin to air [W/(m2 Pa)]; arguments as above."""
    corrected = LEWIS_RATIO * convective * (REFERENCE_PRESSURE / np.asarray(pressure)) ** 0.45
    outer = 1.0 / corrected / clothing_area_factor(clo)
    return np.asarray(1.0 / (outer + CLO * clo / (LEWIS_RATIO * PERMEATION)), dtype=np.float64)


def operative_temperature(
    convective: FloatArray, radiative: FloatArray, air: ArrayLike, radiant: ArrayLike
) -> FloatArray:
    """Mean of air and radiant temperature weighted by their coefficients [degC]."""
    weighted = convective * np.asarray(air) + radiative * np.asarray(radiant)
    return np.asarray(weighted / (convective + radiative), dtype=np.float64)
