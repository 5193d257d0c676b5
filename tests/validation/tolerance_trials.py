"""The trials of published tolerance times, described from what the papers' abstracts say.

What they do not say is sampled over ranges named here and never fitted.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from suited_trials import (
    MEMBERS,
    Clothing,
    Cooling,
    People,
    Sample,
    Spell,
    Trial,
    run,
    young_men,
)
from test_suited_people import air_of_globe_temperature, suit_men

from neckring.body.walking import TERRAIN_FACTORS
from neckring.body.work import walking_metabolic_rate
from neckring.outing.limits import first_crossing

FloatArray = NDArray[np.float64]
MINUTE = 60.0


@dataclass(frozen=True)
class Stops:
    """What ends a trial: core [degC], share of the greatest heart rate [1], time [s]."""

    core: float
    heart_share: float
    longest: float


def tolerance(trial: Trial, stops: Stops) -> FloatArray:
    """When each member meets the first of the stop limits [s]."""
    course = run(trial)

    def crossed(values: FloatArray, limit: float) -> FloatArray:
        times = [first_crossing(course.time, v, limit, True, 0.0) for v in values.T]
        return np.array([np.inf if time is None else time for time in times])

    core, heart = crossed(course.core, stops.core), crossed(course.heart_share, stops.heart_share)
    return np.minimum(np.minimum(core, heart), stops.longest)


def walking(people: People, kit: float, speed: float, grade: float = 0.0) -> FloatArray:
    """Metabolic rate of walking in a kit [kg] at a speed [m/s] [W]; bulk of 5 to 20 % sampled."""
    bulk = Sample(7).between(1.05, 1.20)
    blacktop = TERRAIN_FACTORS["blacktop"]
    return np.asarray(walking_metabolic_rate(people.mass, kit, speed, grade, blacktop, bulk).likely)


# Protective clothing against chemicals: overgarment, gloves, boots, respirator

OVERGARMENT = Clothing(np.full(MEMBERS, 1.88), np.full(MEMBERS, 0.33))
KIT = 6.0
"""[kg], assumed."""
RECTAL = Stops(39.3, 0.95, 5 * 3600.0)


def walkers(women: bool) -> People:
    """The people of McLellan 1998; heart rate at rest assumed."""
    sample = Sample(98 + women)
    height, mass, age, fat = (1.65, 62.4, 23.2, 0.202) if women else (1.79, 82.7, 31.8, 0.146)
    uptake = 43.2 if women else 49.0
    return People(
        sample.around(height, 0.06),
        sample.around(mass, 7.7 if women else 12.5),
        sample.around(age, 4.5),
        sample.around(fat, 0.04),
        sample.around(uptake, 5.5) * 1e-6 / 60.0,
        sample.around(68.0, 6.0) / 60.0,
        women=women,
    )


def soldiers() -> People:
    """The people of McLellan 1993; body fat, fitness and heart rate at rest assumed."""
    sample = Sample(93)
    return People(
        sample.around(1.77, 0.08),
        sample.around(76.0, 8.0),
        sample.around(23.0, 3.0),
        sample.around(0.15, 0.04),
        sample.around(50.0, 6.0) * 1e-6 / 60.0,
        sample.around(68.0, 6.0) / 60.0,
    )


def intermittent(people: People, work: FloatArray) -> list[Spell]:
    """15 min of work and 15 min seated, for five hours."""
    return [Spell(900.0, work), Spell(900.0, 60.0 * people.area)] * 10


def light_walk(women: bool) -> Trial:
    """McLellan 1998: 40 degC, 30 %; 15 min at 4.0 km/h, 15 min seated."""
    people = walkers(women)
    return Trial(people, intermittent(people, walking(people, KIT, 1.11)), 40.0, 0.3, OVERGARMENT)


def lifting(air: float, heavy: bool, resting: bool = False) -> Trial:
    """McLellan 1993, both: 50 %; walking in turn with lifting of boxes."""
    people = soldiers()
    rate = walking(people, KIT, 1.33, 0.075) if heavy else walking(people, KIT, 1.11)
    rate = rate * Sample(10).between(0.8, 1.2)
    spells = intermittent(people, rate) if resting else [Spell(RECTAL.longest, rate)]
    return Trial(people, spells, air, 0.5, OVERGARMENT)


# Bomb disposal suits

HEAVY = Stops(39.0, 0.90, 3600.0)
SPEEDS, GLOBES = (2.5, 4.0, 5.5), (21.0, 30.0, 37.0)


@functools.cache
def air_at(globe: float) -> float:
    """Air temperature at a wet bulb globe temperature [degC]; 50 % humidity assumed."""
    return air_of_globe_temperature(globe, 0.5)


@functools.cache
def heavy_suit(kit: float) -> FloatArray:
    """Tolerance at three speeds and three climates [s], shape (speeds, climates, members)."""
    men, sample = suit_men(2014), Sample(14)
    clothing = Clothing(sample.between(2.0, 4.0), sample.between(0.05, 0.20))
    return np.array(
        [
            [
                tolerance(
                    Trial(
                        men,
                        [Spell(HEAVY.longest, walking(men, kit, speed / 3.6, 0.01))],
                        air_at(globe),
                        0.5,
                        clothing,
                    ),
                    HEAVY,
                )
                for globe in GLOBES
            ]
            for speed in SPEEDS
        ]
    )


# Vapour barrier with and without a cooled torso


@functools.cache
def hazmat(cooled: bool) -> FloatArray:
    """Exposure with and without torso cooling [s]; suit, water and garment assumed."""
    people, sample = replace(young_men(5), acclimatised=True), Sample(2005)
    clothing = Clothing(sample.between(1.0, 1.8), sample.between(0.05, 0.20))
    cooling = Cooling(
        sample.between(5.0, 15.0),
        sample.between(20.0, 60.0) / 3600.0,
        sample.between(8.0, 20.0),
        covers=(2, 3, 4),
    )
    work = [Spell(90 * MINUTE, np.full(MEMBERS, 300.0), water_on=cooled)]
    trial = Trial(people, work, 35.0, 0.5, clothing, cooling if cooled else None)
    return tolerance(trial, Stops(38.5, 0.95, 90 * MINUTE))
