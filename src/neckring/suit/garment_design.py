"""Steady heat exchange of a cooling garment, given the skin: for tables and as a check."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from neckring.values import FloatArray, Values


def effectiveness(transfer_units: Values) -> Values:
    """Share of the possible heat exchange that a stream reaches against a uniform skin.

    Args:
        transfer_units: Conductance over flow times specific heat [1], 0 or more.

    Returns:
        [1], 0 to 1.

    Source: effectiveness-NTU with one capacity rate infinite (Kays and London).
    """
    share: Values = -np.expm1(-np.asarray(transfer_units, dtype=np.float64))
    return share


def exchange_conductance(conductance: Values, capacity_rate: Values) -> Values:
    """Heat per difference between skin and inlet water.

    Args:
        conductance: Skin to water [W/K].
        capacity_rate: Mass flow times specific heat [W/K]; 0 gives 0.

    Returns:
        [W/K], never more than either.
    """
    rate = np.asarray(capacity_rate, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        reached = rate * effectiveness(np.asarray(conductance) / rate)
    return np.where(rate > 0.0, reached, 0.0)[()]


def heat_removal(
    conductance: Values, capacity_rate: Values, skin_temperature: Values, inlet: Values
) -> Values:
    """Heat that the water takes from skin of one temperature [W]; temperatures [degC].

    The body may answer by closing its skin vessels; then the skin cools and less is removed.
    """
    return exchange_conductance(conductance, capacity_rate) * (skin_temperature - inlet)


def conductance_from_test(
    heat: Values, capacity_rate: Values, skin_temperature: Values, inlet: Values
) -> Values:
    """Garment conductance from a measured heat removal, for example on a manikin.

    Args:
        heat: Taken up by the water [W].
        capacity_rate: Mass flow times specific heat [W/K].
        skin_temperature: [degC]
        inlet: Of the water [degC].

    Returns:
        [W/K]; not a number when the heat is more than the water could take up.
    """
    share = heat / (capacity_rate * (skin_temperature - inlet))
    with np.errstate(invalid="ignore", divide="ignore"):
        conductance: Values = -capacity_rate * np.log1p(-np.asarray(share))
    return conductance


class GarmentSteady(NamedTuple):
    """Steady state of a garment.

    Attributes:
        heat: Taken up in each zone [W], shape (zones,).
        outlet: Water leaving each zone [degC], shape (zones,).
        return_temperature: Of the mixed return [degC].
    """

    heat: FloatArray
    outlet: FloatArray
    return_temperature: float


def steady_garment(
    skin_temperatures: FloatArray,
    conductances: FloatArray,
    chains: Sequence[Sequence[int]],
    capacity_rates: Sequence[float],
    inlet: float,
) -> GarmentSteady:
    """Follow the water through chains of zones side by side.

    Args:
        skin_temperatures: [degC], shape (zones,).
        conductances: Skin to water of each zone [W/K], shape (zones,).
        chains: Zones in flow order, one chain a circuit; together each zone at most once.
        capacity_rates: Mass flow times specific heat of each chain [W/K], above 0.
        inlet: Water into every chain [degC].

    Returns:
        Heats and temperatures; a zone in no chain has no heat and the inlet's temperature.
    """
    heat, outlet = np.zeros(len(skin_temperatures)), np.full(len(skin_temperatures), inlet)
    for chain, rate in zip(chains, capacity_rates, strict=True):
        arriving = inlet
        for zone in chain:
            heat[zone] = heat_removal(conductances[zone], rate, skin_temperatures[zone], arriving)
            arriving = outlet[zone] = arriving + heat[zone] / rate
    mixed = inlet + float(heat.sum()) / sum(capacity_rates)
    return GarmentSteady(heat, outlet, mixed)


def parallel_rates(conductances: FloatArray, total_rate: float) -> FloatArray:
    """Share a capacity rate [W/K] between zones like their tubes, taken as their conductance."""
    return total_rate * np.asarray(conductances) / np.sum(conductances)
