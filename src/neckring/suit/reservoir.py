"""The reservoir in closed form: heat it can take up, how it warms, melts and is chilled."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from neckring.constants import CELSIUS_ZERO, ICE_LATENT_HEAT
from neckring.suit import water
from neckring.values import Values, plain, require_within

GRAVITY = 9.80665
"""[m/s2], standard."""

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m2 K4)], CODATA 2018."""

BLADDER_EMISSIVITY = 0.9
"""[1], plastics and most surfaces that are not metal (from memory)."""

# Air at one atmosphere, 300 K: Incropera and DeWitt, table A.4 (from memory).
_AIR_CONDUCTIVITY = 0.0263
_AIR_VISCOSITY = 1.846e-5
_AIR_PRANDTL = 0.707
_AIR_DENSITY = 1.1614


def heat_available(water_mass: Values, ice: Values, start: Values, end: Values) -> Values:
    """Heat that water and ice take up until all is water at an end temperature.

    Args:
        water_mass: [kg]
        ice: At 0 degC [kg].
        start: Temperature of the water [degC]; with ice about, the melt cools it first.
        end: [degC], 0 or above.

    Returns:
        [J]; negative when the water is warmer than `end` and there is no ice.

    Raises:
        ValueError: A temperature outside 0 to 100 degC.
    """
    require_within("end temperature", end, 0.0, 100.0, "degC")
    require_within("start temperature", start, 0.0, 100.0, "degC")
    warmed = water_mass * (_warming(end) - _warming(start))
    return warmed + ice * (ICE_LATENT_HEAT + _warming(end))


def _warming(temperature: Values) -> Values:
    """Enthalpy of water over that at 0 degC [J/kg], by Simpson's rule over the specific heat."""
    middle = water.specific_heat(0.5 * np.asarray(temperature))
    ends = water.specific_heat(0.0) + water.specific_heat(temperature)
    return plain(np.asarray(temperature * (ends + 4.0 * middle) / 6.0))


def wall_conductance(
    area: Values, thickness: Values, conductivity: Values, outside_coefficient: Values
) -> Values:
    """Conductance from the water to the air through an insulated wall.

    Args:
        area: [m2]
        thickness: Of the insulation [m].
        conductivity: Of the insulation [W/(m K)].
        outside_coefficient: Convection and radiation outside [W/(m2 K)].

    Returns:
        [W/K]; the water's side is taken as no resistance.
    """
    return area / (thickness / conductivity + 1.0 / outside_coefficient)


class Warming(NamedTuple):
    """Exponential approach: final temperature [degC] and time constant [s]."""

    final_temperature: Values
    time_constant: Values


def warming(
    heat_capacity: Values,
    constant_heat: Values,
    garment_conductance: Values,
    skin_temperature: Values,
    ambient_conductance: Values,
    ambient_temperature: Values,
) -> Warming:
    """How well-mixed water without ice warms.

    Args:
        heat_capacity: Of the water [J/K].
        constant_heat: Of the pump and the like [W].
        garment_conductance: Effectiveness times flow times specific heat [W/K].
        skin_temperature: [degC]
        ambient_conductance: Through walls and lines [W/K].
        ambient_temperature: [degC]

    Returns:
        Both of the exponential; the conductances must not both be 0.

    Source: energy balance with constant coefficients.
    """
    conductance = garment_conductance + ambient_conductance
    gained = (
        constant_heat
        + garment_conductance * skin_temperature
        + ambient_conductance * ambient_temperature
    )
    return Warming(gained / conductance, heat_capacity / conductance)


def temperature_after(time: Values, start: Values, course: Warming) -> Values:
    """Temperature [degC] at a time [s] after it was `start` [degC]."""
    gone: Values = np.exp(-time / course.time_constant)
    return course.final_temperature + (start - course.final_temperature) * gone


def time_to_temperature(temperature: Values, start: Values, course: Warming) -> Values:
    """Time [s] until a temperature [degC] is reached from `start` [degC]; infinite if never."""
    with np.errstate(divide="ignore", invalid="ignore"):
        left = (np.asarray(temperature) - course.final_temperature) / (
            np.asarray(start) - course.final_temperature
        )
        time = -course.time_constant * np.log(left)
    time = np.where((left > 0.0) & (left <= 1.0), time, np.inf)
    return plain(np.where(np.asarray(temperature) == np.asarray(start), 0.0, time))


