"""From the spells of a run to the kernel's schedule: work, water, air, place and time of each."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.body import anatomy
from neckring.body.breath import (
    breathing,
    carbon_dioxide_moles_per_joule,
    oxygen_moles_per_joule,
    respiratory_quotient,
    tidal_volume,
    vital_capacity,
)
from neckring.body.capacity import heart_rate_slope, maximum_metabolic_rate
from neckring.body.walking import TERRAIN_FACTORS, climbing_power
from neckring.body.work import activity_metabolic_rate, walking_metabolic_rate
from neckring.constants import AIR_MOLAR_HEAT, CELSIUS_ZERO, GAS_CONSTANT, WATER_DENSITY
from neckring.outing.batch import Schedule, new_schedule
from neckring.outing.bodies import RESTING_ACTIVITY, humid_ratio
from neckring.outing.doubts import (
    ACTIVITY_PLACE,
    HEART_SLOPE_FACTOR,
    QUOTIENT_SHIFT,
    VENTILATION_FACTOR,
    WALKING_PLACE,
    placed,
)
from neckring.outing.loop_flow import flow_rows
from neckring.outing.scenario import Scenario
from neckring.outing.surroundings import (
    Weather,
    bare_head,
    suit_surroundings,
    visor_outside,
    weather,
)
from neckring.outing.wearing import GAS_TEMPERATURE, battery_of, person_of
from neckring.station.run import Spell
from neckring.suit.battery import resistance_at
from neckring.suit.helmet_air import rebreathed_pressure
from neckring.suit.ventilation import AirPath, fan_flow
from neckring.values import Band

FloatArray = NDArray[np.float64]

# Longest step [s]; ten seconds and sixty agree to 0.02 K in two hours (tests/outing).
STEP = 10.0
# Flow through an open neck ring [mol/s]: enough to make the helmet's air the room's in a step.
OPEN_FLOW = 10.0


@dataclass(frozen=True)
class Walked:
    """How a spell moves: speed [m/s], grade [1] and terrain factor [1]; still when speed is 0."""

    speed: FloatArray
    grade: float
    terrain: float


@dataclass(frozen=True)
class Leg:
    """One spell made ready: what it asks of the wearer and for how long.

    Attributes:
        spell: As written, with what it carries on from the spell before.
        duration: [s], the same for all members.
        rate: Metabolic rate [W], likely, low and high, shape (members,) each.
        climbing: Work against gravity [W], shape (members,).
        around: Weather of the place or of the way.
    """

    spell: Spell
    duration: float
    rate: Band
    climbing: FloatArray
    around: Weather


def carried_mass(scenario: Scenario) -> FloatArray:
    """Suit, pack, water and ice on the wearer [kg], shape (members,)."""
    suit, of = scenario.suit, scenario.of
    worn = of(suit.mass) + of(suit.pack_mass)
    stored = of(suit.reservoir.water) + of(suit.reservoir.ice) + of(suit.garment.water)
    return worn + stored


def legs(scenario: Scenario) -> list[Leg]:
    """Every spell of the run made ready."""
    return [leg(scenario, spell) for spell in scenario.run.outing]


def leg(scenario: Scenario, spell: Spell) -> Leg:
    """One spell made ready."""
    walked, duration = movement(scenario, spell)
    return leg_moving(scenario, spell, walked, duration)


def leg_moving(scenario: Scenario, spell: Spell, walked: Walked, duration: float) -> Leg:
    """One spell made ready, of which it is known how it moves and how long it takes [s]."""
    places = [scenario.station.places[name] for name in spell.places]
    around = weather(scenario, places, walked.speed)
    rate = metabolic_rate(scenario, spell, walked)
    total = scenario.of(scenario.wearer.mass) + carried_mass(scenario) + scenario.of(spell.load)
    climbing = np.asarray(climbing_power(total, walked.speed, walked.grade)) * np.ones(
        scenario.members
    )
    return Leg(spell, duration, rate, climbing, around)


def movement(scenario: Scenario, spell: Spell) -> tuple[Walked, float]:
    """Speed, grade and terrain of a spell, and how long it takes [s]."""
    still = np.zeros(scenario.members)
    path = scenario.station.path(spell.from_place, spell.to_place) if spell.to_place else None
    speed = scenario.of(spell.speed)
    if path is None:
        moving = spell.spell in ("walk", "carry")
        grade = spell.grade.nominal if spell.grade else 0.0
        terrain = TERRAIN_FACTORS[spell.terrain or "blacktop"]
        lasting = spell.duration.nominal if spell.duration else 0.0
        return Walked(speed if moving else still, grade, terrain), lasting
    duration = path.length.nominal / spell.speed.nominal if spell.speed else 0.0
    if spell.spell == "ride":
        return Walked(still, 0.0, 1.0), duration
    grade = path.rise / path.length.nominal
    return Walked(speed, grade, TERRAIN_FACTORS[path.terrain]), duration


def metabolic_rate(scenario: Scenario, spell: Spell, walked: Walked) -> Band:
    """Metabolic rate of a spell [W], by this wearer: the one planned times the work factor."""
    planned = planned_metabolic_rate(scenario, spell, walked)
    factor = scenario.of(scenario.wearer.work_factor, 1.0)
    return Band(planned.likely * factor, planned.low * factor, planned.high * factor)


def planned_metabolic_rate(scenario: Scenario, spell: Spell, walked: Walked) -> Band:
    """Metabolic rate of a spell [W]: as measured, as walked, or as the activity usually takes."""
    one = np.ones(scenario.members)
    if spell.metabolic_rate is not None:
        given = spell.metabolic_rate
        return Band(scenario.of(given), given.low * one, given.high * one)
    mass = scenario.of(scenario.wearer.mass)
    bulk = scenario.of(scenario.suit.bulk_factor)
    worn, held = carried_mass(scenario), scenario.of(spell.load)
    if np.any(walked.speed > 0.0):
        rate = walking_metabolic_rate(
            mass, worn, walked.speed, walked.grade, walked.terrain, bulk, held
        )
        place = scenario.of(WALKING_PLACE)
    else:
        area = anatomy.surface_area(scenario.of(scenario.wearer.height), mass)
        rate = activity_metabolic_rate(spell.spell, mass, area, worn + held, bulk)
        place = scenario.of(ACTIVITY_PLACE)
    return placed(Band(rate.likely * one, rate.low * one, rate.high * one), place)


def work_rows(scenario: Scenario, leg: Leg, pressure: FloatArray) -> dict[str, FloatArray]:
    """Spell rows of the wearer's work and breathing, each shape (members,)."""
    person = person_of(scenario)
    wearer, one = scenario.wearer, np.ones(scenario.members)
    uptake = scenario.of(wearer.maximum_oxygen_uptake) * person.mass
    rest = RESTING_ACTIVITY * anatomy.basal_metabolism(person)
    watts = np.asarray(leg.rate.likely)
    woman = person.female.astype(np.float64)
    quotient = respiratory_quotient((watts - rest) / (maximum_metabolic_rate(uptake) - rest))
    quotient = quotient + scenario.of(QUOTIENT_SHIFT)
    breath = breathing(watts, quotient, person.age, person.height, woman)
    breathed = breath.ventilation * scenario.of(VENTILATION_FACTOR)
    again = rebreathed_pressure(
        breath.carbon_dioxide_share * breath.ventilation,
        breathed,
        scenario.of(scenario.suit.air.dead_space),
        tidal_volume(breathed, vital_capacity(person.age, person.height, woman)),
        pressure,
    )
    on = 1.0 if leg.spell.helmet_on else 0.0
    slope = scenario.of(HEART_SLOPE_FACTOR) * heart_rate_slope(watts, person.mass)
    return {
        "METABOLIC_RATE": watts,
        "EXTERNAL_WORK": leg.climbing,
        "CO2_PER_WATT": carbon_dioxide_moles_per_joule(quotient) * one,
        "O2_PER_WATT": oxygen_moles_per_joule(quotient) * one,
        "REBREATHED_CO2": on * np.asarray(again),
        "HEART_CORE_SLOPE": slope,
    }


