"""More published exposures that ended at a limit, beside those of `tolerance_trials`.

What a text does not give is sampled, as in `suited_trials`; each trial says what that is. All of it
was written down before the first prediction was seen, and is not to be changed after it.
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray
from suited_trials import (
    MEMBERS,
    Clothing,
    Cooling,
    Course,
    People,
    Sample,
    Spell,
    Trial,
    first_over,
    run,
    young_men,
)
from test_suited_people import air_of_globe_temperature, suit_men

from neckring.body.walking import TERRAIN_FACTORS
from neckring.body.work import walking_metabolic_rate

FloatArray = NDArray[np.float64]
MINUTE = 60.0
BULK = (1.05, 1.20)
"""Stiff clothing makes the same work dearer by so much; assumed, as for the other trials."""
SPEEDS = (2.5, 4.0, 5.5)
GLOBES = (21.0, 30.0, 37.0)


def stopped(course: Course, core: float, heart: FloatArray | None = None) -> FloatArray:
    """When each member first crosses a core temperature, or a limit of the heart [s].

    Args:
        course: Of the trial.
        core: [degC]
        heart: Readings of the heart over their limit, shape (samples, members); None for none.

    Returns:
        Infinite for those who cross none.
    """
    hot = first_over(course, course.core, core)
    return hot if heart is None else np.minimum(hot, first_over(course, heart, 1.0))


def walking(
    people: People, carried: FloatArray | float, speed: float, grade: float, sample: Sample
) -> FloatArray:
    """Metabolic rate of a walk at a speed [km/h] with what is worn [kg], as clothing slows [W]."""
    rate = walking_metabolic_rate(
        people.mass,
        carried,
        speed / 3.6,
        grade,
        TERRAIN_FACTORS["blacktop"],
        sample.between(*BULK),
    )
    return np.asarray(rate.likely)


@functools.cache
def heavy_suit_over_chemical_clothing(speed: float, globe: float) -> tuple[FloatArray, FloatArray]:
    """Times to 90 % of the greatest heart rate and to 39 degC within an hour [s].

    Costello et al. 2015, both papers: more than 35 kg, suit as for Stewart 2014 with a layer more.
    Sampled: 36 to 40 kg worn, 2.5 to 4.5 clo, index 0.05 to 0.20, humidity 50 %.
    """
    men, sample = suit_men(2015), Sample(15)
    rate = walking(men, sample.between(36.0, 40.0), speed, 0.01, sample)
    clothing = Clothing(sample.between(2.5, 4.5), sample.between(0.05, 0.20))
    air = air_of_globe_temperature(globe, 0.5)
    course = run(Trial(men, [Spell(3600.0, rate)], air, 0.5, clothing))
    return (
        first_over(course, course.heart_share, 0.90),
        first_over(course, course.core, 39.0),
    )


def heavy_suit_cases() -> tuple[FloatArray, FloatArray]:
    """The same for all nine of speed and climate, each shape (9 MEMBERS,)."""
    every = [heavy_suit_over_chemical_clothing(s, g) for s in SPEEDS for g in GLOBES]
    heart, core = zip(*every, strict=True)
    return np.concatenate(heart), np.concatenate(core)


@functools.cache
def chemical_garment(globe: float, humidity: float) -> FloatArray:
    """Maley 2017: 4 km/h, 1 %, at most 120 min, 39 degC or 90 % of the greatest heart rate [s].

    Sampled: 5 to 12 kg worn, 1.5 to 2.5 clo less what walking takes, index 0.25 to 0.40.
    """
    men, sample = suit_men(2017), Sample(17)
    rate = walking(men, sample.between(5.0, 12.0), 4.0, 0.01, sample)
    insulation = sample.between(1.5, 2.5) * sample.between(0.6, 1.0)
    clothing = Clothing(insulation, sample.between(0.25, 0.40))
    air = air_of_globe_temperature(globe, humidity)
    course = run(Trial(men, [Spell(7200.0, rate)], air, humidity, clothing))
    return np.minimum(stopped(course, 39.0, course.heart_share / 0.90), 7200.0)


@functools.cache
def overgarment_in_the_cool() -> FloatArray:
    """ASTM 1992: 1.34 m/s, level, 18 degC, 70 %, wind 1.1 m/s, 100 min; 39 degC or 180/min [s].

    Sampled: 5 to 9 kg worn, clothing as for Maley 2017.
    """
    men, sample = young_men(1992), Sample(92)
    rate = walking(men, sample.between(5.0, 9.0), 1.34 * 3.6, 0.0, sample)
    insulation = sample.between(1.5, 2.5) * sample.between(0.6, 1.0)
    clothing = Clothing(insulation, sample.between(0.25, 0.40))
    course = run(Trial(men, [Spell(6000.0, rate)], 18.0, 0.70, clothing, air_speed=1.1))
    return stopped(course, 39.0, course.heart_rate / 180.0)


@functools.cache
def closed_suit_with_cooled_trunk(air: float, humidity: float) -> FloatArray:
    """Berglund 2004: rest 10, walk 20 min, 303 W on average; 38.3 degC or 150/min [s].

    Sampled: 253 to 353 W on average with 120 W at rest, 1.5 to 2.5 clo, index 0.03 to 0.12, water
    of 10 to 22 degC at 45 to 109 kg/h over chest, back and arms, 8 to 20 W/K.
    """
    men, sample = young_men(2004), Sample(4)
    walk = 1.5 * sample.between(253.0, 353.0) - 60.0
    spells = [Spell(600.0, np.full(MEMBERS, 120.0), True), Spell(1200.0, walk, True)] * 10
    cooling = Cooling(
        sample.between(8.0, 20.0),
        sample.between(45.0, 109.0) / 3600.0,
        sample.between(10.0, 22.0),
        (2, 3, 5, 8),
    )
    clothing = Clothing(sample.between(1.5, 2.5), sample.between(0.03, 0.12))
    course = run(Trial(men, spells, air, humidity, clothing, cooling, air_speed=0.9))
    return stopped(course, 38.3, course.heart_rate / 150.0)


@functools.cache
def warm_water(water: float, peak: float) -> FloatArray:
    """PMC6620004: fully immersed at work until the core that was reached on average [s].

    Sampled: 390 to 640 W, of which 50 to 114 W go outside; body mass as published.
    """
    sample = Sample(2019)
    men = young_men(19)
    men = People(**{**vars(men), "mass": sample.around(87.3, 12.3)})
    rate = sample.between(390.0, 640.0)
    spell = Spell(4 * 3600.0, rate, external_work=sample.between(50.0, 114.0))
    course = run(Trial(men, [spell], water, 0.7, immersed=np.full(MEMBERS, water)))
    return stopped(course, peak)


@functools.cache
def vapour_barrier(watts: tuple[float, float], air: tuple[float, float]) -> FloatArray:
    """Work in a vapour barrier until a core of 38.0 degC, an oral temperature of 37.6 degC [s].

    Sampled: work [W] and air [degC] between the bounds, 1.2 to 2.0 clo, index 0.03 to 0.12,
    humidity 40 to 70 %. Core over mouth 0.4 K, from memory.
    """
    men, sample = young_men(1985), Sample(85)
    clothing = Clothing(sample.between(1.2, 2.0), sample.between(0.03, 0.12))
    spell = Spell(4 * 3600.0, sample.between(*watts))
    climate = sample.between(*air), sample.between(0.40, 0.70)
    return stopped(run(Trial(men, [spell], *climate, clothing)), 38.0)


@functools.cache
def bomb_disposal_in_the_tropics() -> FloatArray:
    """Longdom 2013: 23.4 % work, 27.1 to 31.8 degC, 66 to 88 %, suit of 32 kg; 39 degC [s].

    Sampled: work 400 to 600 W in spells of 5 min, 110 to 150 W between, 2 to 4 clo, index 0.05 to
    0.20 (the helmet is off in rests, which the trial does not know).
    """
    sample = Sample(2013)
    men = People(
        height=sample.around(1.823, 0.054),
        mass=sample.around(95.0, 4.0),
        age=sample.around(34.0, 2.0),
        body_fat=sample.around(0.20, 0.04),
        uptake=sample.around(46.0, 5.7) * 1e-6 / 60.0,
        resting_heart_rate=sample.between(55.0, 75.0) / 60.0,
        acclimatised=True,
    )
    work, rest = sample.between(400.0, 600.0), sample.between(110.0, 150.0)
    spells = [Spell(300.0, work), Spell(980.0, rest)] * 8
    clothing = Clothing(sample.between(2.0, 4.0), sample.between(0.05, 0.20))
    climate = sample.between(27.1, 31.8), sample.between(0.66, 0.88)
    return stopped(run(Trial(men, spells, *climate, clothing)), 39.0)


@functools.cache
def pump_stops(watts: float) -> Course:
    """An hour cooled by 16 degC at 109 kg/h and 30 W/K on trunk and limbs, then no water.

    jos3's own case: 1.5 clo with an air layer of 0.55 clo about it, vapour index 0.01, 24 degC,
    50 %, its default body.
    """
    one = np.ones(1)
    body = People(1.72 * one, 74.43 * one, 20.0 * one, 0.15 * one, 45e-6 / 60.0 * one, 1.1 * one)
    cooling = Cooling(
        30.0 * one, 109.0 / 3600.0 * one, 16.0 * one, (2, 3, 4, 5, 6, 8, 9, 11, 12, 14, 15)
    )
    spells = [Spell(3600.0, watts * one, True), Spell(3 * 3600.0, watts * one, False)]
    return run(Trial(body, spells, 24.0, 0.5, Clothing(2.05 * one, 0.01 * one), cooling))
