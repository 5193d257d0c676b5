"""More work or warmer water never buys time; more flow or more ice never costs any."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenarios import (
    DEMO,
    DIPPER,
    FloatArray,
    exactly,
    made_ready,
    of_value,
    one_spell,
    outing_of,
    varying,
    with_place,
)

from neckring.outing.batch import advance, row
from neckring.outing.kernel import RECORDED
from neckring.outing.limits import first_crossing
from neckring.outing.scenario import Scenario
from neckring.outing.trace import recorded
from neckring.units import Quantity

FEW = settings(max_examples=12)
MEMBERS = 16
CORE_LIMIT = 38.5


def times_to_limit(
    scenario: Scenario, allowed: float = 0.0
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time to a core of 38.5 degC (and so much more), 90 % of the heart and 6 kJ/kg [s]."""
    batch, schedule = made_ready(scenario)
    records = advance(batch, schedule, every=1)
    members = scenario.members
    heart = recorded(records, "HEART_RATE") / row(batch.traits, "MAXIMUM_HEART_RATE", members)
    stored = recorded(records, "STORAGE") / row(batch.traits, "BODY_MASS", members)
    core = records[:, len(RECORDED)]
    time = recorded(records, "ELAPSED")
    return (
        _crossings(time, core, CORE_LIMIT + allowed),
        _crossings(time, heart, 0.9),
        _crossings(time, stored, 6000.0),
    )


def _crossings(time: FloatArray, values: FloatArray, limit: float) -> FloatArray:
    found = [
        first_crossing(time[:, j], values[:, j], limit, True, 0.0) for j in range(time.shape[1])
    ]
    return np.array([np.inf if at is None else at for at in found])


def cooled(watts: float, air: str, inlet: str, flow: str) -> Scenario:
    """Work in the yard on facility water; a lab with an umbilical."""
    assert DEMO.station.facility is not None
    facility = DEMO.station.facility.model_copy(
        update={
            "water_temperature": exactly(inlet, "temperature"),
            "water_flow": exactly(flow, "volume_flow"),
        }
    )
    station = DEMO.station.model_copy(update={"facility": facility})
    station = with_place(station, "yard", air_temperature=air, relative_humidity="40 %")
    spell = one_spell(metabolic_rate=of_value(watts, "power"), cooling="facility", air="pack")
    return outing_of(spell, station=station)


def rising(times: FloatArray) -> bool:
    """Never shorter than for the member before."""
    return bool(np.all(times[1:] >= times[:-1]))


airs = st.sampled_from(("20 degC", "30 degC", "38 degC"))
flows = st.sampled_from(("0.1 L/min", "0.5 L/min", "1.5 L/min"))


@FEW
@given(airs, flows, st.sampled_from(("10 degC", "20 degC", "28 degC")))
def test_harder_work_never_buys_time(air: str, flow: str, inlet: str) -> None:
    scenario = cooled(300.0, air, inlet, flow)
    rate = scenario.run.outing[0].metabolic_rate
    assert rate is not None
    core, heart, stored = times_to_limit(
        varying(scenario, rate, np.linspace(180.0, 900.0, MEMBERS))
    )
    assert rising(core[::-1])
    assert rising(heart[::-1])
    assert rising(stored[::-1])
    assert core[-1] < core[0]


@FEW
@given(airs, flows, st.floats(300.0, 700.0))
def test_warmer_water_never_buys_time(air: str, flow: str, watts: float) -> None:
    scenario = cooled(watts, air, "16 degC", flow)
    assert scenario.station.facility is not None
    inlet = scenario.station.facility.water_temperature
    core, heart, stored = times_to_limit(varying(scenario, inlet, np.linspace(8.0, 36.0, MEMBERS)))
    assert rising(core[::-1])
    assert rising(heart[::-1])
    assert rising(stored[::-1])


@FEW
@given(airs, st.floats(300.0, 700.0), st.sampled_from(("8 degC", "16 degC", "24 degC")))
def test_more_flow_never_costs_time_where_cooling_is_needed(
    air: str, watts: float, inlet: str
) -> None:
    scenario = cooled(watts, air, inlet, "1 L/min")
    assert scenario.station.facility is not None
    flow = scenario.station.facility.water_flow
    core, heart, stored = times_to_limit(
        varying(scenario, flow, np.geomspace(0.05, 4.0, MEMBERS) / 6e4)
    )
    assert rising(core)
    assert rising(heart)
    assert rising(stored)


# Colder water closes the skin's vessels and stops sweat, so that the core may stand a little higher
# while less heat is stored: "very cold water is not better" (Koscheyev, NTRS 20050184245).
COLD_SKIN = 0.3


@FEW
@given(airs, st.floats(350.0, 700.0), st.sampled_from(("20 %", "50 %", "100 %")))
def test_more_ice_never_costs_time(air: str, watts: float, valve: str) -> None:
    station = with_place(DEMO.station, "yard", air_temperature=air, relative_humidity="40 %")
    work = of_value(watts, "power")
    spell = one_spell(metabolic_rate=work, cooling="pack", air="pack", valve=valve)
    scenario = outing_of(spell, station=station, suit=DIPPER)
    more = varying(scenario, DIPPER.reservoir.ice, np.linspace(0.0, 4.0, MEMBERS))
    core, _, stored = times_to_limit(more)
    assert rising(stored)
    later, _, _ = times_to_limit(more, COLD_SKIN)
    assert np.all(later[1:] >= core[:-1])
    assert np.median(core[8:]) >= np.median(core[:8])


@pytest.mark.parametrize("limit", ["core", "heart", "stored"])
def test_the_times_are_worth_comparing(limit: str) -> None:
    # Given hard work in a warm yard, cooled from nothing to very well,
    scenario = cooled(600.0, "30 degC", "16 degC", "1 L/min")
    assert scenario.station.facility is not None
    flow: Quantity = scenario.station.facility.water_flow
    core, heart, stored = times_to_limit(
        varying(scenario, flow, np.geomspace(0.05, 4.0, MEMBERS) / 6e4)
    )
    times = {"core": core, "heart": heart, "stored": stored}[limit]
    # then the limit is crossed by some, and cooling gives at least a fifth more time.
    assert np.isfinite(times[0])
    assert times[-1] > 1.2 * times[0]


def test_more_ice_keeps_the_water_colder() -> None:
    spell = one_spell(metabolic_rate="450 W", cooling="pack", air="pack", valve="100 %")
    scenario = replace(outing_of(spell), suit=DIPPER)
    batch, schedule = made_ready(
        varying(scenario, DIPPER.reservoir.ice, np.linspace(0.0, 4.0, MEMBERS))
    )
    records = advance(batch, schedule, every=60)
    reservoir = recorded(records, "RESERVOIR")
    assert (np.diff(reservoir, axis=1) <= 1e-9).all()
    assert reservoir[3, 0] > reservoir[3, -1] + 2.0
