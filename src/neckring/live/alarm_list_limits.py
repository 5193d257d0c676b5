"""The closed list of alarms: one for each limited quantity of the signed sheet."""

from __future__ import annotations

from neckring.live.listed_alarm import AT_ONCE, KNOW, SHEET, SOON, Listed
from neckring.station.limits import LIMITED

RANK_OF_ACTION = {"caution": KNOW, "turn back": SOON, "stop now": AT_ONCE}
"""Rank of a crossed limit, by the action that the sheet asks for."""

QUANTITY_WORDS = {
    "core_temperature": "core temperature",
    "core_rise": "core rise",
    "mean_skin_temperature": "mean skin temperature",
    "lowest_skin_temperature": "coldest skin",
    "skin_core_gap": "core over mean skin",
    "heart_rate": "heart rate",
    "body_water_loss": "body water loss",
    "heat_storage": "heat storage",
    "inspired_co2": "inspired CO2",
    "inspired_o2": "inspired O2",
    "fog_margin": "visor fog margin",
    "water_inlet_temperature": "water into the garment",
    "battery_charge": "battery charge",
    "load_fraction": "carried load",
}
"""What a limited quantity is called in an alarm."""

_COOL = "Rest in the shade, cooling full on; then home, or out of the suit."
FIRST_ACTIONS = {
    "core_temperature": _COOL,
    "core_rise": _COOL,
    "mean_skin_temperature": _COOL,
    "lowest_skin_temperature": "Ask whether hands or feet hurt; close the water valve further.",
    "skin_core_gap": _COOL,
    "heart_rate": "Stand still and rest; ask how the wearer feels; watch the rate fall.",
    "body_water_loss": "Drink, if the suit allows it; shorten the outing.",
    "heat_storage": _COOL,
    "inspired_co2": "Stop work, breathe calmly; fresh air at the face: visor or helmet open.",
    "inspired_o2": "Fresh air at the face at once: visor or helmet open.",
    "fog_margin": "Stand still where the footing is sure until the visor is clear.",
    "water_inlet_temperature": "Less work; change or chill the reservoir, or turn for home.",
    "battery_charge": "Turn for home, or change the battery.",
    "load_fraction": "Take load off before going on.",
}
"""What to do first about each limited quantity; practice, where the sheet says only how far."""


def limit_code(quantity: str) -> str:
    """The code of a limited quantity's alarm."""
    return f"limit-{quantity.replace('_', '-')}"


def limit_alarms() -> tuple[Listed, ...]:
    """One alarm for each limited quantity."""
    return tuple(
        Listed(
            limit_code(quantity),
            limit_code(quantity),
            None,
            f"{QUANTITY_WORDS[quantity]} beyond a limit of the signed sheet, read or estimated",
            FIRST_ACTIONS[quantity],
            "back within the limit by more than its dead band",
            SHEET,
        )
        for quantity in LIMITED
    )
