"""What explains what: the written tree by which one cause raises one alarm.

A condition that is present and explained by another present condition of the same wearer raises no
alarm of its own; it is named in the other's `also`. Nothing here judges whether it is truly so:
an alarm names all that is present, the likely cause first.
"""

from __future__ import annotations

from collections.abc import Mapping

from neckring.live.alarm_list_instruments import FLAW_CODES
from neckring.live.alarm_list_limits import limit_code

_SENSORS = tuple(FLAW_CODES.values())
_GAS = tuple(limit_code(quantity) for quantity in ("inspired_co2", "inspired_o2", "fog_margin"))
_HEAT = tuple(
    limit_code(quantity)
    for quantity in (
        "core_temperature",
        "core_rise",
        "mean_skin_temperature",
        "skin_core_gap",
        "heat_storage",
        "water_inlet_temperature",
    )
)
_OUTLOOK = (
    "slack-below-reserve",
    "slack-in-doubt",
    "turn-back-passed",
    "turn-back-soon",
    "turn-back-near",
)
# Flaws that a real value beyond all that is plausible shows.
_STRANGE = ("sensor-impossible", "sensor-jumped", "sensor-unit")
_SUSPICIONS = ("suspicion-strong", "suspicion")
# Flaws of a sensor that is beyond its range; what is limited and read has an alarm for that.
_OUT_OF_RANGE = ("sensor-impossible", "sensor-unit")
_READ_AND_LIMITED: dict[str, tuple[str, ...]] = {
    limit_code("inspired_co2"): ("inspired_co2", "helmet_co2"),
    limit_code("inspired_o2"): ("inspired_o2", "helmet_o2"),
    limit_code("core_temperature"): ("core_temperature",),
    limit_code("mean_skin_temperature"): ("mean_skin_temperature",),
    limit_code("heart_rate"): ("heart_rate",),
    limit_code("water_inlet_temperature"): ("water_inlet_temperature",),
}

EXPLAINS: dict[str, tuple[str, ...]] = {
    "battery-empty": (
        "air-lost",
        "water-lost",
        "battery-low",
        limit_code("battery_charge"),
        *_OUTLOOK,
        *_SUSPICIONS,
    ),
    "air-lost": (*_GAS, "co2-trend", *_STRANGE, *_OUTLOOK, *_SUSPICIONS),
    **dict.fromkeys(_READ_AND_LIMITED, _OUT_OF_RANGE),
    limit_code("inspired_co2"): ("co2-trend", *_OUT_OF_RANGE),
    "water-lost": (*_HEAT, *_STRANGE, *_OUTLOOK, *_SUSPICIONS),
    "turn-back-passed": (
        "slack-below-reserve",
        "slack-in-doubt",
        "turn-back-soon",
        "turn-back-near",
    ),
    "turn-back-soon": ("turn-back-near",),
    "slack-below-reserve": ("slack-in-doubt",),
    "battery-low": (limit_code("battery_charge"),),
    "suspicion-strong": ("suspicion",),
    "clock-over": ("clock-near",),
    "source-gone": _SENSORS,
    "sensors-many": ("source-gone", *_SENSORS),
    "network-lost": ("tablet-silent",),
    "book-unwritable": ("disk-nearly-full",),
    "clock-set": ("sensor-clock",),
}
"""Code of a cause to what it shows besides; the cause that stands first here explains."""

SAME_SUBJECT = frozenset({"clock-over"})
"""Causes that explain only what concerns the same subject: one clock does not explain another."""

EXPLAINED_BY: dict[str, tuple[str, ...]] = {
    code: tuple(cause for cause, shown in EXPLAINS.items() if code in shown)
    for code in dict.fromkeys(code for shown in EXPLAINS.values() for code in shown)
}
"""The same the other way round."""

MOVES: dict[str, frozenset[str]] = {
    "air-lost": frozenset(
        {"inspired_co2", "helmet_co2", "inspired_o2", "helmet_o2", "helmet_humidity"}
    ),
    **{code: frozenset(quantities) for code, quantities in _READ_AND_LIMITED.items()},
    "water-lost": frozenset({"water_outlet_temperature", "pump_pressure", "garment_pressure"}),
}
"""Cause to the quantities that it moves: only their sensors' strange readings does it explain."""

Key = tuple[str, str, str]
"""Code, wearer (or empty) and subject of a condition."""


class Explained:
    """Which present conditions explain which others."""

    def __init__(self, present: Mapping[Key, tuple[str, str]]) -> None:
        """Sort what is present by its cause.

        Args:
            present: Key of each condition to the source of its channel and what that measures;
                both empty where it is none of a sensor's.
        """
        self._sensed = present
        self._by_code: dict[str, list[Key]] = {}
        for key in sorted(present):
            self._by_code.setdefault(key[0], []).append(key)

    def parent(self, key: Key) -> Key | None:
        """The present condition that explains another; None when nothing does."""
        for cause in EXPLAINED_BY.get(key[0], ()):
            for other in self._by_code.get(cause, ()):
                if other[1] in (key[1], "") and self._concerns(other, key):
                    return other
        return None

    def _concerns(self, cause: Key, key: Key) -> bool:
        if cause[0] in SAME_SUBJECT:
            return cause[2] == key[2]
        source, quantity = self._sensed.get(key, ("", ""))
        if cause[0] in MOVES and quantity:
            return quantity in MOVES[cause[0]]
        return cause[0] != "source-gone" or source == cause[2]

    def root(self, key: Key) -> Key:
        """The cause at the top of all that explains a condition."""
        parent = self.parent(key)
        while parent is not None:
            key, parent = parent, self.parent(parent)
        return key
