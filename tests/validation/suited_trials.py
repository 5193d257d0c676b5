"""Trials on people as our body computes them: clothed or in a suit, with or without cooling.

What a paper does not give is sampled over the range in `data/human_trials.yaml`, never fitted.
Clothing that breathes is insulation and a vapour permeability index on the whole body, as those
papers state it; our closed suit would need its air path, which they do not have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from neckring.body import anatomy
from neckring.body.calibration import DILATION_GAIN, SWEAT_GAIN
from neckring.body.capacity import (
    cardiac_limit,
    dehydration_slope,
    heart_rate_slope,
    maximum_heart_rate,
    maximum_metabolic_rate,
    sweat_limit,
)
from neckring.outing.batch import Batch, Rows, advance, fill, new_schedule, row
from neckring.outing.bodies import (
    Control,
    bare_surroundings,
    no_suit,
    outdoor_air,
    people,
    start_outside,
)
from neckring.outing.kernel import RECORDED
from neckring.outing.trace import recorded

FloatArray = NDArray[np.float64]
MEMBERS = 64
PRESSURE = 101_325.0
CLO = 0.155
LEWIS_RATIO = 16.5e-3
LITRE_OF_OXYGEN = 1e-3 / 60.0
"""[m3/s] in a litre a minute."""
COVERED = (2, 3, 4, 5, 8, 11, 12, 14, 15)
"""Trunk, upper arms, thighs and lower legs: about the 72 % of the body that the trials covered."""


class Sample:
    """Repeatable values between bounds, one for each member."""

    def __init__(self, seed: int, members: int = MEMBERS) -> None:
        self._random = np.random.default_rng(seed)
        self.members = members

    def between(self, low: float, high: float) -> FloatArray:
        return self._random.uniform(low, high, self.members)

    def around(self, mean: float, deviation: float) -> FloatArray:
        """Normal, cut at two deviations."""
        drawn = self._random.normal(mean, deviation, self.members)
        return np.clip(drawn, mean - 2 * deviation, mean + 2 * deviation)


@dataclass(frozen=True)
class People:
    """Sampled people, each field shape (members,) in SI; uptake per body mass [m3/(s kg)]."""

    height: FloatArray
    mass: FloatArray
    age: FloatArray
    body_fat: FloatArray
    uptake: FloatArray
    resting_heart_rate: FloatArray
    women: bool = False
    acclimatised: bool = False

    @property
    def area(self) -> FloatArray:
        return anatomy.surface_area(self.height, self.mass)

    @property
    def members(self) -> int:
        return len(self.height)


def young_men(seed: int, members: int = MEMBERS) -> People:
    """Soldiers and students as such trials have them; sampled, assumed."""
    sample = Sample(seed, members)
    return People(
        height=sample.around(1.77, 0.06),
        mass=sample.around(79.0, 8.0),
        age=sample.around(23.0, 3.0),
        body_fat=sample.around(0.16, 0.04),
        uptake=sample.around(52.0, 5.0) * 1e-6 / 60.0,
        resting_heart_rate=sample.around(68.0, 6.0) / 60.0,
    )


@dataclass(frozen=True)
class Spell:
    """One stretch of a trial.

    Attributes:
        duration: [s]
        metabolic_rate: [W], shape (members,).
        water_on: Whether water runs through the garment.
        external_work: [W]
    """

    duration: float
    metabolic_rate: FloatArray
    water_on: bool = False
    external_work: FloatArray | float = 0.0


@dataclass(frozen=True)
class Clothing:
    """Insulation [clo] and permeability index [1] of all that is worn, air layer included."""

    insulation: FloatArray
    permeability: FloatArray


@dataclass(frozen=True)
class Cooling:
    """A garment: conductance [W/K], flow [kg/s], water in [degC], segments it covers."""

    conductance: FloatArray
    flow: FloatArray
    inlet: FloatArray
    covers: Sequence[int] = COVERED


@dataclass(frozen=True)
class Trial:
    """People in a climate; temperatures [degC], humidity [1], air speed [m/s]."""

    people: People
    spells: Sequence[Spell]
    air: FloatArray | float
    humidity: FloatArray | float
    clothing: Clothing | None = None
    cooling: Cooling | None = None
    air_speed: FloatArray | float = 0.3
    immersed: FloatArray | None = None

    def without_cooling(self) -> Trial:
        return replace(self, cooling=None)


@dataclass(frozen=True)
class Course:
    """What happened, each shape (samples, members); heart rates in beats a minute."""

    time: FloatArray
    core: FloatArray
    rise: FloatArray
    mean_skin: FloatArray
    heart_rate: FloatArray
    heart_share: FloatArray
    storage: FloatArray
    water_heat: FloatArray
    water_loss: FloatArray
    heat_production: FloatArray
    batch: Batch = field(repr=False)


def run(trial: Trial, step: float = 20.0) -> Course:
    """Compute a trial."""
    people_, members = trial.people, trial.people.members
    one = np.ones(members)
    batch = _dressed(trial)
    around = _surroundings(trial)
    counts = np.array([max(1, round(s.duration / step)) for s in trial.spells])
    air, damp = trial.air * one, trial.humidity * one
    rows = [
        {
            "STEP": one * spell.duration / count,
            "METABOLIC_RATE": spell.metabolic_rate * one,
            "EXTERNAL_WORK": spell.external_work * one,
            **{name: value * one for name, value in no_suit().items()},
            **outdoor_air(air, damp, PRESSURE * one),
            "HEART_CORE_SLOPE": heart_rate_slope(spell.metabolic_rate * one, people_.mass),
            **_water(trial, spell),
        }
        for spell, count in zip(trial.spells, counts, strict=True)
    ]
    spells = {name: np.stack([part[name] for part in rows]) for name in rows[0]}
    everywhere = {name: np.stack([values] * len(rows)) for name, values in around.items()}
    records = advance(batch, new_schedule(members, spells, everywhere, counts), every=1)
    core = records[:, len(RECORDED)]
    heart = recorded(records, "HEART_RATE")
    return Course(
        time=recorded(records, "ELAPSED")[:, 0],
        core=core,
        rise=core - row(batch.whole, "CORE_BASELINE", members),
        mean_skin=recorded(records, "MEAN_SKIN"),
        heart_rate=60.0 * heart,
        heart_share=heart / maximum_heart_rate(people_.age),
        storage=recorded(records, "STORAGE") / people_.mass,
        water_heat=recorded(records, "WATER_HEAT"),
        water_loss=recorded(records, "BODY_WATER_LOSS"),
        heat_production=recorded(records, "METABOLIC_HEAT"),
        batch=batch,
    )


def _dressed(trial: Trial) -> Batch:
    who = trial.people
    members, one = who.members, np.ones(who.members)
    person = anatomy.Person(
        height=who.height,
        mass=who.mass,
        age=who.age,
        female=np.full(members, who.women),
        body_fat=who.body_fat,
        cardiac_index=2.59 * one,
    )
    control = Control(
        sweat_gain=SWEAT_GAIN * one,
        dilation_gain=DILATION_GAIN * one,
        set_point_shift=0.0 * one,
        shiver_gate=one,
        sweat_limit=sweat_limit(who.area, who.acclimatised),
        cardiac_limit=cardiac_limit(who.uptake * who.mass),
    )
    batch = people(person, control)
    start_outside(batch, trial.air * one, trial.humidity * one, PRESSURE * one)
    traits = {
        "RESTING_HEART_RATE": who.resting_heart_rate,
        "MAXIMUM_HEART_RATE": maximum_heart_rate(who.age),
        "RESTING_METABOLISM": 1.25 * anatomy.basal_metabolism(person),
        "MAXIMUM_METABOLISM": maximum_metabolic_rate(who.uptake * who.mass),
        "DEHYDRATION_SLOPE": dehydration_slope() * one,
    }
    fill(batch.traits, traits, members)
    if trial.cooling is not None:
        share = np.zeros(17)
        share[list(trial.cooling.covers)] = anatomy.AREA[list(trial.cooling.covers)]
        share = share[:, None] / share.sum()
        garment = {
            "GARMENT_CONDUCTANCE": share * trial.cooling.conductance,
            "GARMENT_FLOW_SHARE": share * one,
            # 0.4 kg of water in the tubes; assumed.
            "WATER_CAPACITY": np.maximum(share * 0.4 * 4186.0, 1.0) * one,
        }
        fill(batch.body, garment, members)
    return batch


def _water(trial: Trial, spell: Spell) -> Rows:
    one = np.ones(trial.people.members)
    if trial.cooling is None:
        return {"WATER_ON": 0.0 * one, "SUPPLY_WATER": 20.0 * one, "FLOW_0": 0.0 * one}
    return {
        "WATER_ON": float(spell.water_on) * one,
        "SUPPLY_WATER": trial.cooling.inlet * one,
        "FLOW_0": trial.cooling.flow * one,
    }


def _surroundings(trial: Trial) -> Rows:
    who = trial.people
    members, one = who.members, np.ones(who.members)
    person = anatomy.Person(
        who.height, who.mass, who.age, np.full(members, who.women), who.body_fat, 2.59 * one
    )
    area = anatomy.AREA[:, None] / anatomy.REFERENCE_AREA * who.area
    air = trial.air * one
    if trial.immersed is not None:
        # Skin within 0.3 K of stirred water, no vapour.
        water = np.ones((17, 1)) * trial.immersed
        return {
            "DIRECT_CONDUCTANCE": 300.0 * area,
            "DIRECT_TEMPERATURE": water,
            "DIRECT_VAPOUR_CONDUCTANCE": 0.0 * area,
        }
    if trial.clothing is None:
        nude = np.zeros((17, members))
        speed = trial.air_speed * one
        return bare_surroundings(person, "standing", air, air, speed, nude, PRESSURE * one)
    resistance = CLO * trial.clothing.insulation
    wet = LEWIS_RATIO * trial.clothing.permeability / resistance
    return {
        "DIRECT_CONDUCTANCE": area / resistance,
        "DIRECT_TEMPERATURE": np.ones((17, 1)) * air,
        "DIRECT_VAPOUR_CONDUCTANCE": area * wet,
    }


def first_over(course: Course, values: FloatArray, limit: float) -> FloatArray:
    """When each member's value first is over a limit [s]; infinite when never."""
    over = values > limit
    first = np.where(over.any(axis=0), over.argmax(axis=0), -1)
    return np.where(first >= 0, course.time[first], np.inf)


def at(course: Course, values: FloatArray, time: float) -> FloatArray:
    """Values at a time [s], shape (members,)."""
    return values[int(np.argmin(np.abs(course.time - time)))]


def nearest(values: FloatArray, wanted: float) -> float:
    """The sampled value nearest to the measured one: does the band meet it?"""
    return float(values[np.argmin(np.abs(values - wanted))])
