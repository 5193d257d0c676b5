"""Fans in parallel against the air path, and what the moved air can carry away."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from neckring.suit.moist_air import (
    dry_air_density,
    enthalpy,
    humidity_ratio,
    saturation_pressure,
)
from neckring.values import Values


@dataclass(frozen=True)
class AirPath:
    """Fans and the duct they blow against; every number may be an array of members.

    Attributes:
        fans: Number of equal fans in parallel [1].
        fan_shut_off_pressure: Of one fan at no flow [Pa].
        fan_free_flow: Of one fan at no pressure [m3/s].
        fan_power: Electrical, of one fan [W].
        duct_pressure: Drop of the whole air path at `duct_flow` [Pa].
        duct_flow: [m3/s]
    """

    fans: Values
    fan_shut_off_pressure: Values
    fan_free_flow: Values
    fan_power: Values
    duct_pressure: Values
    duct_flow: Values


class FanFlow(NamedTuple):
    """Flow [m3/s], pressure across the fans [Pa] and electrical power of those that run [W]."""

    flow: Values
    pressure: Values
    power: Values


def fan_flow(path: AirPath, running_fans: Values | None = None, speed: Values = 1.0) -> FanFlow:
    """Air that the running fans move through the duct.

    Flow is that of the actual volume: pressures of fan and duct both follow the air's density, so
    it is the same at any altitude, while the mass moved falls with density (fan laws).

    Args:
        path: The fans and their duct.
        running_fans: How many run; all of them when None. A stopped fan is taken to be shut off
            by a flap; without one, air flows back through it and less reaches the helmet.
        speed: Share of full speed [1].

    Returns:
        Operating point; all nought when no fan runs.

    Source: quadratic fan curve p0 (1-(q/q0)2) against a quadratic duct (both assumed, the usual
        first approximation); fan laws, ASHRAE Systems and Equipment (from memory).
    """
    running = np.asarray(path.fans if running_fans is None else running_fans, dtype=np.float64)
    resistance = path.duct_pressure / np.asarray(path.duct_flow) ** 2
    widest = running * path.fan_free_flow
    pressure = path.fan_shut_off_pressure * np.asarray(speed) ** 2
    # p0 (s2 - (Q/(n q0))2) = R Q2, solved for Q and freed of division by the number of fans.
    flow = widest * np.sqrt(pressure / (resistance * widest**2 + path.fan_shut_off_pressure))
    power = running * path.fan_power * np.asarray(speed) ** 3
    return FanFlow(flow[()], (resistance * flow**2)[()], power[()])


def dry_air_flow(
    flow: Values, temperature: Values, vapour_pressure: Values, pressure: Values
) -> Values:
    """Dry air [kg/s] in a flow [m3/s] of moist air; temperature [degC], pressures [Pa]."""
    return flow * dry_air_density(temperature, vapour_pressure, pressure)


class AirCapacity(NamedTuple):
    """Most heat that an air flow can take up from wet skin: by evaporation and in all [W]."""

    evaporation: Values
    total: Values


def cooling_capacity(
    dry_air: Values,
    inlet_temperature: Values,
    inlet_vapour_pressure: Values,
    skin_temperature: Values,
    pressure: Values,
) -> AirCapacity:
    """Heat taken up by air that leaves saturated at skin temperature: the cap on evaporation.

    Args:
        dry_air: [kg/s]
        inlet_temperature: [degC]
        inlet_vapour_pressure: [Pa]
        skin_temperature: [degC]
        pressure: Total [Pa].

    Returns:
        [W], both.

    Source: enthalpy balance, ASHRAE Fundamentals 2017, chapter 1.
    """
    inlet = humidity_ratio(inlet_vapour_pressure, pressure)
    outlet = humidity_ratio(saturation_pressure(skin_temperature), pressure)
    total = enthalpy(skin_temperature, outlet) - enthalpy(inlet_temperature, inlet)
    vapour = enthalpy(skin_temperature, 1.0) - enthalpy(skin_temperature, 0.0)
    return AirCapacity(dry_air * (outlet - inlet) * vapour, dry_air * total)
