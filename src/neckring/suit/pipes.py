"""Friction of water in a round line: Reynolds number, friction factor, pressure drop."""

from __future__ import annotations

import math

import numpy as np

from neckring.suit import water
from neckring.values import Values

SMOOTH_TUBE_ROUGHNESS = 1.5e-6
"""[m], drawn tube and plastic (Moody 1944, Trans. ASME 66:671)."""

SLOWEST_REYNOLDS = 1e-6
# Below this the flow is nought for every purpose; it keeps 64/Re finite.


def cross_section(bore: Values) -> Values:
    """Area of a round bore [m2] from its diameter [m]."""
    return math.pi / 4.0 * bore**2


def velocity(flow: Values, bore: Values) -> Values:
    """Mean velocity [m/s] of a flow [m3/s] in a bore [m]."""
    return flow / cross_section(bore)


def reynolds(flow: Values, bore: Values, density: Values, viscosity: Values) -> Values:
    """Reynolds number of flow in a round bore.

    Args:
        flow: [m3/s]
        bore: Inner diameter [m].
        density: [kg/m3]
        viscosity: Dynamic [Pa s].

    Returns:
        [1]
    """
    return density * velocity(flow, bore) * bore / viscosity


def friction_factor(reynolds_number: Values, relative_roughness: Values = 0.0) -> Values:
    """Darcy friction factor, one smooth curve from laminar through transition to turbulent.

    Without the usual jump at a critical Reynolds number the loop has one solution.

    Args:
        reynolds_number: [1], above 0.
        relative_roughness: Roughness over bore [1].

    Returns:
        [1], 64/Re when laminar.

    Source: Churchill 1977, Chemical Engineering 84(24):91.
    """
    re = np.maximum(reynolds_number, SLOWEST_REYNOLDS)
    a = (2.457 * np.log(1.0 / ((7.0 / re) ** 0.9 + 0.27 * relative_roughness))) ** 16
    b = (37530.0 / re) ** 16
    factor: Values = 8.0 * ((8.0 / re) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)
    return factor


def dynamic_pressure(flow: Values, bore: Values, density: Values) -> Values:
    """Dynamic pressure rho v2 / 2 [Pa] of a flow [m3/s] in a bore [m]."""
    return 0.5 * density * velocity(flow, bore) ** 2


def minor_loss(flow: Values, bore: Values, density: Values, loss_coefficient: Values) -> Values:
    """Pressure lost in fittings.

    Args:
        flow: [m3/s]
        bore: Bore that the coefficients refer to [m].
        density: [kg/m3]
        loss_coefficient: Sum of the fittings' coefficients [1].

    Returns:
        [Pa]
    """
    return loss_coefficient * dynamic_pressure(flow, bore, density)


def line_pressure(
    flow: Values,
    length: Values,
    bore: Values,
    temperature: Values,
    loss_coefficient: Values = 0.0,
    roughness: float = SMOOTH_TUBE_ROUGHNESS,
) -> Values:
    """Pressure lost by water in a straight line with fittings.

    Bends are not counted: they matter only when tighter than twenty bores.

    Args:
        flow: [m3/s], not negative.
        length: [m]
        bore: [m]
        temperature: Of the water [degC].
        loss_coefficient: Sum of the fittings' coefficients [1].
        roughness: Height of the wall's roughness [m].

    Returns:
        [Pa]

    Source: Darcy-Weisbach with Churchill 1977; water after IAPWS SR6-08 and Kell 1975.
    """
    density = water.density(temperature)
    re = reynolds(flow, bore, density, water.viscosity(temperature))
    factor = friction_factor(re, roughness / bore) * length / bore
    return minor_loss(flow, bore, density, factor + loss_coefficient)


def hydraulic_power(pressure: Values, flow: Values) -> Values:
    """Power [W] that a pressure difference [Pa] spends in driving a flow [m3/s]."""
    return pressure * flow
