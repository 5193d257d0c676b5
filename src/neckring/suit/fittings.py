"""Valves, quick disconnects and kinks: how they resist the flow of water.

A flow coefficient `kv` is kept in SI here: the flow of water [m3/s] at a drop of one bar.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from neckring.suit.pipes import minor_loss, reynolds
from neckring.values import Band, Values, plain, require_within

ValveLaw = Literal["linear", "equal_percentage"]

KV_PRESSURE = 1e5
"""[Pa], one bar, the drop at which Kv is defined (IEC 60534-1)."""

KV_DENSITY = 1000.0
"""[kg/m3], of the water for which Kv is defined (IEC 60534-2-1)."""

KV_PER_CV = 0.865
"""Kv [m3/h] of Cv = 1 US gallon a minute at 1 psi (IEC 60534-1)."""

SEAT_OPENING = 0.05
"""[1], opening below which an equal-percentage valve closes in proportion (assumed)."""

LAMINAR_LOSS = 300.0
"""[1], Hooper's K1 of a ball valve (Hooper 1981, Chemical Engineering 88(17):96; from memory)."""


def valve_pressure(flow: Values, kv: Values, density: Values = KV_DENSITY) -> Values:
    """Pressure lost in a valve or quick disconnect with turbulent flow.

    Args:
        flow: [m3/s]
        kv: Flow of water at one bar [m3/s].
        density: [kg/m3]

    Returns:
        [Pa]

    Source: IEC 60534-2-1, incompressible turbulent flow.
    """
    return KV_PRESSURE * density / KV_DENSITY * (flow / kv) ** 2


def loss_coefficient_of_kv(kv: Values, bore: Values) -> Values:
    """Loss coefficient [1] of a valve with flow coefficient kv [m3/s], referred to a bore [m].

    Source: IEC 60534-2-1; the same as K = 1.6e9 D4/Kv2 with Kv in m3/h.
    """
    return 2.0 * KV_PRESSURE / KV_DENSITY * (math.pi / 4.0 * bore**2 / kv) ** 2


def kv_of_loss_coefficient(loss_coefficient: Values, bore: Values) -> Values:
    """Flow coefficient [m3/s] of a fitting with a loss coefficient [1] referred to a bore [m]."""
    area = math.pi / 4.0 * bore**2
    kv: Values = area * np.sqrt(2.0 * KV_PRESSURE / (KV_DENSITY * loss_coefficient))
    return kv


def kv_of_cv(cv: Values) -> Values:
    """Flow coefficient [m3/s] from a vendor's Cv [US gallon/min at 1 psi].

    Source: IEC 60534-1, Kv = 0.865 Cv in m3/h.
    """
    return KV_PER_CV * cv / 3600.0


def small_valve_pressure(
    flow: Values,
    kv: Values,
    bore: Values,
    density: Values,
    viscosity: Values,
    laminar_loss: Values = LAMINAR_LOSS,
) -> Values:
    """Pressure lost in a small valve in which the flow may be laminar.

    Args:
        flow: [m3/s]
        kv: Flow of water at one bar with turbulent flow [m3/s].
        bore: Of the connection [m].
        density: [kg/m3]
        viscosity: Dynamic [Pa s].
        laminar_loss: Loss coefficient times Reynolds number in slow flow [1].

    Returns:
        [Pa], proportional to flow when slow and to its square when fast.

    Source: two-K method, Hooper 1981, Chemical Engineering 88(17):96 (from memory), its large-flow
        term taken from kv.
    """
    re = np.maximum(reynolds(flow, bore, density, viscosity), 1e-9)
    loss = laminar_loss / re + loss_coefficient_of_kv(kv, bore)
    return minor_loss(flow, bore, density, loss)


def kink_loss(area_ratio: Values) -> Band:
    """Loss coefficient of a kink that leaves a part of the bore open, referred to the full bore.

    Args:
        area_ratio: Open area over full area [1], above 0 to 1.

    Returns:
        Band [1]. Low: gradual shape, contraction then Borda expansion. High: sharp orifice.
        Likely: their geometric mean (above 0.8 the two
            forms change places). All are 0 for a full bore.

    Raises:
        ValueError: Ratio outside 0 to 1.

    Source: low, sharp contraction 0.5 (1-s)^0.75 (Idelchik) and Borda-Carnot (1-s)2; high,
        contraction coefficient 0.63 + 0.37 s3 (Weisbach 1855) and Borda-Carnot; from memory. A
        real kink is no machined orifice: hence the band.
    """
    require_within("open area of a kink", area_ratio, 0.0, 1.0, "of the full area")
    s = np.maximum(area_ratio, 1e-9)
    gradual = (0.5 * (1.0 - s) ** 0.75 + (1.0 - s) ** 2) / s**2
    orifice = (1.0 / ((0.63 + 0.37 * s**3) * s) - 1.0) ** 2
    ends = np.minimum(gradual, orifice), np.maximum(gradual, orifice)
    return Band(plain(np.sqrt(gradual * orifice)), *(plain(end) for end in ends))


def valve_kv(
    opening: Values,
    full_kv: Values,
    law: ValveLaw = "equal_percentage",
    rangeability: Values = 40.0,
) -> Values:
    """Flow coefficient of a partly open valve.

    Args:
        opening: Travel [1], 0 shut to 1 open.
        full_kv: Flow coefficient when open [m3/s].
        law: How the coefficient follows the travel.
        rangeability: Largest over smallest controlled coefficient [1], equal percentage only.

    Returns:
        [m3/s], 0 when shut.

    Raises:
        ValueError: Opening outside 0 to 1, or an unknown law.

    Source: IEC 60534-2-4, inherent characteristics. The formula of the equal-percentage law never
        closes; below 5 % opening we let it close in proportion (assumed).
    """
    require_within("valve opening", opening, 0.0, 1.0, "of full travel")
    if law == "linear":
        return full_kv * opening
    if law != "equal_percentage":
        raise ValueError(f"valve law is {law!r}; accepted: 'linear', 'equal_percentage'")
    shut = np.minimum(np.divide(opening, SEAT_OPENING), 1.0)
    kv: Values = full_kv * shut * rangeability ** (np.maximum(opening, SEAT_OPENING) - 1.0)
    return kv
