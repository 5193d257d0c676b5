"""Stations in which only one thing can happen: the demo's with values changed until one is left.

Their clocks come through the same trunk and branches, in the same steps, as a plan's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import neckring.station
from neckring.outing.branches import Clocks
from neckring.outing.ensemble import MAP_PACE, map_of
from neckring.outing.scenario import Scenario
from neckring.outing.spells import STEP
from neckring.outing.trunk import run_trunk
from neckring.station.limits import LIMITED, LimitSheet
from neckring.station.loading import load_station
from neckring.station.run import Spell
from neckring.station.variation import with_value
from neckring.units import Quantity, parse_quantity

DEMO = load_station(Path(neckring.station.__file__).parent / "demo")
LIMIT = DEMO.limits.limits[0]
NO_RESERVES = np.zeros(2)
NEVER_HELPED = "8 h"
"""Nobody notices for so long: the clock must run to the limit with the fault and nothing else."""


def written(text: str, dimension: str) -> Quantity:
    return parse_quantity(text, dimension)


def nearly_none(dimension: str) -> Quantity:
    """Less than any file could say: what is not to happen."""
    return Quantity(1e-9, 1e-9, 1e-9, "exact", "none", dimension)


@dataclass(frozen=True)
class Bound:
    """A 'stop now' limit of a sheet made for one test."""

    quantity: str
    stop_if: str
    value: str


def sheet(bounds: Sequence[Bound]) -> LimitSheet:
    limits = tuple(
        LIMIT.model_copy(
            update={
                "quantity": bound.quantity,
                "stop_if": bound.stop_if,
                "value": written(bound.value, LIMITED[bound.quantity].dimension),
                "per_year_of_age": None,
                "sustained": None,
                "action": "stop now",
            }
        )
        for bound in bounds
    )
    return DEMO.limits.model_copy(update={"limits": limits})


def clocks(failure: str, scenario: Scenario, bounds: Sequence[Bound], at: float = 0.0) -> Clocks:
    """What the map of failures says of one failure at one instant [s]."""
    times = frozenset({at})
    trunk = run_trunk(scenario, sheet(bounds), times, STEP)
    return map_of(trunk, {failure: times}, NO_RESERVES, MAP_PACE)[failure]


def to_limits(found: Clocks) -> list[float]:
    """Time to each limit [s]; their first must be the harm clock itself."""
    assert found.each is not None
    times = [float(time) for time in found.each[:, 0, 0]]
    assert found.harm.min() == min(times)
    return times


def scenario_of(
    spells: Sequence[dict[str, str]],
    suit: dict[tuple[str, ...], Quantity],
    wearer: dict[tuple[str, ...], Quantity] | None = None,
    bay: dict[str, str] | None = None,
) -> Scenario:
    """The demo's floor survey in the bay alone, with values replaced."""
    changed = DEMO.suits["dipper"]
    late = written(NEVER_HELPED, "time")
    for path, value in {("help", "notice"): late, ("help", "notice_air"): late, **suit}.items():
        changed = with_value(changed, path, value)
    person = DEMO.wearers["W2"]
    for path, value in (wearer or {}).items():
        person = with_value(person, path, value)
    station = DEMO.station
    kinds = {"relative_humidity": "fraction", "wind": "speed"}
    for name, text in (bay or {}).items():
        value = written(text, kinds.get(name, "temperature"))
        station = with_value(station, ("places", "bay", name), value)
    outing = tuple(Spell.model_validate({"spell": "work", "place": "bay", **s}) for s in spells)
    run = DEMO.runs["floor-survey"].model_copy(update={"outing": outing})
    return Scenario(station, changed, person, run)
