"""What the wearer goes through after a failure: phases with their rows and how long each lasts."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from neckring.outing.batch import Schedule, new_schedule
from neckring.outing.draws import Draws
from neckring.outing.failures import Failure
from neckring.outing.help_clock import noticing, speed_home
from neckring.outing.scenario import Scenario
from neckring.outing.spells import Leg, spell_rows, stacked, surrounding_rows
from neckring.outing.trunk import Instant, Trunk
from neckring.outing.way_home import (
    Route,
    Stretch,
    home_of,
    route_from,
    staying,
    stretch_lengths,
    walking_home,
)
from neckring.units import Quantity

FloatArray = NDArray[np.float64]
Rows = dict[str, FloatArray]

# Until this long after a failure the steps are short [s].
FIRST = 90.0
# The shortest a phase may be [s]; a step of nothing would divide by it.
INSTANT = 1e-3


@dataclass(frozen=True)
class Phase:
    """One part of what follows a failure.

    Attributes:
        name: What the wearer does.
        spell: Number of the spell in which it began.
        stretch: The path walked; None when the wearer stays.
        duration: [s], shape (instants, members).
        ends: The same of the quickest and the slowest, shape (instants, 2 or members): steps are
            counted by them, so that they do not depend on who is computed beside whom.
        soon: Whether it lies in the first minutes after the failure.
    """

    name: Literal["goes on", "walks", "waits", "lies"]
    spell: int
    stretch: Stretch | None
    duration: FloatArray
    ends: FloatArray
    soon: bool = False


def _with_first_minutes(phases: list[Phase]) -> list[Phase]:
    """The phases cut where the first minutes after the failure end.

    Which parts there are does not depend on who is there: a part that somebody does not spend
    lasts no more than an instant.
    """
    cut = []
    spent = np.zeros_like(phases[0].duration)
    quick = slow = np.zeros(len(spent))
    for phase in phases:
        soon = np.clip(FIRST - spent, INSTANT, phase.duration)
        later = np.maximum(phase.duration - soon, INSTANT)
        least, most = phase.ends.min(axis=1), phase.ends.max(axis=1)
        soon_ends = np.clip(FIRST - quick, INSTANT, most)
        later_ends = np.clip(slow + most - FIRST, INSTANT, most)
        # With room for those who are quicker or slower than the ends.
        if quick.min() < 2.0 * FIRST:
            cut.append(replace(phase, duration=soon, ends=soon_ends[:, None], soon=True))
        spent, quick, slow = spent + phase.duration, quick + least, slow + most
        if slow.max() > 0.5 * FIRST:
            cut.append(replace(phase, duration=later, ends=later_ends[:, None]))
    return cut


def quickest_and_slowest(scenario: Scenario) -> Scenario:
    """Two members at the ends of what drawn members need for a way and for every act.

    A scenario whose members are not drawn is its own.
    """
    if not isinstance(scenario.draw, Draws):
        return scenario

    def at_the_ends(quantity: Quantity) -> FloatArray:
        # Ends of a normal spread may lie beyond what is accepted: a speed stays above nought.
        low = max(quantity.low, 0.25 * quantity.nominal)
        ends = [quantity.high, low] if quantity.kind == "speed" else [low, quantity.high]
        return np.array(ends)

    return replace(scenario, members=2, draw=at_the_ends)


@dataclass
class RowBook:
    """Rows of every phase, made once for a trunk and kept.

    Attributes:
        trunk: The run.
        ends: The quickest and the slowest who may be drawn.
    """

    trunk: Trunk
    ends: Scenario = field(init=False)
    _sound: dict[tuple[object, ...], tuple[Leg, Rows, Rows]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Find the ends once."""
        self.ends = quickest_and_slowest(self.trunk.scenario)

    def route(self, instant: Instant) -> Route | None:
        """The way home from an instant."""
        scenario = self.trunk.scenario
        spell = self.trunk.ready[instant.spell].spell
        return route_from(scenario.station, spell, instant.share, home_of(scenario))

    def phases(
        self,
        failure: Failure,
        route: Route | None,
        instants: list[Instant],
        total: FloatArray,
        total_ends: FloatArray,
    ) -> list[Phase]:
        """What follows a failure at instants of one spell that share a way home.

        Args:
            failure: What fails.
            route: The way home.
            instants: Of one spell.
            total: How long to go on after the failure [s], shape (instants, members).
            total_ends: The same for the members of `ends`.
        """
        spell, stretches = instants[0].spell, route.stretches if route is not None else ()
        lasting = _lasting(self.trunk.scenario, failure, route, instants, total)
        ends = _lasting(self.ends, failure, route, instants, total_ends)
        if failure.conduct == "lies down":
            return _with_first_minutes([Phase("lies", spell, None, lasting[-1], ends[-1])])
        first = Phase("goes on", spell, None, lasting[0], ends[0])
        walks = [
            Phase("walks", spell, stretch, duration, end)
            for stretch, duration, end in zip(stretches, lasting[1:-1], ends[1:-1], strict=True)
        ]
        last = Phase("waits", spell, None, lasting[-1], ends[-1])
        return _with_first_minutes([first, *walks, last])

    def schedule(self, failure: Failure, phases: list[Phase]) -> Schedule:
        """The kernel's schedule of the phases for the trunk's members, without steps."""
        scenario = self.trunk.scenario
        spells, around = [], []
        for phase in phases:
            leg, rows, surroundings = self._rows(failure, phase)
            spells.append(rows | failure.change(scenario, leg.spell, rows))
            around.append(surroundings)
        none = np.zeros(len(phases), dtype=np.int64)
        return new_schedule(scenario.members, stacked(spells), stacked(around), none)

    def _rows(self, failure: Failure, phase: Phase) -> tuple[Leg, Rows, Rows]:
        before = self.trunk.ready[phase.spell].spell
        supplied = (before.cooling, before.valve, before.air, before.helmet)
        slow = failure.conduct == "walks slowly"
        key: tuple[object, ...] = (phase.name, phase.spell)
        if phase.name in ("walks", "waits"):
            key = (phase.name, supplied, phase.stretch, slow and phase.name == "walks")
        if key not in self._sound:
            leg = self._leg(failure, phase)
            scenario, pressure = self.trunk.scenario, self.trunk.pressure
            rows = spell_rows(scenario, leg, pressure)
            self._sound[key] = (leg, rows, surrounding_rows(scenario, leg, pressure))
        return self._sound[key]

    def _leg(self, failure: Failure, phase: Phase) -> Leg:
        scenario, leg = self.trunk.scenario, self.trunk.ready[phase.spell]
        if phase.stretch is not None:
            speed = speed_home(scenario, failure)
            return walking_home(scenario, leg.spell, phase.stretch, speed)
        if phase.name == "waits":
            home = home_of(scenario)
            route = route_from(scenario.station, leg.spell, 0.0, home)
            return staying(scenario, leg.spell, "stand", home if route is not None else None)
        return leg if phase.name == "goes on" else staying(scenario, leg.spell, "rest")


def _lasting(
    scenario: Scenario,
    failure: Failure,
    route: Route | None,
    instants: list[Instant],
    total: FloatArray,
) -> list[FloatArray]:
    """How long each phase lasts [s], shape (instants, members) each; the last fills `total` up."""
    if failure.conduct == "lies down":
        return [total]
    lasting = [np.broadcast_to(noticing(scenario, failure), total.shape)]
    if route is not None:
        speed = speed_home(scenario, failure)
        parts = np.array([stretch_lengths(scenario, route, i.share) / speed for i in instants])
        lasting += list(np.maximum(np.moveaxis(parts, 1, 0), INSTANT))
    return [*lasting, np.maximum(total - np.sum(lasting, axis=0), INSTANT)]
