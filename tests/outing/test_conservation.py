"""Nothing is lost and nothing comes from nowhere, in any scenario a station can describe."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from scenarios import DEMO, FloatArray, made_ready, scenario_of, scenarios

from neckring.constants import WATER_SPECIFIC_HEAT
from neckring.outing.balance import closure, contents
from neckring.outing.batch import advance, fill, row
from neckring.outing.plan import Simulated, simulate
from neckring.outing.scenario import Scenario

CLOSE = 1e-9
# A wet skin may be colder than all around it, a lit or wetted wall warmer; assumed ample.
COLDER, WARMER = 15.0, 30.0
TEMPERATURES = (
    "mean_skin_temperature",
    "lowest_skin_temperature",
    "reservoir_temperature",
    "water_inlet_temperature",
    "helmet_temperature",
    "suit_air_temperature",
    "central_blood_temperature",
    "core_temperature",
    "head_core_temperature",
)
NEVER_NEGATIVE = (
    "ice_mass",
    "battery_charge",
    "battery_voltage",
    "water_flow",
    "air_flow",
    "sweat_rate",
    "heart_rate",
    "inspired_co2",
    "inspired_o2",
    "helmet_co2",
    "helmet_humidity",
    "skin_wettedness",
)


def no_balance_fails(done: Simulated) -> None:
    """Energy, water, carbon dioxide and oxygen add up."""
    assert done.closure.energy < CLOSE
    assert done.closure.water < CLOSE
    assert done.closure.co2 < CLOSE
    assert done.closure.o2 < CLOSE


def sources(scenario: Scenario) -> tuple[float, float]:
    """Coldest and warmest of all that could cool or warm the wearer from outside [degC]."""
    batch, schedule = made_ready(scenario)
    spells, around = schedule.spells, schedule.around
    outside = row(spells, "OUTSIDE_TEMPERATURE", 1)
    warmed = row(around, "WALL_SUN", 1) / np.maximum(row(around, "WALL_OUTSIDE", 1), 1e-9)
    found: list[FloatArray] = [
        outside,
        outside[:, None] + warmed,
        row(spells, "AIR_IN_TEMPERATURE", 1),
        row(spells, "SUPPLY_WATER", 1),
        row(batch.whole, "RESERVOIR", 1),
        row(batch.state[:, :17], "WALL", 1),
        row(batch.state[:, :17], "SKIN", 1),
        np.zeros(1),
    ]
    bare = row(around, "DIRECT_CONDUCTANCE", 1) > 0.0
    found.append(row(around, "DIRECT_TEMPERATURE", 1)[bare])
    ends = [(part.min(), part.max()) for part in found if part.size]
    # A strong pump may boil a small pack.
    seconds = row(spells, "STEP", 1)[:, 0] * schedule.steps
    pumped = float(np.sum(row(spells, "PUMP_HEAT", 1)[:, 0] * seconds))
    heated = pumped / (WATER_SPECIFIC_HEAT * float(row(batch.whole, "RESERVOIR_WATER", 1)[0]))
    return min(low for low, _ in ends), max(high for _, high in ends) + heated


def all_is_sane(scenario: Scenario, done: Simulated) -> None:
    """No column runs away, turns negative or stops being a number."""
    trace = done.trace
    assert [name for name, values in trace.items() if not np.isfinite(values).all()] == []
    assert [name for name in NEVER_NEGATIVE if trace[name].min() < 0.0] == []
    low, high = sources(scenario)
    inside = max(trace["core_temperature"].max(), trace["head_core_temperature"].max(), high)
    for name in TEMPERATURES:
        assert trace[name].min() >= low - COLDER, name
        assert trace[name].max() <= inside + WARMER, name
    water = row(done.batch.whole, "RESERVOIR_WATER", 1)[0]
    held = scenario.suit.reservoir
    assert water > 0.0
    whole = held.water.nominal + held.ice.nominal
    assert water + trace["ice_mass"][-1] == pytest.approx(whole, rel=1e-9)
    assert trace["battery_charge"].max() <= scenario.suit.battery.start_charge.nominal + 1e-12
    assert trace["inspired_o2"].max() <= 0.21 * 107_000.0


@given(scenarios())
def test_everything_adds_up_and_stays_sane_in_any_scenario(scenario: Scenario) -> None:
    # Given any scenario at all, when it is computed,
    done = simulate(scenario)
    # then every balance closes to rounding, and every column is a number that can be.
    no_balance_fails(done)
    all_is_sane(scenario, done)


@pytest.mark.parametrize("code", list(DEMO.runs))
def test_the_demo_runs_add_up_against_what_the_body_alone_makes(code: str) -> None:
    # Given a demo run, where air through the open neck ring swells the sum of all flows,
    done = simulate(scenario_of(code))
    # when the closing error is held against the body's own heat and carbon dioxide alone,
    turnover = float(row(done.batch.whole, "ENERGY_TURNOVER", 1)[0])
    time, heat = done.trace["time"], done.trace["heat_production"]
    made = float(np.sum(np.diff(time, prepend=0.0) * heat))
    # then it is still rounding.
    assert made > 5e5
    assert done.closure.energy * turnover / made < CLOSE
    no_balance_fails(done)


def test_a_book_that_is_wrong_shows() -> None:
    # Given a run whose booked energy is off by one joule in a million,
    batch, schedule = made_ready(scenario_of("yard-walk"))
    before = contents(batch)
    advance(batch, schedule)
    booked = row(batch.whole, "ENERGY_IN", 1)
    turnover = row(batch.whole, "ENERGY_TURNOVER", 1)
    fill(batch.whole, {"ENERGY_IN": booked + 1e-6 * turnover}, 1)
    # when the balance is drawn, then the error is seen as just that.
    assert closure(before, contents(batch))[0] == pytest.approx(1e-6, rel=1e-3)
