"""Carbon dioxide and oxygen in a helmet: closed forms, all as partial pressures [Pa].

Production, flows and volumes are at the helmet's own temperature and pressure. For oxygen the
production is negative.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from neckring.constants import CELSIUS_ZERO, STANDARD_PRESSURE
from neckring.values import FloatArray, Values, plain


def at_helmet(
    standard_flow: Values, temperature: Values, pressure: Values, vapour_pressure: Values = 0.0
) -> Values:
    """Volume flow that a dry standard gas flow has in the helmet.

    Args:
        standard_flow: At 0 degC, 101325 Pa, dry [m3/s].
        temperature: In the helmet [degC].
        pressure: Total in the helmet [Pa].
        vapour_pressure: In the helmet [Pa].

    Returns:
        [m3/s] of the gas and the vapour it takes along.

    Source: ideal gas.
    """
    hotter = (temperature + CELSIUS_ZERO) / CELSIUS_ZERO
    return standard_flow * hotter * STANDARD_PRESSURE / (pressure - vapour_pressure)


def steady_pressure(inlet: Values, production: Values, flow: Values, pressure: Values) -> Values:
    """Partial pressure in a well-mixed helmet after a long time.

    Args:
        inlet: Partial pressure in the supplied air [Pa].
        production: Volume of the gas given off [m3/s].
        flow: Of supplied air [m3/s], above 0.
        pressure: Total [Pa].

    Returns:
        [Pa]; also that of the bulk and of the exhaust of a helmet that is not well mixed.
    """
    return inlet + pressure * production / flow


def pressure_after(
    time: Values, start: Values, steady: Values, flow: Values, volume: Values
) -> Values:
    """Partial pressure in a well-mixed volume some time after a change.

    Args:
        time: Since the change [s].
        start: Partial pressure at the change [Pa].
        steady: That it would reach after a long time [Pa].
        flow: Air exchange [m3/s], above 0.
        volume: Of free gas [m3].

    Returns:
        [Pa]
    """
    gone: Values = np.exp(-flow * time / volume)
    return steady + (start - steady) * gone


def face_effectiveness(face_share: Values, internal_mixing: Values, flow: Values) -> Values:
    """How well the supplied air reaches the face: rise of the bulk over rise at the face.

    Args:
        face_share: Share of the supplied air that is blown at the face [1].
        internal_mixing: Flow exchanged between face and bulk [m3/s].
        flow: Of supplied air [m3/s].

    Returns:
        [1], from `face_share` (no mixing) to 1 (well mixed).

    Source: steady state of two zones with the exhaust from the bulk; the "contaminant removal
        effectiveness" of ventilation practice.
    """
    return (face_share * flow + internal_mixing) / (flow + internal_mixing)


def face_pressure(bulk: Values, inlet: Values, effectiveness: Values) -> Values:
    """Partial pressure at the face [Pa] from bulk and inlet [Pa] and the effectiveness [1]."""
    return inlet + (bulk - inlet) / effectiveness


def rebreathed_pressure(
    production: Values,
    ventilation: Values,
    dead_space: Values,
    tidal_volume: Values,
    pressure: Values,
) -> Values:
    """Rise of the inspired partial pressure by breathing back a part of the last breath.

    Args:
        production: Of the gas [m3/s].
        ventilation: Breathed volume [m3/s], at the same conditions as `production`.
        dead_space: Exhaled volume that the helmet keeps at the mouth [m3].
        tidal_volume: Of one breath [m3], more than `dead_space`.
        pressure: Total [Pa].

    Returns:
        [Pa], r/(1-r) P G/V with r = dead space over tidal volume.

    Source: balance over one breath: inspired = (1-r) face + r exhaled, exhaled = inspired + G/V.
    """
    share = np.minimum(dead_space / tidal_volume, 0.9)
    return share / (1.0 - share) * pressure * production / ventilation


def inspired_pressure(face: Values, rebreathed: Values) -> Values:
    """Mean inspired partial pressure [Pa]: that of the face zone plus what is breathed back."""
    return face + rebreathed


def dead_space_inspired(exhaled: Values, dead_space: Values, tidal_volume: Values) -> Values:
    """Mean inspired concentration on a breathing machine with a fixed exhaled concentration.

    Args:
        exhaled: Concentration or partial pressure, any unit.
        dead_space: [m3]
        tidal_volume: [m3]

    Returns:
        In the unit of `exhaled`.

    Source: the machine of EN 149 clause 8.7 (2.0 L, 25 a minute, 5 % CO2 exhaled), simple mixing.
    """
    return exhaled * dead_space / tidal_volume


def time_to_limit(
    volume: Values,
    production: Values,
    start: Values,
    limit: Values,
    pressure: Values,
    leak: Values = 0.0,
    outside: Values = 0.0,
) -> Values:
    """Time until a partial pressure in a helmet without fan reaches a limit.

    Args:
        volume: Of free gas that shares the rise [m3].
        production: Of the gas [m3/s], positive.
        start: Partial pressure when the fan stops [Pa].
        limit: [Pa]
        pressure: Total [Pa].
        leak: Exchange with the outside air [m3/s]; measure it.
        outside: Partial pressure in the outside air [Pa].

    Returns:
        [s]; 0 when already at the limit, infinite when the leak keeps it below for ever.
    """
    start, limit, leak = np.asarray(start), np.asarray(limit), np.asarray(leak, dtype=np.float64)
    source = pressure * production
    # Exchanges per filling time: below 1e-9 the exponential is the straight line of no leak.
    gap_start = source + leak * (outside - start)
    gap_limit = source + leak * (outside - limit)
    with np.errstate(divide="ignore", invalid="ignore"):
        line = volume * (limit - start) / source
        curve = -volume / leak * np.log(gap_limit / gap_start)
    time = np.where(leak * (limit - start) < 1e-9 * source, line, curve)
    time = np.where(gap_limit <= 0.0, np.inf, time)
    return plain(np.where(start >= limit, 0.0, time))


class Washout(NamedTuple):
    """Air exchange found from a falling concentration.

    Attributes:
        flow: [m3/s]
        fit: Share of the logarithm's variance that the straight line explains [1].
    """

    flow: float
    fit: float


def washout_flow(
    times: FloatArray, concentrations: FloatArray, inlet: float, volume: float
) -> Washout:
    """Air exchange from the fall of a gas after its source has stopped.

    Args:
        times: [s], shape (k,), at least three.
        concentrations: In any unit, all above `inlet`, shape (k,).
        inlet: Of the supplied air, same unit.
        volume: Of free gas [m3].

    Returns:
        The flow and how straight the line is.

    Raises:
        ValueError: Fewer than three readings, or one not above the inlet's.

    Source: tracer decay, ln(C - Cin) falls with slope -Q/V (ASTM E741; number from memory).
    """
    above = np.asarray(concentrations, dtype=np.float64) - inlet
    if above.size < 3 or not (above > 0).all():
        raise ValueError("a washout needs three readings or more, each above the supplied air's")
    logarithm = np.log(above)
    slope, offset = np.polyfit(times, logarithm, 1)
    missed = np.sum((logarithm - slope * np.asarray(times) - offset) ** 2)
    spread = np.sum((logarithm - logarithm.mean()) ** 2)
    return Washout(float(-slope * volume), float(1.0 - missed / spread) if spread else 0.0)