def water_rows(scenario: Scenario, spell: Spell) -> dict[str, FloatArray]:
    """Spell rows of the cooling water, each shape (members,)."""
    one = np.ones(scenario.members)
    rows = {"WATER_ON": 0.0 * one, "WATER_FROM_PACK": one, "SUPPLY_WATER": 20.0 * one}
    valve = scenario.of(spell.valve, 1.0)
    if spell.cooling == "pack":
        rows |= flow_rows(scenario, spell.valve)
        rows |= {"WATER_ON": one, "PUMP_HEAT": scenario.of(scenario.suit.water_loop.pump.power)}
    if spell.cooling == "facility" and scenario.station.facility:
        facility = scenario.station.facility
        rows |= {
            "WATER_ON": one,
            "WATER_FROM_PACK": 0.0 * one,
            "SUPPLY_WATER": scenario.of(facility.water_temperature),
            "FLOW_0": scenario.of(facility.water_flow) * valve * WATER_DENSITY,
        }
    return rows


def air_rows(
    scenario: Scenario, spell: Spell, around: Weather, pressure: FloatArray
) -> dict[str, FloatArray]:
    """Spell rows of the suit's air, each shape (members,)."""
    suit, of, one = scenario.suit, scenario.of, np.ones(scenario.members)
    moles = pressure / (GAS_CONSTANT * (GAS_TEMPERATURE + CELSIUS_ZERO))
    outside = humid_ratio(around.air, around.humidity, pressure)
    volume = of(suit.air.helmet_volume) + of(suit.air.suit_volume)
    # Flows are kept in moles of dry air: the damp that comes in with it does not count.
    leak = of(suit.air.leak) * moles / (1.0 + outside)
    # Where the leaks are is not known: each part gets its share by volume.
    helmet_leak = leak * of(suit.air.helmet_volume) / volume
    rows = {
        "OUTSIDE_TEMPERATURE": around.air,
        "OUTSIDE_WATER": outside,
        "PRESSURE": pressure,
        "LEAK_HELMET": helmet_leak,
        "LEAK_SUIT": leak - helmet_leak,
        "HELMET_ON": one if spell.helmet_on else 0.0 * one,
        "OPEN_HELMET": 0.0 * one if spell.helmet_on else OPEN_FLOW * one,
        "VISOR_OUTSIDE": visor_outside(scenario, around),
    }
    return rows | _supplied(scenario, spell, around, pressure, rows, outside)


