"""What a failure does: small changes of a spell's rows, or of what the pack and suit hold.

A change takes the rows of a sound spell, as `spells.spell_rows` makes them, and returns what
differs from then on. A strike changes the state at the instant of the failure.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from neckring.outing.loop_flow import flow_rows
from neckring.outing.scenario import Scenario
from neckring.outing.spells import air_path
from neckring.station.run import Spell
from neckring.suit.ventilation import fan_flow

FloatArray = NDArray[np.float64]
Rows = dict[str, FloatArray]
Change = Callable[[Scenario, Spell, Rows], Rows]
# Takes the rows of `whole` and `state` by name, returns those that jump.
Strike = Callable[[Scenario, Rows], Rows]

# Fractions that a partial failure leaves; assumed, each where gauges show it clearly.
WEAK_FAN_SPEED = 0.6
WEAK_PUMP_SPEED = 0.6
KINKED_MAIN_AREA = 0.1
TUBES_LEFT_BY_A_KINK = 0.5
TUBES_LEFT_WHEN_FLATTENED = 0.15
WATER_LEFT_BY_A_LEAK = 0.3
PUMP_SPEED_DRAWING_AIR = 0.6
CHARGE_LEFT_BY_COLD = 0.5
RESISTANCE_BY_COLD = 2.0
# Water that a leak leaves in the underwear [kg]; assumed.
WATER_INTO_THE_SUIT = 0.4


def nothing(_scenario: Scenario, _spell: Spell, _rows: Rows) -> Rows:
    """All goes on as it was."""
    return {}


def no_air(_scenario: Scenario, _spell: Spell, rows: Rows) -> Rows:
    """No air but what leaks."""
    return {
        "AIR_HELMET": rows["LEAK_HELMET"],
        "AIR_SUIT": rows["LEAK_SUIT"],
        "AIR_NEEDS_BATTERY": 0.0 * rows["LEAK_SUIT"],
        "AIR_IN_TEMPERATURE": rows["OUTSIDE_TEMPERATURE"],
        "AIR_IN_WATER": rows["OUTSIDE_WATER"],
    }


def one_fan_less(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """One of the fans stops; the others carry on against the same duct."""
    return _less_air(scenario, rows, running_fans=scenario.suit.air.fans - 1.0)


def weak_fans(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """All fans turn slower."""
    return _less_air(scenario, rows, speed=WEAK_FAN_SPEED)


def _less_air(scenario: Scenario, rows: Rows, **fault: float) -> Rows:
    path = air_path(scenario)
    share = np.asarray(fan_flow(path, **fault).flow) / np.asarray(fan_flow(path).flow)
    return {name: rows[name] * share for name in ("AIR_HELMET", "AIR_SUIT")}


def no_water(_scenario: Scenario, _spell: Spell, rows: Rows) -> Rows:
    """The cooling water stands still."""
    still = 0.0 * rows["WATER_ON"]
    return {"WATER_ON": still, "PUMP_HEAT": still}


def weak_pump(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """The pump turns slower."""
    return flow_rows(scenario, spell.valve, pump_speed=WEAK_PUMP_SPEED)


def main_kinked(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """A kink in the hose between pack and garment."""
    return flow_rows(scenario, spell.valve, main_kink=KINKED_MAIN_AREA)


def branch_kinked(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """Half of the garment's tubes pinched shut."""
    return _fewer_tubes(scenario, spell, TUBES_LEFT_BY_A_KINK)


def flattened(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """Most of the garment's tubes pressed flat by the harness."""
    return _fewer_tubes(scenario, spell, TUBES_LEFT_WHEN_FLATTENED)


def leaking(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """The pump draws air as the reservoir empties."""
    return flow_rows(scenario, spell.valve, pump_speed=PUMP_SPEED_DRAWING_AIR)


def _fewer_tubes(scenario: Scenario, spell: Spell, share: float) -> Rows:
    return flow_rows(scenario, spell.valve, open_tubes=share * scenario.suit.garment.tubes.count)


def dead_battery(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """Pump and fans stop together."""
    load = {"ELECTRIC_LOAD": 0.0 * rows["ELECTRIC_LOAD"]}
    return no_air(scenario, spell, rows) | no_water(scenario, spell, rows) | load


def cold_battery(_scenario: Scenario, _spell: Spell, rows: Rows) -> Rows:
    """The battery resists more."""
    return {"BATTERY_RESISTANCE": RESISTANCE_BY_COLD * rows["BATTERY_RESISTANCE"]}


def facility_lost(scenario: Scenario, spell: Spell, rows: Rows) -> Rows:
    """Neither water nor air comes through the umbilical any more."""
    water = no_water(scenario, spell, rows) if spell.cooling == "facility" else {}
    air = no_air(scenario, spell, rows) if spell.air == "facility" else {}
    return water | air


def facility_warm(_scenario: Scenario, _spell: Spell, rows: Rows) -> Rows:
    """The chiller stops: water comes as warm as the room."""
    return {"SUPPLY_WATER": np.maximum(rows["SUPPLY_WATER"], rows["OUTSIDE_TEMPERATURE"])}


def most_water_lost(_scenario: Scenario, held: Rows) -> Rows:
    """Most of the reservoir's water is gone."""
    return {"RESERVOIR_WATER": WATER_LEFT_BY_A_LEAK * held["RESERVOIR_WATER"]}


def water_into_the_suit(scenario: Scenario, held: Rows) -> Rows:
    """Most of the reservoir's water is gone, and part of it soaks the underwear of the trunk."""
    return most_water_lost(scenario, held) | {"LIQUID": np.array(WATER_INTO_THE_SUIT)}


def never_chilled(_scenario: Scenario, held: Rows) -> Rows:
    """The pack was not in the refrigerator: no ice, water as warm as the room."""
    return {"ICE": 0.0 * held["ICE"], "RESERVOIR": held["OUTSIDE_TEMPERATURE"]}


def half_charged(_scenario: Scenario, held: Rows) -> Rows:
    """Cold leaves part of the charge out of reach."""
    return {"CHARGE": CHARGE_LEFT_BY_COLD * held["CHARGE"]}
