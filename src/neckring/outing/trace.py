"""From the kernel's records to named columns in SI."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from neckring import lanes
from neckring.constants import CELSIUS_ZERO, GAS_CONSTANT, WATER_DENSITY
from neckring.outing.kernel import RECORDED
from neckring.suit.moist_air import COLDEST, HOTTEST, dew_point, saturation_pressure

FloatArray = NDArray[np.float64]

COLUMNS = {
    "time": "ELAPSED",
    "heart_rate": "HEART_RATE",
    "mean_skin_temperature": "MEAN_SKIN",
    "lowest_skin_temperature": "LOWEST_SKIN",
    "heat_production": "METABOLIC_HEAT",
    "sweat_rate": "SWEAT_TOTAL",
    "body_water_loss": "BODY_WATER_LOSS",
    "skin_wettedness": "WETTEDNESS",
    "reservoir_temperature": "RESERVOIR",
    "water_inlet_temperature": "INLET_WATER",
    "water_outlet_temperature": "RETURN_WATER",
    "garment_heat": "WATER_HEAT",
    "ice_mass": "ICE",
    "inspired_co2": "INSPIRED_CO2",
    "inspired_o2": "INSPIRED_O2",
    "helmet_temperature": "HELMET_TEMPERATURE",
    "battery_charge": "CHARGE",
    "battery_voltage": "VOLTAGE",
    "suit_air_temperature": "SUIT_TEMPERATURE",
    "evaporation": "EVAPORATED",
    "central_blood_temperature": "CENTRAL_BLOOD",
}


def recorded(records: FloatArray, name: str) -> FloatArray:
    """One recorded row by its kernel name, shape (samples, members)."""
    return records[:, RECORDED.index(getattr(lanes, name))]


def columns(
    records: FloatArray,
    mass: FloatArray,
    pressure: FloatArray,
    core_baseline: FloatArray,
    load_fraction: FloatArray,
) -> dict[str, FloatArray]:
    """Columns of the trace, each shape (samples, members).

    Args:
        records: From the kernel, shape (samples, RECORD_ROWS, members).
        mass: Body mass [kg], shape (members,).
        pressure: Air pressure [Pa], shape (members,).
        core_baseline: Core temperature at the start [degC], shape (members,).
        load_fraction: Carried mass over body mass, shape (members,).
    """
    table = {column: recorded(records, name) for column, name in COLUMNS.items()}
    core = records[:, len(RECORDED)]
    vapour = recorded(records, "INSPIRED_WATER_PRESSURE")
    air = recorded(records, "AIR_TO_HELMET") + recorded(records, "AIR_TO_SUIT")
    table["core_temperature"] = core
    table["core_rise"] = core - core_baseline
    table["head_core_temperature"] = records[:, len(RECORDED) + 1]
    table["heat_storage"] = recorded(records, "STORAGE") / mass
    table["water_flow"] = recorded(records, "WATER_FLOW") / WATER_DENSITY
    table["helmet_co2"] = recorded(records, "HELMET_CO2") * (pressure - vapour)
    table["helmet_humidity"] = vapour / saturation_pressure(
        np.clip(table["helmet_temperature"], COLDEST, HOTTEST)
    )
    table["fog_margin"] = recorded(records, "VISOR_TEMPERATURE") - dew_point(
        np.clip(vapour, 1.1, 101_000.0)
    )
    kelvin = table["helmet_temperature"] + CELSIUS_ZERO
    table["air_flow"] = air * GAS_CONSTANT * kelvin / (pressure - vapour)
    table["skin_core_gap"] = core - table["mean_skin_temperature"]
    table["load_fraction"] = np.broadcast_to(load_fraction, core.shape)
    return table
