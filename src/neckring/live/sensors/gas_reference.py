"""Gas flows and shares of a gas, from the conditions at which they are stated to those that are.

A meter of mass flow shows litres a minute as they would be at its reference temperature and
pressure: 100 standard litres at 0 degC are 109 litres at 25 degC. All by the ideal gas law, which
for air near 1 bar errs by less than 0.1 %.

Source: p V = n R T with n kept: V2 = V1 (T2 / T1) (p1 / p2). Atkins and de Paula, Physical
Chemistry, 9th ed. 2010, eq. 1.8 and "combined gas law", from memory. Dalton's law for shares.
"""

from __future__ import annotations

from dataclasses import dataclass

from neckring.constants import CELSIUS_ZERO

ASSUMED_AIR_TEMPERATURE = 25.0
"""[degC] of the air in the helmet while nothing measures it; assumed. 10 K more are 3.4 %."""


@dataclass(frozen=True)
class GasConditions:
    """At which a gas is measured.

    Attributes:
        temperature: [degC]
        pressure: Absolute [Pa].
    """

    temperature: float
    pressure: float


def actual_flow(stated: float, reference: GasConditions, actual: GasConditions) -> float:
    """A flow as it is where the gas flows [m3/s].

    Args:
        stated: Flow at the reference conditions [m3/s].
        reference: At which it is stated.
        actual: At which the gas is.
    """
    warmer = (actual.temperature + CELSIUS_ZERO) / (reference.temperature + CELSIUS_ZERO)
    return stated * warmer * reference.pressure / actual.pressure


def partial_pressure(share: float, pressure: float) -> float:
    """Partial pressure of a gas [Pa] from its share [1] of a gas at a pressure [Pa]."""
    return share * pressure
