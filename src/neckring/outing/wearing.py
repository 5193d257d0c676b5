"""From a wearer and a suit to the kernel's arrays: who is inside what."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from neckring.body import anatomy
from neckring.body.calibration import DILATION_GAIN, SWEAT_GAIN
from neckring.body.capacity import (
    cardiac_limit,
    dehydration_slope,
    maximum_heart_rate,
    maximum_metabolic_rate,
    sweat_limit,
)
from neckring.body.surface import LEWIS_RATIO
from neckring.constants import (
    CELSIUS_ZERO,
    GAS_CONSTANT,
    LATENT_HEAT_PER_MOLE,
    WATER_SPECIFIC_HEAT,
)
from neckring.outing.batch import Batch, fill
from neckring.outing.bodies import RESTING_ACTIVITY, Control, people, set_baseline, start_outside
from neckring.outing.doubts import SET_POINT_SHIFT, SWEAT_FACTOR
from neckring.outing.scenario import Scenario
from neckring.suit.battery import COLDEST, HOTTEST, Battery, capacity_factor, voltage_cubic
from neckring.suit.moist_air import saturation_pressure

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Wall regions of a suit file and garment regions, as segments.
WALL_REGIONS: dict[str, tuple[int, ...]] = {
    "helmet": (0, 1),
    "trunk": (2, 3, 4),
    "arms": (5, 6, 8, 9),
    "hands": (7, 10),
    "legs": (11, 12, 14, 15),
    "feet": (13, 16),
}
GARMENT_REGIONS: dict[str, tuple[int, ...]] = {
    "head": (0,),
    "neck": (1,),
    "chest": (2,),
    "back": (3,),
    "pelvis": (4,),
    "upper_arms": (5, 8),
    "forearms": (6, 9),
    "hands": (7, 10),
    "thighs": (11, 14),
    "lower_legs": (12, 15),
    "feet": (13, 16),
}
# Temperature at which gas in helmet and suit, saturated, is counted into dry moles [degC]; assumed.
GAS_TEMPERATURE = 30.0
# Film between the suit's air and the inside of its wall [W/(m2 K)]; assumed, free convection.
WALL_FILM = 4.0
# Cardiac index at rest [L/(min m2)]; Takahashi et al. 2021.
CARDIAC_INDEX = 2.59


def person_of(scenario: Scenario) -> anatomy.Person:
    """The wearer's measures for all members."""
    wearer = scenario.wearer
    return anatomy.Person(
        height=scenario.of(wearer.height),
        mass=scenario.of(wearer.mass),
        age=scenario.of(wearer.age),
        female=np.full(scenario.members, wearer.sex == "female"),
        body_fat=scenario.of(wearer.body_fat),
        cardiac_index=np.full(scenario.members, CARDIAC_INDEX),
    )


def control_of(scenario: Scenario, person: anatomy.Person) -> Control:
    """The controller's constants: calibrated gains and the wearer's greatest rates."""
    one = np.ones(scenario.members)
    area = anatomy.surface_area(person.height, person.mass)
    uptake = scenario.of(scenario.wearer.maximum_oxygen_uptake)
    return Control(
        sweat_gain=SWEAT_GAIN * scenario.of(SWEAT_FACTOR),
        dilation_gain=DILATION_GAIN * one,
        set_point_shift=scenario.of(SET_POINT_SHIFT),
        shiver_gate=one,
        sweat_limit=sweat_limit(area, bool(scenario.wearer.acclimatised)),
        cardiac_limit=cardiac_limit(uptake * person.mass),
    )


def wearer_traits(scenario: Scenario, person: anatomy.Person) -> dict[str, FloatArray]:
    """Rows of `traits` that belong to the wearer."""
    wearer = scenario.wearer
    uptake = scenario.of(wearer.maximum_oxygen_uptake)
    fastest = maximum_heart_rate(person.age)
    if wearer.maximum_heart_rate is not None:
        fastest = scenario.of(wearer.maximum_heart_rate)
    return {
        "RESTING_HEART_RATE": scenario.of(wearer.resting_heart_rate),
        "MAXIMUM_HEART_RATE": fastest,
        "RESTING_METABOLISM": RESTING_ACTIVITY * anatomy.basal_metabolism(person),
        "MAXIMUM_METABOLISM": maximum_metabolic_rate(uptake * person.mass),
        "DEHYDRATION_SLOPE": dehydration_slope() * np.ones(scenario.members),
    }


