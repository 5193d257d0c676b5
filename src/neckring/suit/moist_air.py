"""Moist air: pressure at altitude, saturation, humidity, dew point, density, enthalpy.

The closed forms are those of the ASHRAE Handbook; psychrolib, which takes one number at a time,
is the check on them.
"""

from __future__ import annotations

import numpy as np

from neckring.constants import CELSIUS_ZERO, STANDARD_PRESSURE
from neckring.values import Values, plain, require_within, root_of_falling

DRY_AIR_GAS_CONSTANT = 287.042
"""[J/(kg K)], ASHRAE Fundamentals 2017, chapter 1, Eq. 1."""

WATER_TO_AIR_MASS = 0.621945
"""[1], molar mass of water over that of dry air (ASHRAE Fundamentals 2017, chapter 1)."""

DRY_AIR_HEAT = 1006.0
VAPOUR_HEAT = 1860.0
EVAPORATION_HEAT = 2_501_000.0
# [J/(kg K)], [J/(kg K)], [J/kg] at 0 degC: ASHRAE Fundamentals 2017, chapter 1, Eq. 30.

COLDEST = -60.0
HOTTEST = 100.0

# Hyland and Wexler 1983, as Eqs. 5 (ice) and 6 (water) of ASHRAE Fundamentals 2017, chapter 1.
_OVER_ICE = (
    -5.6745359e3,
    6.3925247,
    -9.677843e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.484024e-13,
    4.1635019,
)
_OVER_WATER = (
    -5.8002206e3,
    1.3914993,
    -4.8640239e-2,
    4.1764768e-5,
    -1.4452093e-8,
    0.0,
    6.5459673,
)
_TRIPLE_POINT = 0.01


def pressure_at_altitude(altitude: Values) -> Values:
    """Air pressure of the standard atmosphere.

    Args:
        altitude: Above sea level [m], -500 to 11000.

    Returns:
        [Pa]

    Raises:
        ValueError: Altitude outside the range.

    Source: ICAO Doc 7488, as ASHRAE Fundamentals 2017, chapter 1, Eq. 3. Weather moves the
        pressure by some 3 %.
    """
    require_within("altitude", altitude, -500.0, 11_000.0, "m")
    return STANDARD_PRESSURE * (1.0 - 2.25577e-5 * altitude) ** 5.2559


def saturation_pressure(temperature: Values) -> Values:
    """Pressure of saturated vapour over water, over ice below the triple point.

    Args:
        temperature: [degC], -60 to 100.

    Returns:
        [Pa]

    Raises:
        ValueError: Temperature outside the range.

    Source: Hyland and Wexler 1983, as ASHRAE Fundamentals 2017, chapter 1, Eqs. 5 and 6.
    """
    require_within("air temperature", temperature, COLDEST, HOTTEST, "degC")
    kelvin = np.asarray(temperature, dtype=np.float64) + CELSIUS_ZERO
    ice, liquid = _hyland_wexler(kelvin, _OVER_ICE), _hyland_wexler(kelvin, _OVER_WATER)
    return plain(np.where(np.asarray(temperature) <= _TRIPLE_POINT, ice, liquid))


def _hyland_wexler(kelvin: Values, constants: tuple[float, ...]) -> Values:
    inverse, *powers, logarithm = constants
    series = sum((c * kelvin**n for n, c in enumerate(powers)), start=inverse / kelvin)
    pressure: Values = np.exp(series + logarithm * np.log(kelvin))
    return pressure


def vapour_pressure(temperature: Values, relative_humidity: Values) -> Values:
    """Vapour pressure [Pa] of air at a temperature [degC] and relative humidity [1]."""
    return relative_humidity * saturation_pressure(temperature)


def humidity_ratio(vapour_pressure: Values, pressure: Values) -> Values:
    """Water per dry air [kg/kg] at a vapour pressure and a total pressure [Pa].

    Source: ASHRAE Fundamentals 2017, chapter 1, Eq. 20.
    """
    return WATER_TO_AIR_MASS * vapour_pressure / (pressure - vapour_pressure)


def vapour_pressure_of(humidity_ratio: Values, pressure: Values) -> Values:
    """Vapour pressure [Pa] of air with a humidity ratio [kg/kg] at a total pressure [Pa]."""
    return pressure * humidity_ratio / (WATER_TO_AIR_MASS + humidity_ratio)


def dew_point(vapour_pressure: Values) -> Values:
    """Temperature at which a vapour pressure is saturated.

    Args:
        vapour_pressure: [Pa], above that of saturation at -60 degC.

    Returns:
        [degC]; frost point when below 0.

    Raises:
        ValueError: Drier than -60 degC or wetter than boiling.
    """
    driest, wettest = float(saturation_pressure(COLDEST)), float(saturation_pressure(HOTTEST))
    require_within("vapour pressure", vapour_pressure, driest, wettest, "Pa")
    target = np.log(vapour_pressure)
    root = root_of_falling(
        lambda t: np.asarray(target - np.log(saturation_pressure(t))), COLDEST, HOTTEST
    )
    return plain(root)


def fog_margin(surface_temperature: Values, vapour_pressure: Values) -> Values:
    """How far a surface [degC] is above the dew point of the air at it [Pa]; fog below 0 [K]."""
    return surface_temperature - dew_point(vapour_pressure)


def air_density(temperature: Values, vapour_pressure: Values, pressure: Values) -> Values:
    """Density of moist air.

    Args:
        temperature: [degC]
        vapour_pressure: [Pa]
        pressure: Total [Pa].

    Returns:
        [kg/m3], dry air and vapour together.

    Source: ideal gases, ASHRAE Fundamentals 2017, chapter 1, Eqs. 20 and 26.
    """
    dry = dry_air_density(temperature, vapour_pressure, pressure)
    return dry * (1.0 + humidity_ratio(vapour_pressure, pressure))


def dry_air_density(temperature: Values, vapour_pressure: Values, pressure: Values) -> Values:
    """Dry air in a volume of moist air [kg/m3]; temperature [degC], pressures [Pa]."""
    kelvin = temperature + CELSIUS_ZERO
    return (pressure - vapour_pressure) / (DRY_AIR_GAS_CONSTANT * kelvin)


def enthalpy(temperature: Values, humidity_ratio: Values) -> Values:
    """Enthalpy of moist air per dry air [J/kg], nought for dry air at 0 degC.

    Args:
        temperature: [degC]
        humidity_ratio: [kg/kg]

    Returns:
        [J/kg]

    Source: ASHRAE Fundamentals 2017, chapter 1, Eq. 30.
    """
    vapour = humidity_ratio * (EVAPORATION_HEAT + VAPOUR_HEAT * temperature)
    return DRY_AIR_HEAT * temperature + vapour
