"""Inside the kernel, cut down to one effect, the closed forms of the suit's modules come out."""

from __future__ import annotations

from collections.abc import Mapping

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
    revalidated,
    with_place,
)

from neckring.constants import (
    CARBON_DIOXIDE_IN_AIR,
    GAS_CONSTANT,
    ICE_LATENT_HEAT,
    LATENT_HEAT_PER_MOLE,
    WATER_SPECIFIC_HEAT,
)
from neckring.lanes import MEAN_SKIN
from neckring.outing.batch import Batch, Schedule, advance, fill, row
from neckring.outing.kernel import RECORDED
from neckring.outing.plan import simulate
from neckring.outing.scenario import Scenario
from neckring.outing.trace import recorded
from neckring.outing.wearing import battery_of
from neckring.suit import battery, garment_design, helmet_air, reservoir
from neckring.suit.moist_air import saturation_pressure

FEW = settings(max_examples=20)
HELD = 1e15
"""[J/K], a heat capacity that keeps its temperature."""


def column(records: FloatArray, name: str) -> FloatArray:
    return recorded(records, name)[:, 0]


def held(batch: Batch, skin: FloatArray) -> None:
    """Hold every skin at its temperature [degC], shape (17,)."""
    fill(batch.body, {"SKIN_CAPACITY": np.full((17, 1), HELD)}, 1)
    fill(batch.state[:, :17], {"SKIN": skin[:, None]}, 1)


def ask(schedule: Schedule, rows: Mapping[str, float]) -> None:
    """Ask for something in every spell."""
    fill(schedule.spells, {name: np.array([value]) for name, value in rows.items()}, 1)


def suit_has(batch: Batch, rows: Mapping[str, float]) -> None:
    """Change traits of the suit."""
    fill(batch.traits, {name: np.array([value]) for name, value in rows.items()}, 1)


NO_CONDENSING = {"VISOR_CONDENSING": 0.0, "TUBE_CONDENSING": 0.0, "WALL_CONDENSING": 0.0}


# Helmet without a fan


def sealed(watts: float, litres: float, leak: str) -> Scenario:
    air = DIPPER.air.model_copy(
        update={
            "helmet_volume": of_value(litres * 1e-3, "volume"),
            "leak": exactly(leak, "volume_flow"),
        }
    )
    spell = one_spell(metabolic_rate=of_value(watts, "power"), air="none", **{"for": "20 min"})
    # Warm enough that nobody shivers, which would add to the gas given off.
    station = with_place(DEMO.station, "yard", air_temperature="30 degC")
    return outing_of(spell, suit=DIPPER.model_copy(update={"air": air}), station=station)