def wall_rows(scenario: Scenario) -> dict[str, FloatArray]:
    """Heat capacity of the suit's wall on each segment [J/K], shape (17, members)."""
    capacity = np.ones((17, scenario.members))
    for region, places in WALL_REGIONS.items():
        wall = getattr(scenario.suit.wall, region)
        share = anatomy.AREA[list(places)] / anatomy.AREA[list(places)].sum()
        capacity[list(places)] = share[:, None] * scenario.of(wall.heat_capacity)
    return {"WALL_CAPACITY": capacity}


def garment_shares(scenario: Scenario) -> FloatArray:
    """Share of the garment's conductance on each segment, shape (17, members), sum 1."""
    shares = np.zeros((17, scenario.members))
    for region, places in GARMENT_REGIONS.items():
        share = getattr(scenario.suit.garment.shares, region, None)
        shares[list(places)] = scenario.of(share) / len(places)
    # One segment after the other: a library's sum depends on how many members there are.
    return np.asarray(shares / sum(shares))


def circuits(scenario: Scenario) -> tuple[IntArray, IntArray, FloatArray]:
    """How the garment's water runs: upstream segment, order, and share of the flow.

    Returns:
        Upstream segment of each segment (-1 for the manifold), shape (17,); an order in which
        upstream comes first, shape (17,); share of the flow through each, shape (17, members).
    """
    upstream = np.full(17, -1, dtype=np.int64)
    flow = garment_shares(scenario)
    order: list[int] = []
    chains = scenario.suit.garment.circuits
    if not isinstance(chains, str):
        for chain in chains:
            order += _join([GARMENT_REGIONS[region] for region in chain], upstream, flow)
    order += [segment for segment in range(17) if segment not in order]
    return upstream, np.array(order, dtype=np.int64), flow


def _join(chain: list[tuple[int, ...]], upstream: IntArray, flow: FloatArray) -> list[int]:
    """Put a chain's regions behind one another; left and right of a region share its flow."""
    places = [place for region in chain for place in region]
    total = flow[places].sum(axis=0)
    before: tuple[int, ...] = ()
    for region in chain:
        for side, place in enumerate(region):
            upstream[place] = before[min(side, len(before) - 1)] if before else -1
            flow[place] = total / len(region)
        before = region
    return places


def garment_rows(scenario: Scenario, flow_share: FloatArray) -> dict[str, FloatArray]:
    """Rows of `body` that belong to the cooling garment, each shape (17, members)."""
    shares = garment_shares(scenario)
    garment = scenario.suit.garment
    water = scenario.of(garment.water) * WATER_SPECIFIC_HEAT
    area = anatomy.segment_areas(person_of(scenario))
    return {
        "GARMENT_CONDUCTANCE": shares * scenario.of(garment.conductance),
        "GARMENT_FLOW_SHARE": flow_share,
        "WATER_CAPACITY": np.maximum(shares * water, 1.0),
        "LIQUID_CAPACITY": area * scenario.of(scenario.suit.inner.liquid_capacity),
    }