def warming_time(heat_capacity: Values, heat: Values, rise: Values) -> Values:
    """Time [s] in which a constant heat [W] warms a heat capacity [J/K] by a rise [K]."""
    return heat_capacity * rise / heat


def melting_time(ice: Values, heat: Values) -> Values:
    """Time [s] in which a constant heat [W] melts ice [kg], all of it going to the ice."""
    return ice * ICE_LATENT_HEAT / heat


def melting_temperature(heat: Values, ice: Values, contact: Values) -> Values:
    """Temperature of the water while it melts ice at a steady rate.

    Args:
        heat: Brought into the water [W].
        ice: Left [kg], above 0.
        contact: Conductance from water to ice per ice mass [W/(K kg)].

    Returns:
        [degC]: the less ice, the warmer the water must be to melt it as fast.
    """
    return heat / (contact * ice)


def natural_convection(
    height: Values, surface_temperature: Values, air_temperature: Values
) -> Values:
    """Heat transfer coefficient of still air at an upright plate.

    Args:
        height: Of the plate [m].
        surface_temperature: [degC]
        air_temperature: [degC]

    Returns:
        [W/(m2 K)]

    Source: Churchill and Chu 1975 (Int. J. Heat Mass Transfer 18:1323); air after Incropera and
        DeWitt, table A.4, moved to the film's temperature by powers (conductivity 0.86, viscosity
        0.76, both from memory).
    """
    film = 0.5 * (surface_temperature + air_temperature) + CELSIUS_ZERO
    warmth = film / 300.0
    kinematic = _AIR_VISCOSITY / _AIR_DENSITY * warmth**1.76
    difference: Values = np.abs(surface_temperature - air_temperature)
    grashof = GRAVITY * difference * height**3 / (film * kinematic**2)
    conductivity = _AIR_CONDUCTIVITY * warmth**0.86
    return upright_plate_nusselt(grashof * _AIR_PRANDTL, _AIR_PRANDTL) * conductivity / height


def upright_plate_nusselt(rayleigh: Values, prandtl: Values) -> Values:
    """Mean Nusselt number of natural convection at an upright plate, laminar to turbulent.

    Source: Churchill and Chu 1975, Int. J. Heat Mass Transfer 18:1323, Eq. 9.
    """
    denominator = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return (0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / denominator) ** 2


def radiation_coefficient(
    surface_temperature: Values,
    surroundings_temperature: Values,
    emissivity: Values = BLADDER_EMISSIVITY,
) -> Values:
    """Heat transfer coefficient of radiation to wide surroundings [W/(m2 K)].

    Source: Stefan-Boltzmann law, linear form.
    """
    hot = surface_temperature + CELSIUS_ZERO
    cold = surroundings_temperature + CELSIUS_ZERO
    return emissivity * STEFAN_BOLTZMANN * (hot + cold) * (hot**2 + cold**2)


def chilling_time(
    water_mass: Values,
    area: Values,
    height: Values,
    start: Values,
    end: Values,
    refrigerator_temperature: Values,
    coefficient: Values | None = None,
) -> Values:
    """Time for a bladder of water to chill in a refrigerator that keeps its temperature.

    Args:
        water_mass: [kg]
        area: Of the faces that the air reaches [m2].
        height: Of the faces [m].
        start: [degC]
        end: [degC]
        refrigerator_temperature: [degC]; a small compressor may not hold it.
        coefficient: Heat transfer with a fan [W/(m2 K)]; still air and radiation when None.

    Returns:
        [s]; infinite when the refrigerator is not colder than `end`. Water well mixed, so thick
        bladders take longer.

    Source: Churchill and Chu 1975 with radiation, summed over 200 steps of temperature.
    """
    air = np.asarray(refrigerator_temperature, dtype=np.float64)
    shares = (np.arange(200) + 0.5) / 200
    span = np.maximum(np.asarray(start) - np.asarray(end), 0.0)
    reachable = np.maximum(np.asarray(end), air + 1e-6)
    temperatures = reachable + shares.reshape(-1, *(1 for _ in np.shape(span + air))) * span
    if coefficient is None:
        coefficient = natural_convection(height, temperatures, air)
        coefficient = coefficient + radiation_coefficient(temperatures, air)
    heat = water_mass * water.specific_heat(temperatures) * span / len(shares)
    time = np.sum(heat / (coefficient * area * (temperatures - air)), axis=0)
    return plain(np.where((air >= end) & (span > 0), np.inf, time))