def stopped_fan(
    scenario: Scenario, leak: float | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time [s], helmet's CO2 over dry gas [1], and (volume, source, leak) in moles."""
    batch, schedule = made_ready(scenario, 1.0)
    if leak is not None:
        ask(schedule, {"AIR_HELMET": leak})
    records = advance(batch, schedule, every=1)
    rows = [row(schedule.spells, name, 1)[0, 0] for name in ("CO2_PER_WATT", "AIR_HELMET")]
    watts = column(records, "METABOLIC_HEAT") + row(schedule.spells, "EXTERNAL_WORK", 1)[0, 0]
    moles = row(batch.traits, "HELMET_MOLES", 1)[0]
    made = np.array([moles, rows[0] * watts[:20].mean(), rows[1]])
    return column(records, "ELAPSED"), column(records, "HELMET_CO2"), made


@FEW
@given(st.floats(120.0, 500.0), st.floats(4.0, 30.0))
def test_sealed_helmet_fills_with_carbon_dioxide_in_a_straight_line(
    watts: float, litres: float
) -> None:
    # Given a helmet with neither fan nor leak,
    time, share, (moles, source, _) = stopped_fan(sealed(watts, litres, "1 L/min"), 0.0)
    # then 3 % is reached after V (C - C0)/G.
    expected = moles * (0.03 - CARBON_DIOXIDE_IN_AIR) / source
    found = np.interp(0.03, share, time)
    assert found == pytest.approx(expected, rel=0.01)


@FEW
@given(st.floats(120.0, 400.0), st.floats(4.0, 30.0), st.floats(0.5, 20.0))
def test_leaking_helmet_follows_the_closed_form(watts: float, litres: float, leak: float) -> None:
    time, share, (moles, source, flow) = stopped_fan(sealed(watts, litres, f"{leak} L/min"), None)
    # The closed form knows volumes and pressures: here as moles and shares, at unit pressure.
    limit = min(0.9 * share[-1], 0.03)
    expected = helmet_air.time_to_limit(
        moles, source, CARBON_DIOXIDE_IN_AIR, limit, 1.0, flow, CARBON_DIOXIDE_IN_AIR
    )
    assert np.interp(limit, share, time) == pytest.approx(expected, rel=0.01)


def test_volume_and_moles_are_the_ideal_gas() -> None:
    _, _, (moles, _, _) = stopped_fan(sealed(200.0, 12.0, "1 L/min"), 0.0)
    # 210 m, ICAO standard atmosphere, less vapour saturated at 30 degC (ASHRAE Fundamentals 2017).
    pressure = 98_828.0 - 4_247.0
    assert moles == pytest.approx(pressure * 0.012 / (GAS_CONSTANT * 303.15), rel=1e-4)


# Reservoir


def still_pack(watts_of_pump: float, outside: float, contact: float) -> tuple[Batch, Schedule]:
    """A pack whose pump warms it while no water runs to the wearer."""
    station = with_place(DEMO.station, "yard", air_temperature=f"{outside} degC")
    scenario = outing_of(one_spell(cooling="pack", air="pack"), station=station)
    batch, schedule = made_ready(scenario)
    ask(schedule, {"WATER_ON": 0.0, "PUMP_HEAT": watts_of_pump, "ELECTRIC_LOAD": 0.0})
    suit_has(batch, {"ICE_CONTACT": contact, **NO_CONDENSING})
    return batch, schedule


@pytest.mark.parametrize("watts", [100.0, 250.0])
def test_ice_melts_in_its_time(watts: float) -> None:
    # Given 1.5 kg of ice in ice water in air of 0 degC, in good contact, and a steady heat,
    batch, schedule = still_pack(watts, 0.0, 5000.0)
    fill(batch.whole, {"ICE": np.array([1.5]), "RESERVOIR": np.zeros(1)}, 1)
    records = advance(batch, schedule, every=1)
    time, ice = column(records, "ELAPSED"), column(records, "ICE")
    # then, once the water is as warm as drives it, 0.9 kg melt in their melting time.
    first, last = np.interp([-1.2, -0.3], -ice, time)
    assert last - first == pytest.approx(reservoir.melting_time(0.9, watts), rel=0.01)
    assert first > reservoir.melting_time(0.3, watts)


def test_water_over_melting_ice_is_as_warm_as_the_contact_makes_it() -> None:
    batch, schedule = still_pack(200.0, 0.0, 40.0)
    fill(batch.whole, {"ICE": np.array([2.0]), "RESERVOIR": np.zeros(1)}, 1)
    records = advance(batch, schedule, every=1)
    ice, warm = column(records, "ICE"), column(records, "RESERVOIR")
    place = int(np.argmin(np.abs(ice - 1.0)))
    heat = ICE_LATENT_HEAT * (ice[place - 1] - ice[place + 1]) / 20.0
    assert heat > 100.0
    expected = reservoir.melting_temperature(heat, ice[place], 40.0)
    assert warm[place] == pytest.approx(expected, rel=0.02)


@FEW
@given(st.floats(5.0, 60.0), st.floats(5.0, 45.0), st.floats(33.0, 36.0), st.floats(0.01, 0.04))
def test_pack_warms_as_the_exponential(
    pump: float, outside: float, skin: float, flow: float
) -> None:
    # Given a pack without ice, a steady flow, and skins held at one temperature,
    batch, schedule = still_pack(pump, outside, 0.0)
    rows = {"WATER_ON": 1.0, "FLOW_0": flow, "FLOW_1": 0.0, "FLOW_2": 0.0, "FLOW_3": 0.0}
    ask(schedule, {**rows, "STEP": 1.0})
    held(batch, np.full(17, skin))
    pack = {"ICE": 0.0, "RESERVOIR": 4.0, "RESERVOIR_WATER": 2.5}
    fill(batch.whole, {name: np.array([value]) for name, value in pack.items()}, 1)
    fill(batch.body, {"WATER_CAPACITY": np.full((17, 1), 1e-3)}, 1)
    records = advance(batch, schedule, every=60)
    time, warm = column(records, "ELAPSED"), column(records, "RESERVOIR")
    # then its warming is that of one heat capacity against skin, air and pump.
    contact = row(batch.body, "GARMENT_CONDUCTANCE", 1)[:, 0]
    rates = WATER_SPECIFIC_HEAT * flow * row(batch.body, "GARMENT_FLOW_SHARE", 1)[:, 0]
    garment = float(np.sum(garment_design.exchange_conductance(contact, rates)))
    gains = row(batch.traits, "WALL_CONDUCTANCE", 1) + row(batch.traits, "LINE_CONDUCTANCE", 1)
    course = reservoir.warming(
        2.5 * WATER_SPECIFIC_HEAT, pump, garment, skin, float(gains[0]), outside
    )
    expected = reservoir.temperature_after(time, 4.0, course)
    assert np.abs(warm - expected).max() < 0.03


# Garment


@pytest.mark.parametrize(
    "chains",
    [
        "parallel",
        (("chest",), ("back",), ("pelvis",), ("upper_arms", "forearms"), ("thighs", "lower_legs")),
        (("pelvis", "thighs", "lower_legs"), ("upper_arms", "forearms"), ("chest",), ("back",)),
        (("thighs", "lower_legs", "pelvis", "back", "chest", "upper_arms", "forearms"),),
    ],
    ids=["parallel", "limbs", "through the pelvis", "one chain"],
)
@FEW
@given(st.floats(5.0, 25.0), st.floats(0.1, 4.0), st.integers(0, 1000))
def test_garment_takes_up_what_its_closed_form_says(
    chains: str | tuple[tuple[str, ...], ...], inlet: float, flow: float, seed: int
) -> None:
    # Given skins of different temperatures, left as right, held, and steady water,
    garment = revalidated(DIPPER.garment.model_copy(update={"circuits": chains}))
    suit = DIPPER.model_copy(update={"garment": garment})
    scenario = outing_of(one_spell(cooling="facility", air="pack"), suit=suit)
    batch, schedule = made_ready(scenario)
    flowing = flow / 60.0
    ask(schedule, {"SUPPLY_WATER": inlet, "FLOW_0": flowing})
    skin = np.random.default_rng(seed).uniform(28.0, 37.0, 17)
    skin[8:11], skin[14:17] = skin[5:8], skin[11:14]
    held(batch, skin)
    records = advance(batch, schedule, every=60)
    # when the water is followed along its chains, each side of a limb for itself,
    contact = row(batch.body, "GARMENT_CONDUCTANCE", 1)[:, 0]
    rates = WATER_SPECIFIC_HEAT * flowing * row(batch.body, "GARMENT_FLOW_SHARE", 1)[:, 0]
    heat = followed(batch.upstream, skin, contact, rates, inlet)
    # then the kernel's heat is the same.
    assert column(records, "WATER_HEAT")[-1] == pytest.approx(heat, rel=1e-6)
    back = inlet + heat / (WATER_SPECIFIC_HEAT * flowing)
    assert column(records, "RETURN_WATER")[-1] == pytest.approx(back, rel=1e-6)


def followed(
    upstream: np.ndarray, skin: FloatArray, contact: FloatArray, rates: FloatArray, inlet: float
) -> float:
    """Heat [W] by the closed form; each segment a chain of its own with what arrives there."""
    outlet: dict[int, float] = {-1: inlet}
    total, left = 0.0, [s for s in range(17) if contact[s] > 0.0]
    while left:
        here = next(s for s in left if int(upstream[s]) in outlet)
        arriving = outlet[int(upstream[here])]
        one = garment_design.steady_garment(
            skin[[here]], contact[[here]], [[0]], [float(rates[here])], arriving
        )
        outlet[here] = one.return_temperature
        total += float(one.heat[0])
        left.remove(here)
    return total


# Battery


@pytest.mark.parametrize("chemistry", ["lithium_ion", "lead_acid"])
@pytest.mark.parametrize("watts", [15.0, 40.0])
def test_battery_lasts_as_long_as_its_closed_form(chemistry: str, watts: float) -> None:
    # Given a steady load in a yard of 20 degC,
    texts = {"capacity": ("2 Ah", "charge"), "cut_off_voltage": ("11 V", "voltage")}
    changed = {name: exactly(*text) for name, text in texts.items()}
    pack = DIPPER.battery.model_copy(update={"chemistry": chemistry, **changed})
    suit = DIPPER.model_copy(update={"battery": revalidated(pack)})
    station = with_place(DEMO.station, "yard", air_temperature="20 degC")
    scenario = outing_of(one_spell(cooling="pack", air="pack"), suit=suit, station=station)
    batch, schedule = made_ready(scenario)
    ask(schedule, {"ELECTRIC_LOAD": watts})
    records = advance(batch, schedule, every=1)
    dead = column(records, "ELAPSED")[np.flatnonzero(column(records, "ALIVE") < 0.5)[0]]
    # then it dies when the closed form says; the kernel's cubic costs a few percent.
    expected = battery.life_at_constant_power(battery_of(scenario), watts, 20.0).likely
    assert dead == pytest.approx(float(np.asarray(expected).reshape(-1)[0]), rel=0.04)


def test_dead_battery_stops_water_and_air() -> None:
    pack = DIPPER.battery.model_copy(update={"start_charge": exactly("2 %", "fraction")})
    suit = DIPPER.model_copy(update={"battery": revalidated(pack)})
    trace = simulate(outing_of(one_spell(cooling="pack", air="pack"), suit=suit)).trace
    assert trace["water_flow"][0] > 0.0
    assert trace["water_flow"][-1] == 0.0
    assert trace["air_flow"][-1] < 0.1 * trace["air_flow"][0]
    assert trace["inspired_co2"][-1] > 5.0 * trace["inspired_co2"][0]
    assert trace["battery_charge"][-1] >= 0.0


# Ventilation


@FEW
@given(st.floats(200.0, 700.0), st.floats(15.0, 45.0), st.floats(0.0, 1.0))
def test_evaporation_is_never_more_than_the_air_can_carry(
    watts: float, outside: float, humidity: float
) -> None:
    # Given work in a closed suit whose fans run, and no surface that condenses,
    station = with_place(
        DEMO.station,
        "yard",
        air_temperature=f"{outside} degC",
        relative_humidity=f"{100 * humidity:.4f} %",
    )
    spell = one_spell(metabolic_rate=of_value(watts, "power"), air="pack", **{"for": "3 h"})
    batch, schedule = made_ready(outing_of(spell, station=station))
    suit_has(batch, NO_CONDENSING)
    records = advance(batch, schedule, every=1)
    last = records[-60:]
    # then skin and breath give no more than the air carries off saturated at the warmest wet place
    # (skin, or the breath's own 35.7 degC), less what the zones still fill themselves with.
    warmest = max(float(last[:, RECORDED.index(MEAN_SKIN)].max()), 35.7) + 2.0
    pressure = row(schedule.spells, "PRESSURE", 1)[0, 0]
    entering = row(schedule.spells, "AIR_IN_WATER", 1)[0, 0]
    saturated = float(saturation_pressure(warmest))
    leaving = saturated / (pressure - saturated)
    flow = column(last, "AIR_TO_HELMET") + column(last, "AIR_TO_SUIT")
    most = flow * max(leaving - entering, 0.0) * LATENT_HEAT_PER_MOLE
    breath = row(batch.whole, "RESPIRED_HEAT_WET", 1)[0]
    assert np.all(column(last, "EVAPORATED") + breath <= most * 1.01 + 2.0)


def test_the_cap_is_felt() -> None:
    # Given a humid day, then the air cannot carry what the same work evaporates on a dry one.
    dry, humid = (
        simulate(
            outing_of(
                one_spell(metabolic_rate="400 W", air="pack", **{"for": "2 h"}),
                station=with_place(
                    DEMO.station, "yard", air_temperature="32 degC", relative_humidity=damp
                ),
            )
        ).trace["evaporation"][-1]
        for damp in ("10 %", "95 %")
    )
    assert humid < 0.75 * dry
