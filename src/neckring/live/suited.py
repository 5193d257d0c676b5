"""Bodies and suits as members' scores say, with what each carries beside, as kernel rows."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from neckring.live.doing import Ahead, Doing, ahead
from neckring.live.fault_modes import SOUND, LoopTable, loop_table, rows_under
from neckring.live.hidden_values import Doubts
from neckring.outing.plan import coldest, station_pressure
from neckring.outing.scenario import Scenario
from neckring.outing.spells import (
    Leg,
    air_rows,
    legs,
    power_rows,
    water_rows,
    work_rows,
)
from neckring.outing.wearing import (
    suit_traits,
)
from neckring.station.run import Spell
from neckring.units import Quantity

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Rows = dict[str, FloatArray]


class Loop:
    """The suit's water loop as written, solved once for each valve setting."""

    def __init__(self, scenario: Scenario) -> None:
        self._scenario = scenario
        self._tables: dict[str, LoopTable] = {}
        self._rows: dict[str, Rows] = {}
        parts = (scenario.suit.water_loop, scenario.suit.garment.tubes)
        self.exact = not any(_is_uncertain(part) for part in parts)

    def table(self, valve: Quantity | None) -> LoopTable:
        """Flow and pressures under every fault of the water."""
        key = valve.text if valve else ""
        if key not in self._tables:
            self._tables[key] = loop_table(self._scenario, valve)
        return self._tables[key]

    def rows(self, scenario: Scenario, spell: Spell) -> Rows:
        """Rows of the cooling water; where the loop is exactly known they are the same for all."""
        if spell.cooling != "pack" or not self.exact:
            return water_rows(scenario, spell)
        key = spell.valve.text if spell.valve else ""
        if key not in self._rows:
            self._rows[key] = water_rows(self._scenario, spell)
        return {n: np.repeat(v, scenario.members) for n, v in self._rows[key].items()}


def _is_uncertain(part: object) -> bool:
    if isinstance(part, Quantity):
        return part.spread != "exact"
    fields = getattr(type(part), "model_fields", {})
    return any(_is_uncertain(getattr(part, name)) for name in fields)


@dataclass
class Carried:
    """What each member carries; arrays have members first.

    Attributes:
        scores: Of all doubts, shape (members, columns).
        work: Logarithm of the work factor.
        mode: Which fault (`fault_modes.MODES`).
        severity: Of that fault, 0, slight, to 1.
    """

    scores: FloatArray
    work: FloatArray
    mode: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    severity: FloatArray = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        """Nobody has a fault unless something else is said."""
        if not len(self.mode):
            self.mode = np.full(len(self.work), SOUND, dtype=np.int64)
            self.severity = np.zeros(len(self.work))

    def some(self, chosen: IntArray) -> Carried:
        """What chosen members carry."""
        return Carried(
            self.scores[chosen], self.work[chosen], self.mode[chosen], self.severity[chosen]
        )


class Suited:
    """Members in their suits as their scores say: spells and rows.

    Attributes:
        doubts: What differs between members.
        loop: The suit's water loop.
        scenario: Of these members.
        ready: All spells of the run.
        pressure: Of the air [Pa], shape (members,).
    """

    def __init__(self, doubts: Doubts, loop: Loop, scores: FloatArray) -> None:
        self.doubts, self.loop = doubts, loop
        self.scenario = doubts.drawn(scores)
        self.ready = legs(self.scenario)
        self.pressure = station_pressure(self.scenario)
        self.own = doubts.own(scores)

    def rows(self, leg: Leg) -> Rows:
        """Spell rows of a leg, shape (members,) each."""
        return {
            **work_rows(self.scenario, leg, self.pressure),
            **self.loop.rows(self.scenario, leg.spell),
            **air_rows(self.scenario, leg.spell, leg.around, self.pressure),
            **power_rows(self.scenario, leg.spell, leg.around),
        }

    def ahead(self, doing: Doing, now: float) -> Ahead:
        """The present spell and those to come."""
        return ahead(self.scenario, self.ready, doing, now)

    def under(self, leg: Leg, rows: Rows, carried: Carried, water: FloatArray) -> Rows:
        """Rows with the work, the kit's own factors and the faults of the members.

        Args:
            leg: Its valve counts.
            rows: shape (members,) each.
            carried: By the members.
            water: Temperature of the reservoir's water [degC].
        """
        table = self.loop.table(leg.spell.valve)
        share = table.at(table.flow, carried.mode, carried.severity, water)
        return rows_under(rows, self.own, carried.work, carried.mode, carried.severity, share)


def suit_capacity(suited: Suited) -> FloatArray:
    """Capacity of each member's battery as the files give it [C], shape (members,)."""
    traits = suit_traits(suited.scenario, suited.pressure, coldest(suited.ready))
    return traits["BATTERY_CAPACITY"] * np.ones(suited.scenario.members)
