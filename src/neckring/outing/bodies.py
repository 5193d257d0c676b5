"""Living bodies in a batch: set points, starting temperatures, and bare surroundings.

A body's set points are its own temperatures in a passive steady state, bare, resting and neutral
(Takahashi et al. 2021, section 2.6).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.body import anatomy, surface
from neckring.body.comfort import neutral_temperature
from neckring.constants import CARBON_DIOXIDE_IN_AIR, OXYGEN_IN_AIR, STANDARD_PRESSURE
from neckring.outing.batch import Batch, Rows, advance, fill, new_batch, new_schedule, row
from neckring.suit.moist_air import vapour_pressure

FloatArray = NDArray[np.float64]

NODES = ("ARTERY", "VEIN", "SUPERFICIAL_VEIN", "CORE", "MUSCLE", "FAT", "SKIN")
RESTING_ACTIVITY = 1.25
PASSIVE_STEPS = 10
PASSIVE_STEP = 60000.0
FIRST_GUESS = 36.0
NEUTRAL_HUMIDITY = 0.5
STILL_AIR_SPEED = 0.1


@dataclass(frozen=True)
class Control:
    """Constants of the controller beyond the published ones; each shape (members,).

    Attributes:
        sweat_gain: Factor on the sweat order; 1 is the published model.
        dilation_gain: Factor on the order to widen skin vessels; 1 is the published model.
        set_point_shift: Added to every set point and starting temperature [K]; 0 is published.
        shiver_gate: 1 lets only a cold core shiver (Asaka 2016); 0 is the published default.
        sweat_limit: Greatest sweat rate of the whole body [kg/s].
        cardiac_limit: Greatest cardiac output, as heat carried [W/K].
    """

    sweat_gain: FloatArray
    dilation_gain: FloatArray
    set_point_shift: FloatArray
    shiver_gate: FloatArray
    sweat_limit: FloatArray
    cardiac_limit: FloatArray


def published_control(members: int) -> Control:
    """The controller as published: no caps, no calibration."""
    one = np.ones(members)
    return Control(one, one, 0.0 * one, 0.0 * one, 1e6 * one, 1e9 * one)


def humid_ratio(temperature: FloatArray, humidity: FloatArray, pressure: FloatArray) -> FloatArray:
    """Moles of vapour per mole of dry air.

    Args:
        temperature: [degC]
        humidity: Relative humidity, 0..1.
        pressure: [Pa]

    Source: saturation of ASHRAE Fundamentals 2017; see `neckring.arithmetic` for the kernel's.
    """
    vapour = np.asarray(vapour_pressure(temperature, humidity))
    return np.asarray(vapour / (pressure - vapour))


def outdoor_air(temperature: FloatArray, humidity: FloatArray, pressure: FloatArray) -> Rows:
    """Spell rows of the air outside, each shape like the arguments."""
    return {
        "OUTSIDE_TEMPERATURE": temperature,
        "OUTSIDE_WATER": humid_ratio(temperature, humidity, pressure),
        "PRESSURE": pressure,
    }


def no_suit() -> Rows:
    """Spell rows of somebody who wears no suit: nothing flows, the face is in open air."""
    off = np.zeros(1)
    return {
        "OPEN_HELMET": np.full(1, 10.0),
        "CO2_PER_WATT": np.full(1, 1e-9),
        "O2_PER_WATT": np.full(1, 1e-9),
        "HEART_CORE_SLOPE": off,
        "VISOR_OUTSIDE": np.ones(1),
        "BATTERY_RESISTANCE": off,
    }


def bare_traits(members: int) -> Rows:
    """Suit traits of somebody who wears no suit, chosen so that nothing divides by zero."""
    one = np.ones(members)
    return {
        "HELMET_MOLES": one,
        "SUIT_MOLES": one,
        "FACE_SHARE": one,
        "INTERNAL_MIXING": one,
        "VISOR_INSIDE": one,
        "BATTERY_CAPACITY": one,
        "VOLTAGE_0": one,
        "RESTING_HEART_RATE": one,
        "MAXIMUM_HEART_RATE": 3.0 * one,
        "RESTING_METABOLISM": 100.0 * one,
        "MAXIMUM_METABOLISM": 1000.0 * one,
    }


def bare_surroundings(
    person: anatomy.Person,
    posture: surface.Posture,
    air: FloatArray,
    radiant: FloatArray,
    speed: FloatArray,
    clo: FloatArray,
    pressure: FloatArray,
) -> Rows:
    """Around-rows of a bare or ordinarily clothed body, each shape (17, members).

    Args:
        person: The members.
        posture: How the body is held.
        air: Air temperature [degC], shape (members,).
        radiant: Mean radiant temperature [degC], shape (members,).
        speed: Air speed [m/s], shape (members,).
        clo: Insulation of clothing, shape (17, members).
        pressure: [Pa], shape (members,).
    """
    area = anatomy.segment_areas(person)
    convective = surface.convective_coefficient(posture, speed)
    radiative = surface.radiative_coefficient(posture)[:, None]
    dry = surface.dry_conductance(convective, radiative, clo, pressure)
    return {
        "DIRECT_CONDUCTANCE": area * dry,
        "DIRECT_TEMPERATURE": surface.operative_temperature(convective, radiative, air, radiant),
        "DIRECT_VAPOUR_CONDUCTANCE": area * surface.vapour_conductance(convective, clo, pressure),
    }


def people(person: anatomy.Person, control: Control) -> Batch:
    """A batch of bodies with their set points, at rest, in no suit yet.

    Args:
        person: The members.
        control: Their controllers' constants.

    Returns:
        The batch, its temperatures at the set points.
    """
    members = len(person.height)
    batch = new_batch(members)
    _fill_anatomy(batch, person, control)
    _find_set_points(batch, person)
    shift = control.set_point_shift
    for name, node in (("SET_CORE", "CORE"), ("SET_SKIN", "SKIN")):
        fill(batch.body, {name: row(batch.state[:, :17], node, members) + shift}, members)
    for node in NODES:
        fill(batch.state, {node: row(batch.state, node, members) + shift}, members)
    central = row(batch.whole, "CENTRAL_BLOOD", members) + shift
    batch.whole[:] = 0.0
    fill(batch.whole, {"CENTRAL_BLOOD": central, "ALIVE": np.ones(members)}, members)
    set_baseline(batch)
    return batch


def _fill_anatomy(batch: Batch, person: anatomy.Person, control: Control) -> None:
    members = batch.members
    area = anatomy.surface_area(person.height, person.mass)
    ratio = anatomy.flow_ratio(person)
    one = np.ones((17, members))
    rows = dict(anatomy.segments(person))
    fill(batch.body, {**rows, "WATER_CAPACITY": one, "WALL_CAPACITY": one}, members)
    traits = {
        "BODY_MASS": person.mass,
        "AREA_RATIO": area / anatomy.REFERENCE_AREA,
        "FLOW_RATIO": ratio,
        "CENTRAL_CAPACITY": anatomy.CENTRAL_CAPACITY * anatomy.SECONDS_PER_HOUR * ratio,
        "BASAL_METABOLISM": anatomy.basal_metabolism(person),
        "SWEAT_GAIN": control.sweat_gain,
        "DILATION_GAIN": control.dilation_gain,
        "SHIVER_GATE": control.shiver_gate,
        "FEMALE": person.female.astype(np.float64),
        "SWEAT_LIMIT": control.sweat_limit,
        "CARDIAC_LIMIT": control.cardiac_limit,
        "NONSHIVER_LIMIT": anatomy.nonshivering_limit(person),
        **bare_traits(members),
    }
    fill(batch.traits, traits, members)


def _find_set_points(batch: Batch, person: anatomy.Person) -> None:
    members = batch.members
    one = np.ones(members)
    basal = anatomy.basal_metabolism(person)
    area = anatomy.surface_area(person.height, person.mass)
    neutral = neutral_temperature(RESTING_ACTIVITY * basal / area)
    pressure = STANDARD_PRESSURE * one
    around = bare_surroundings(
        person,
        "standing",
        neutral,
        neutral,
        STILL_AIR_SPEED * one,
        np.zeros((17, members)),
        pressure,
    )
    spells = {
        "STEP": PASSIVE_STEP * one,
        "METABOLIC_RATE": RESTING_ACTIVITY * basal,
        **outdoor_air(neutral, NEUTRAL_HUMIDITY * one, pressure),
        **no_suit(),
    }
    schedule = new_schedule(
        members,
        {name: np.atleast_2d(values) for name, values in spells.items()},
        {name: values[None] for name, values in around.items()},
        np.array([PASSIVE_STEPS]),
    )
    fill(batch.state, {node: np.full((18, members), FIRST_GUESS) for node in NODES}, members)
    start_outside(batch, neutral, NEUTRAL_HUMIDITY * one, pressure)
    fill(batch.whole, {"CENTRAL_BLOOD": FIRST_GUESS * one}, members)
    advance(batch, schedule, active=False)


def start_outside(
    batch: Batch, air: FloatArray, humidity: FloatArray, pressure: FloatArray
) -> None:
    """Fill helmet, suit and water of a batch with what is outside, each shape (members,)."""
    members = batch.members
    one = np.ones(members)
    water = humid_ratio(air, humidity, pressure)
    vapour = water / (1.0 + water) * pressure
    gas = {
        "HELMET_WATER": water,
        "SUIT_WATER": water,
        "HELMET_CO2": CARBON_DIOXIDE_IN_AIR * one,
        "SUIT_CO2": CARBON_DIOXIDE_IN_AIR * one,
        "HELMET_O2": OXYGEN_IN_AIR * one,
        "SUIT_O2": OXYGEN_IN_AIR * one,
        "HELMET_TEMPERATURE": air,
        "SUIT_TEMPERATURE": air,
        "INSPIRED_TEMPERATURE": air,
        "INSPIRED_WATER_PRESSURE": vapour,
        "RESERVOIR": air,
        "RESERVOIR_WATER": one,
        "INLET_WATER": air,
        "MEAN_SKIN": 34.0 * one,
        "ALIVE": one,
        "CHARGE": one,
    }
    fill(batch.whole, gas, members)
    for node in ("GARMENT_WATER", "WALL"):
        fill(batch.state, {node: air * np.ones((18, members))}, members)


def stored_heat(batch: Batch) -> FloatArray:
    """Heat in the body's own tissue and blood, from 0 degC [J], shape (members,)."""
    members = batch.members
    total = row(batch.traits, "CENTRAL_CAPACITY", members) * row(
        batch.whole, "CENTRAL_BLOOD", members
    )
    for node, capacity in zip(NODES, _CAPACITIES, strict=True):
        heat = row(batch.body, capacity, members) * row(batch.state[:, :17], node, members)
        # One segment after the other: a library's sum depends on how many members there are.
        total = sum(heat, start=total)
    return np.asarray(total)


_CAPACITIES = (
    "ARTERY_CAPACITY",
    "VEIN_CAPACITY",
    "SUPERFICIAL_CAPACITY",
    "CORE_CAPACITY",
    "MUSCLE_CAPACITY",
    "FAT_CAPACITY",
    "SKIN_CAPACITY",
)


def set_baseline(batch: Batch) -> None:
    """Take the present temperatures as the wearer's own baseline."""
    members = batch.members
    core = row(batch.state[:, 4:5], "CORE", members)[0]
    baseline = {"CORE_BASELINE": core, "STORAGE_BASELINE": stored_heat(batch)}
    fill(batch.whole, baseline, members)
