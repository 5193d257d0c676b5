"""Bodies and surroundings, described without any model, on which models are compared.

All cases here are ours; those of published experiments are in `human_series`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Posture = Literal["standing", "sitting", "lying"]
Sex = Literal["male", "female"]

HOUR = 3600.0
BARE = (0.0,) * 17
# Short-sleeved shirt, trousers, shoes, by segment in the order of `neckring.lanes.SEGMENT_NAMES`
# [clo]; assumed.
LIGHT = (0, 0, 0.8, 0.8, 1.2, 0.6, 0, 0, 0.6, 0, 0, 0.7, 0.5, 0.8, 0.7, 0.5, 0.8)
# One clo everywhere but on head, neck and hands; assumed.
WORK = (0, 0, 1, 1, 1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 1, 1, 1)


@dataclass(frozen=True)
class Phase:
    """Surroundings and work that stay the same for a while.

    Attributes:
        duration: [s].
        air: Air temperature [degC].
        radiant: Mean radiant temperature [degC].
        relative_humidity: 0..1.
        air_speed: [m/s].
        activity_ratio: Metabolic rate over basal metabolic rate [1], without shivering.
        step: Time step asked of the oracles [s].
    """

    duration: float
    air: float
    radiant: float
    relative_humidity: float = 0.5
    air_speed: float = 0.1
    activity_ratio: float = 1.25
    step: float = 60.0


@dataclass(frozen=True)
class BodyCase:
    """One body through its phases, starting at its own set points (neutral, bare, resting).

    Attributes:
        name: Says what is special in it.
        height: [m].
        mass: [kg].
        body_fat: Fraction of body mass, 0..1.
        age: [years].
        sex: "male" or "female".
        posture: How the body is held throughout.
        clothing: Insulation of each of the 17 segments [clo].
        phases: One after the other.
    """

    name: str
    phases: tuple[Phase, ...]
    height: float = 1.72
    mass: float = 74.43
    body_fat: float = 0.15
    age: int = 20
    sex: Sex = "male"
    posture: Posture = "standing"
    clothing: tuple[float, ...] = field(default=BARE)

    @property
    def duration(self) -> float:
        """Of all phases [s]."""
        return sum(phase.duration for phase in self.phases)


def room(temperature: float, hours: float = 2.0, **rest: float) -> Phase:
    """A phase with radiant temperature equal to air temperature [degC]."""
    return Phase(duration=hours * HOUR, air=temperature, radiant=temperature, **rest)


def steady(name: str, temperature: float, hours: float = 2.0, **rest: object) -> BodyCase:
    """A case of one phase; body's own fields and the phase's may be given by name."""
    of_phase = {
        k: rest.pop(k) for k in ("relative_humidity", "air_speed", "activity_ratio") if k in rest
    }
    return BodyCase(name=name, phases=(room(temperature, hours, **of_phase),), **rest)


SMALL_WOMAN = {"height": 1.55, "mass": 52.0, "body_fat": 0.24, "age": 24, "sex": "female"}
TALL_MAN = {"height": 1.93, "mass": 98.0, "body_fat": 0.19, "age": 34}
LEAN_MAN = {"height": 1.78, "mass": 66.0, "body_fat": 0.10, "age": 22}
HEAVY_MAN = {"height": 1.75, "mass": 108.0, "body_fat": 0.32, "age": 46}
OLDER_WOMAN = {"height": 1.63, "mass": 71.0, "body_fat": 0.33, "age": 63, "sex": "female"}
OLDER_MAN = {"height": 1.74, "mass": 79.0, "body_fat": 0.26, "age": 70}

CASES: tuple[BodyCase, ...] = (
    steady("cold room, bare", 15.0, relative_humidity=0.4),
    steady("cool room, bare small woman", 20.0, **SMALL_WOMAN),
    steady("cool windy room, bare lean man", 22.0, air_speed=0.6, **LEAN_MAN),
    steady("cool room, lying heavy man", 24.0, posture="lying", **HEAVY_MAN),
    steady("slightly cool room, sitting", 26.0, posture="sitting", relative_humidity=0.2),
    steady("near neutral", 28.8, 4.0),
    steady("near neutral, resting at basal rate", 30.0, activity_ratio=1.0),
    steady("warm, sitting tall man", 32.0, posture="sitting", relative_humidity=0.6, **TALL_MAN),
    steady("warm and damp, older woman", 33.0, relative_humidity=0.8, **OLDER_WOMAN),
    steady("hot, standing", 35.0, relative_humidity=0.3),
    steady("hot and damp, sitting small woman", 36.0, 2.0, posture="sitting", relative_humidity=0.7,
           **SMALL_WOMAN),
    steady("hot, older man", 38.0, relative_humidity=0.3, **OLDER_MAN),
    steady("very hot and dry, lying", 42.0, posture="lying", relative_humidity=0.2),
    steady("very hot and windy", 42.0, 1.0, air_speed=1.0, relative_humidity=0.25, **TALL_MAN),
    steady("light clothes, light work, cool", 18.0, clothing=LIGHT, activity_ratio=1.8,
           air_speed=0.3),
    steady("light clothes, walking, mild", 22.0, clothing=LIGHT, activity_ratio=3.0, air_speed=1.0,
           **LEAN_MAN),
    steady("work clothes, walking, warm", 28.0, clothing=WORK, activity_ratio=3.0, air_speed=0.5,
           **TALL_MAN),
    steady("work clothes, hard work, hot", 32.0, 1.0, clothing=WORK, activity_ratio=4.0,
           relative_humidity=0.4),
    steady("bare, hard work, mild", 25.0, 1.0, activity_ratio=4.0, air_speed=1.0),
    steady("work clothes, rest, cold", 15.0, clothing=WORK, posture="sitting", **OLDER_MAN),
    steady("light clothes, light work, older woman", 27.0, clothing=LIGHT, activity_ratio=2.0,
           **OLDER_WOMAN),
    steady("heavy man working in light clothes", 26.0, clothing=LIGHT, activity_ratio=2.5,
           **HEAVY_MAN),
    BodyCase("radiant heat, cool air", (Phase(2 * HOUR, 22.0, 40.0, 0.5, 0.2),), **LEAN_MAN),
    BodyCase("cold walls, warm air", (Phase(2 * HOUR, 32.0, 18.0, 0.4, 0.15),), posture="sitting"),
    BodyCase("neutral, hot, neutral", (room(28.8, 1.0), room(40.0, 1.0), room(28.8, 1.0))),
    BodyCase("neutral, cold, hot", (room(29.0, 1.0), room(16.0, 1.5), room(41.0, 1.0)),
             posture="sitting", **TALL_MAN),
    BodyCase("hot, cold, small woman", (room(38.0, 1.0), room(20.0, 1.5)), **SMALL_WOMAN),
    BodyCase(
        "rest, work, rest in light clothes",
        (room(24.0, 0.5), room(24.0, 1.0, activity_ratio=4.0, air_speed=1.0), room(24.0, 1.0)),
        clothing=LIGHT,
    ),
    BodyCase(
        "work then rest in work clothes, hot",
        (room(34.0, 0.75, activity_ratio=3.0, air_speed=0.5), room(34.0, 0.75)),
        clothing=WORK,
        **OLDER_MAN,
    ),
)  # fmt: skip
"""Cases of ours, bare to work clothes, over the range in which jos3 and our body should agree."""


@dataclass(frozen=True)
class OracleRow:
    """What jos3 0.5.0 answers at the end of a case, kept so that a changed oracle shows."""

    case: BodyCase
    mean_skin: float
    head_core: float
    cardiac_output: float
    metabolic_rate: float


LITRE_PER_HOUR = 1e-3 / 3600.0

ORACLE_ROWS = (
    OracleRow(steady("28.8 degC, rest", 28.8, 4.0), 34.605, 37.053, 315.7 * LITRE_PER_HOUR, 111.0),
    OracleRow(steady("40 degC, rest", 40.0, 4.0), 36.289, 37.568, 378.4 * LITRE_PER_HOUR, 110.0),
    OracleRow(steady("20 degC, rest", 20.0, 4.0), 29.891, 36.780, 342.9 * LITRE_PER_HOUR, 176.1),
    OracleRow(
        steady("35 degC, work", 35.0, 4.0, activity_ratio=3.0),
        35.887,
        37.865,
        547.4 * LITRE_PER_HOUR,
        263.9,
    ),
)
"""Bare standing default body, relative humidity 0.5, air at 0.1 m/s, four hours of 60 s steps."""