def _supplied(
    scenario: Scenario,
    spell: Spell,
    around: Weather,
    pressure: FloatArray,
    rows: dict[str, FloatArray],
    outside: FloatArray,
) -> dict[str, FloatArray]:
    air, of, one = scenario.suit.air, scenario.of, np.ones(scenario.members)
    if spell.air == "none":
        return {
            "AIR_HELMET": rows["LEAK_HELMET"],
            "AIR_SUIT": rows["LEAK_SUIT"],
            "AIR_IN_TEMPERATURE": around.air,
            "AIR_IN_WATER": outside,
        }
    if spell.air == "facility" and scenario.station.facility:
        facility = scenario.station.facility
        temperature = of(facility.air_temperature)
        humidity = of(facility.air_relative_humidity)
        volume, warmed, needs = of(facility.air_flow), 0.0 * one, 0.0 * one
    else:
        temperature, humidity, needs = around.air, around.humidity, one
        moved = fan_flow(air_path(scenario))
        volume = np.asarray(moved.flow) * one
        warmed = np.asarray(moved.power) * of(air.fan_heat_to_air)
    water = humid_ratio(temperature, humidity, pressure)
    dry = pressure / (1.0 + water)
    flow = volume * dry / (GAS_CONSTANT * (temperature + CELSIUS_ZERO))
    helmet = of(air.helmet_share) * flow
    return {
        "AIR_HELMET": helmet,
        "AIR_SUIT": flow - helmet,
        "AIR_NEEDS_BATTERY": needs,
        "AIR_IN_TEMPERATURE": temperature + warmed / (AIR_MOLAR_HEAT * flow),
        "AIR_IN_WATER": water,
    }


def air_path(scenario: Scenario) -> AirPath:
    """The suit's fans and duct with their quantities drawn."""
    air, of = scenario.suit.air, scenario.of
    return AirPath(
        fans=float(air.fans),
        fan_shut_off_pressure=of(air.fan.shut_off_pressure),
        fan_free_flow=of(air.fan.free_flow),
        fan_power=of(air.fan.power),
        duct_pressure=of(air.duct.pressure),
        duct_flow=of(air.duct.flow),
    )


def power_rows(scenario: Scenario, spell: Spell, around: Weather) -> dict[str, FloatArray]:
    """Spell rows of the battery's load, each shape (members,)."""
    load = np.zeros(scenario.members)
    if spell.cooling == "pack":
        load = load + scenario.of(scenario.suit.water_loop.pump.power)
    if spell.air == "pack":
        load = load + np.asarray(fan_flow(air_path(scenario)).power)
    resistance = resistance_at(battery_of(scenario), around.air)
    return {"ELECTRIC_LOAD": load, "BATTERY_RESISTANCE": np.asarray(resistance)}


def schedule(
    scenario: Scenario, ready: list[Leg], pressure: FloatArray, step: float = STEP
) -> Schedule:
    """The kernel's schedule of the whole run.

    Args:
        scenario: Who, what and where.
        ready: Its spells made ready.
        pressure: Air pressure [Pa], shape (members,).
        step: Longest step [s].
    """
    steps = np.array([max(1, math.ceil(leg.duration / step - 1e-9)) for leg in ready])
    spells = [
        {
            "STEP": np.full(scenario.members, leg.duration / count),
            **spell_rows(scenario, leg, pressure),
        }
        for leg, count in zip(ready, steps, strict=True)
    ]
    around = [surrounding_rows(scenario, leg, pressure) for leg in ready]
    return new_schedule(scenario.members, stacked(spells), stacked(around), steps)


def spell_rows(scenario: Scenario, leg: Leg, pressure: FloatArray) -> dict[str, FloatArray]:
    """All spell rows of one spell but its step, each shape (members,)."""
    return {
        **work_rows(scenario, leg, pressure),
        **water_rows(scenario, leg.spell),
        **air_rows(scenario, leg.spell, leg.around, pressure),
        **power_rows(scenario, leg.spell, leg.around),
    }


def surrounding_rows(scenario: Scenario, leg: Leg, pressure: FloatArray) -> dict[str, FloatArray]:
    """Around-rows of one spell, each shape (17, members)."""
    rows = suit_surroundings(scenario, leg.around)
    if leg.spell.helmet_on:
        return rows
    return bare_head(scenario, rows, leg.around, pressure)


def stacked(rows: list[dict[str, FloatArray]]) -> dict[str, FloatArray]:
    """Rows of each spell, stacked; what a spell does not name is zero."""
    names = {name: values.shape for table in rows for name, values in table.items()}
    return {
        name: np.stack([table.get(name, np.zeros(shape)) for table in rows])
        for name, shape in names.items()
    }
