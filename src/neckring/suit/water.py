"""Liquid water at 0.1 MPa: density, viscosity, specific heat, thermal conductivity."""

from __future__ import annotations

from neckring.constants import CELSIUS_ZERO
from neckring.values import Values, require_within

COLDEST = -10.0
HOTTEST = 100.0

# Kell 1975 (J. Chem. Eng. Data 20:97), equation for the density at one atmosphere.
_KELL_ABOVE = (
    999.83952,
    16.945176,
    -7.9870401e-3,
    -46.170461e-6,
    105.56302e-9,
    -280.54253e-12,
)
_KELL_BELOW = 16.879850e-3

# IAPWS SR6-08(2011), Liquid Water at 0.1 MPa: Eqs. 7 and 8, and table 1 for the specific heat.
_VISCOSITY = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
_CONDUCTIVITY = ((1.6630, -1.15), (-1.7781, -3.4), (1.1567, -6.0), (-0.432115, -7.6))
_GAS_CONSTANT = 461.51805  # J/(kg K)
_HEAT_CONSTANT = -8.983025854
_HEAT_HIGH = ((4, -1.661470539e5), (5, 2.708781640e6), (7, -1.557191544e8))
_HEAT_LOW = ((2, -8.237426256e-1), (3, 1.908956353), (4, -2.017597384), (5, 8.546361348e-1))


def density(temperature: Values) -> Values:
    """Density of air-free liquid water.

    Args:
        temperature: [degC], -10 to 100.

    Returns:
        [kg/m3]

    Raises:
        ValueError: Temperature outside the range.

    Source: Kell 1975, J. Chem. Eng. Data 20:97 (coefficients from memory; agree with CoolProp to
        0.004 kg/m3 from 0 to 40 degC).
    """
    _check(temperature)
    t = temperature
    above = sum((c * t**n for n, c in enumerate(_KELL_ABOVE)), start=0.0)
    return above / (1.0 + _KELL_BELOW * t)


def viscosity(temperature: Values) -> Values:
    """Dynamic viscosity of liquid water.

    Args:
        temperature: [degC], -10 to 100.

    Returns:
        [Pa s]

    Raises:
        ValueError: Temperature outside the range.

    Source: IAPWS SR6-08(2011), Eq. 7.
    """
    return 1e-6 * _powers(temperature, _VISCOSITY)


def thermal_conductivity(temperature: Values) -> Values:
    """Thermal conductivity of liquid water.

    Args:
        temperature: [degC], -10 to 100.

    Returns:
        [W/(m K)]

    Raises:
        ValueError: Temperature outside the range.

    Source: IAPWS SR6-08(2011), Eq. 8.
    """
    return _powers(temperature, _CONDUCTIVITY)


def specific_heat(temperature: Values) -> Values:
    """Specific heat of liquid water at constant pressure.

    Args:
        temperature: [degC], -10 to 100.

    Returns:
        [J/(kg K)]

    Raises:
        ValueError: Temperature outside the range.

    Source: IAPWS SR6-08(2011), second derivative of the Gibbs energy of Eq. 1.
    """
    _check(temperature)
    kelvin = temperature + CELSIUS_ZERO
    tau, alpha, beta = kelvin / 10.0, 10.0 / (593.0 - kelvin), 10.0 / (kelvin - 232.0)
    high = sum(n * (n + 1) * a * alpha ** (n + 2) for n, a in _HEAT_HIGH)
    low = sum(m * (m + 1) * b * beta ** (m + 2) for m, b in _HEAT_LOW)
    return -_GAS_CONSTANT * (_HEAT_CONSTANT + tau * (high + low))


def _powers(temperature: Values, terms: tuple[tuple[float, float], ...]) -> Values:
    _check(temperature)
    reduced = (temperature + CELSIUS_ZERO) / 300.0
    return sum((factor * reduced**power for factor, power in terms), start=0.0)


def _check(temperature: Values) -> None:
    require_within("water temperature", temperature, COLDEST, HOTTEST, "degC")