def suit_traits(
    scenario: Scenario, pressure: FloatArray, coldest: FloatArray
) -> dict[str, FloatArray]:
    """Rows of `traits` that belong to the suit.

    Args:
        scenario: With its suit.
        pressure: Air pressure of the station [Pa], shape (members,).
        coldest: Lowest air temperature of the run, where the battery must work [degC].
    """
    suit, of = scenario.suit, scenario.of
    # Breath soon saturates a closed helmet; only the rest of the pressure is dry gas.
    dry = pressure - saturation_pressure(GAS_TEMPERATURE)
    moles = dry / (GAS_CONSTANT * (GAS_TEMPERATURE + CELSIUS_ZERO))
    inside = of(suit.visor.area) * of(suit.visor.inner_conductance)
    gap = of(suit.inner.air_gap_conductance)
    per_watt = LEWIS_RATIO / LATENT_HEAT_PER_MOLE
    person = person_of(scenario)
    outer_area = anatomy.surface_area(person.height, person.mass) * 0.926
    return {
        "ICE_CONTACT": of(suit.reservoir.ice_contact),
        "WALL_CONDUCTANCE": of(suit.reservoir.wall_conductance),
        "LINE_CONDUCTANCE": of(suit.water_loop.ambient_conductance),
        "HELMET_MOLES": of(suit.air.helmet_volume) * moles,
        "SUIT_MOLES": of(suit.air.suit_volume) * moles,
        "FACE_SHARE": of(suit.air.face_share),
        "INTERNAL_MIXING": of(suit.air.internal_mixing) * moles,
        "VISOR_INSIDE": inside,
        "VISOR_CONDENSING": inside * per_watt,
        "TUBE_CONDENSING": of(suit.garment.condensing_area) * gap * per_watt,
        "WALL_CONDENSING": outer_area * WALL_FILM * per_watt,
        **battery_traits(scenario, coldest),
    }


def battery_of(scenario: Scenario) -> Battery:
    """The pack's battery with its quantities drawn."""
    battery, of = scenario.suit.battery, scenario.of
    return Battery(
        chemistry=battery.chemistry,
        nominal_voltage=of(battery.nominal_voltage),
        capacity=of(battery.capacity),
        resistance=of(battery.resistance),
        cut_off_voltage=of(battery.cut_off_voltage),
        age_factor=of(battery.age_factor),
        start_charge=of(battery.start_charge),
    )


def battery_traits(scenario: Scenario, coldest: FloatArray) -> dict[str, FloatArray]:
    """Capacity, cut-off and rested voltage of the pack's battery."""
    battery = battery_of(scenario)
    # Colder than any published figure counts as the coldest one; the plan says so.
    known = np.clip(coldest, COLDEST, HOTTEST)
    factor = np.asarray(capacity_factor(battery.chemistry, known).likely)
    rows = {f"VOLTAGE_{power}": value for power, value in enumerate(voltage_cubic(battery))}
    return {
        **rows,
        "BATTERY_CAPACITY": np.asarray(battery.capacity * battery.age_factor * factor),
        "CUT_OFF": np.asarray(battery.cut_off_voltage),
    }


def dressed(scenario: Scenario, pressure: FloatArray, coldest: FloatArray) -> Batch:
    """A batch of wearers at rest in the bay with their suits at the bay's temperature.

    Args:
        scenario: Who and what.
        pressure: Air pressure [Pa], shape (members,).
        coldest: Lowest air temperature of the run [degC], shape (members,).

    Returns:
        The batch at the moment of first dressing.
    """
    members = scenario.members
    person = person_of(scenario)
    batch = people(person, control_of(scenario, person))
    upstream, order, flow_share = circuits(scenario)
    batch.upstream, batch.order = upstream, order
    fill(batch.body, {**wall_rows(scenario), **garment_rows(scenario, flow_share)}, members)
    fill(batch.traits, wearer_traits(scenario, person), members)
    fill(batch.traits, suit_traits(scenario, pressure, coldest), members)
    first = scenario.station.places[scenario.run.outing[0].starts_at]
    air = scenario.of(first.air_temperature)
    start_outside(batch, air, scenario.of(first.relative_humidity), pressure)
    reservoir = scenario.suit.reservoir
    pack = {
        "RESERVOIR": scenario.of(reservoir.start_temperature),
        "RESERVOIR_WATER": scenario.of(reservoir.water),
        "ICE": scenario.of(reservoir.ice),
        "CHARGE": scenario.of(scenario.suit.battery.start_charge),
    }
    fill(batch.whole, pack, members)
    set_baseline(batch)
    return batch
