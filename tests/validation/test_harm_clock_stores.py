"""The harm clock of cold and charge in harder cases, and what the map's long steps cost it.

The plain closed forms are in `test_harm_clock.py`; these, too, are written out here.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad

sys.path.insert(0, str(Path(__file__).parent))

from one_balance import (
    NO_RESERVES,
    Bound,
    clocks,
    nearly_none,
    scenario_of,
    sheet,
    to_limits,
    written,
)

from neckring.outing.batch import fill, row
from neckring.outing.branch_rows import RowBook
from neckring.outing.branches import Pace, branch
from neckring.outing.ensemble import MAP_PACE
from neckring.outing.failures import Failure, in_the_suit
from neckring.outing.scenario import Scenario
from neckring.outing.spells import STEP
from neckring.outing.trunk import Trunk, run_trunk
from neckring.station.run import Spell
from neckring.suit.battery import cell_voltage

FloatArray = NDArray[np.float64]
Rows = dict[str, FloatArray]
Compare = Callable[..., None]

WATER_HEAT = 4186.0  # J/(kg K), from memory; 0.1 % about the value at 15 degC
JOB = {"metabolic_rate": "150 W", "for": "2 min", "helmet": "on", "air": "pack"}
PUMPED = {**JOB, "cooling": "pack", "valve": "100 %"}


# A pack that a wearer warms

FLOW = 0.03  # kg/s
KILOGRAMS = 2.5
FINE = Pace(near=2.0, walking=2.0, waiting=2.0, to_the_end=True)
NO_ICE = {
    ("reservoir", "ice"): nearly_none("mass"),
    ("reservoir", "water"): written(f"{KILOGRAMS} kg", "mass"),
    ("reservoir", "wall_conductance"): written("3 W/K", "conductance"),
    ("water_loop", "ambient_conductance"): written("2 W/K", "conductance"),
    ("garment", "condensing_area"): nearly_none("area"),
    ("garment", "water"): nearly_none("mass"),
}


def steady_flow(_scenario: Scenario, _spell: Spell, rows: Rows) -> Rows:
    """The water runs at one rate, however warm it is."""
    none = 0.0 * rows["FLOW_0"]
    return {"FLOW_0": none + FLOW, "FLOW_1": none, "FLOW_2": none, "FLOW_3": none}


STEADY = Failure("steady", "the water runs steadily", in_the_suit, steady_flow)


def garment_of(trunk: Trunk) -> tuple[float, float]:
    """Heat taken up per kelvin [W/K] and from 0 degC [W]: e m c against each skin."""
    contact = row(trunk.batch.body, "GARMENT_CONDUCTANCE", 1)[:, 0]
    carried = WATER_HEAT * FLOW * row(trunk.batch.body, "GARMENT_FLOW_SHARE", 1)[:, 0]
    covered = contact > 0.0
    exchange = carried[covered] * (1.0 - np.exp(-contact[covered] / carried[covered]))
    skin = row(trunk.kept[60.0].state[:, :17], "SKIN", 1)[covered, 0]
    return float(exchange.sum()), float(exchange @ skin)


@pytest.mark.parametrize(("words", "pace"), [("2 s", FINE), ("the map's", MAP_PACE)])
def test_wearer_warms_a_pack_without_ice(outside_check: Compare, words: str, pace: Pace) -> None:
    # Given skins that keep the temperature they have, and water that runs steadily,
    scenario = scenario_of([PUMPED], NO_ICE, bay={"air_temperature": "30 degC"})
    limits = sheet([Bound("water_inlet_temperature", "above", "20 degC")])
    trunk = run_trunk(scenario, limits, frozenset({60.0}), STEP, only_kept=True)
    fill(trunk.batch.body, {"SKIN_CAPACITY": np.full((17, 1), 1e15)}, 1)
    asked = {"steady": frozenset({60.0})}
    found = branch(RowBook(trunk), [STEADY], asked, NO_RESERVES, pace)["steady"]
    # then the whole is one heat capacity against skin, air and the pump's 9 W.
    exchange, from_skin = garment_of(trunk)
    conductance = exchange + 5.0
    end = (from_skin + 5.0 * 30.0 + 9.0) / conductance
    start = float(row(trunk.kept[60.0].whole, "RESERVOIR", 1)[0])
    outside_check(
        area="harm clock",
        name=f"no ice, skin held: time until the water enters at 20 degC, steps of {words}",
        source="energy balance, t = C/G ln((T_end - T0)/(T_end - T_limit)); one stream against a "
        "steady surface, Kays and London 1984, chapter 2",
        kind="identity",
        unit="s",
        expected=KILOGRAMS * WATER_HEAT / conductance * np.log((end - start) / (end - 20.0)),
        tolerance=0.01,
        relative=True,
        obtained=to_limits(found)[0],
    )


# A battery that the cold halves


def charge_time(start: float, stop: float, ohms: float) -> float:
    """From one charge to another under 19 W [s]: 2 Ah of which age has left 95 %, 25 degC."""

    def slowness(charge: float) -> float:
        rested = 4.0 * float(np.asarray(cell_voltage("lithium_ion", charge)))
        return 2.0 * ohms / float(rested - np.sqrt(rested**2 - 4.0 * ohms * 19.0))

    return float(2.0 * 3600.0 * 0.95 * quad(slowness, stop, start, limit=200)[0])


@pytest.mark.parametrize(
    ("failure", "start", "ohms"), [("helmet", 1.0, 0.12), ("cold-battery", 0.5, 0.24)]
)
def test_battery_in_the_cold(
    outside_check: Compare, failure: str, start: float, ohms: float
) -> None:
    # Given a pump of 9 W and two fans of 5 W on a pack of 2 Ah, whose charge the cold halves as it
    # doubles the resistance (a helmet that jams changes nothing),
    suit = {("battery", "capacity"): written("2 Ah", "charge")}
    scenario = scenario_of([PUMPED], suit, bay={"air_temperature": "25 degC"})
    found = clocks(failure, scenario, [Bound("battery_charge", "below", "10 %")])
    outside_check(
        area="harm clock",
        name=f"battery at 19 W, {failure}: time from {start:g} of its charge to a tenth",
        source="P = V I, V = E - R I, over the rest voltage of Chen et al. 2020, J Electrochem Soc "
        "167:080534",
        kind="identity",
        unit="min",
        expected=charge_time(start, 0.1, ohms) / 60.0,
        tolerance=0.01,
        relative=True,
        obtained=to_limits(found)[0] / 60.0,
    )
