"""Our own body on the cases of `body_cases`, bare or lightly clothed, without a suit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from body_cases import BodyCase, Phase
from numpy.typing import NDArray

from neckring.body import anatomy
from neckring.outing.batch import Batch, Rows, advance, fill, new_schedule, row
from neckring.outing.bodies import (
    Control,
    bare_surroundings,
    no_suit,
    outdoor_air,
    people,
    published_control,
    start_outside,
)
from neckring.outing.kernel import RECORDED
from neckring.outing.trace import recorded

FloatArray = NDArray[np.float64]
PRESSURE = 101330.0
BLOOD_HEAT = 1.067 * 3600.0e3


@dataclass(frozen=True)
class Course:
    """A body's course; n samples, the first after one step."""

    time: FloatArray
    mean_skin: FloatArray
    pelvis_core: FloatArray
    head_core: FloatArray
    cardiac_output: FloatArray
    skin: FloatArray
    core: FloatArray
    batch: Batch


def person_of(case: BodyCase) -> anatomy.Person:
    """The case's person as a batch of one."""
    return anatomy.Person(
        height=np.array([case.height]),
        mass=np.array([case.mass]),
        age=np.array([float(case.age)]),
        female=np.array([case.sex == "female"]),
        body_fat=np.array([case.body_fat]),
        cardiac_index=np.array([2.59]),
    )


def phase_rows(
    case: BodyCase, person: anatomy.Person, phase: Phase, count: int, basal: FloatArray
) -> tuple[Rows, Rows]:
    """Spell rows and around rows of one phase."""
    one = np.ones(1)
    spells = {
        "STEP": one * phase.duration / count,
        "METABOLIC_RATE": phase.activity_ratio * basal,
        **outdoor_air(one * phase.air, one * phase.relative_humidity, one * PRESSURE),
        **no_suit(),
    }
    around = bare_surroundings(
        person,
        case.posture,
        one * phase.air,
        one * phase.radiant,
        one * phase.air_speed,
        np.array(case.clothing, dtype=np.float64)[:, None],
        one * PRESSURE,
    )
    return spells, around


def run_case(
    case: BodyCase, control: Control | None = None, step: float | None = None, **body: float
) -> Course:
    """Run one case; `step` overrides the phases' own [s], `body` rows get factors."""
    person = person_of(case)
    batch = people(person, control or published_control(1))
    for name, value in body.items():
        fill(batch.body, {name: value * row(batch.body, name, 1)}, 1)
    first = case.phases[0]
    one = np.ones(1)
    start_outside(batch, one * first.air, one * first.relative_humidity, one * PRESSURE)
    counts = [round(phase.duration / (step or phase.step)) for phase in case.phases]
    rows = [
        phase_rows(case, person, phase, count, row(batch.traits, "BASAL_METABOLISM", 1))
        for phase, count in zip(case.phases, counts, strict=True)
    ]
    spells = {name: np.stack([s[name] for s, _ in rows]) for name in rows[0][0]}
    around = {name: np.stack([a[name] for _, a in rows]) for name in rows[0][1]}
    records = advance(batch, new_schedule(1, spells, around, np.array(counts)), every=1)
    return Course(
        time=recorded(records, "ELAPSED")[:, 0],
        mean_skin=recorded(records, "MEAN_SKIN")[:, 0],
        pelvis_core=records[:, len(RECORDED), 0],
        head_core=records[:, len(RECORDED) + 1, 0],
        cardiac_output=recorded(records, "CARDIAC_OUTPUT")[:, 0] / BLOOD_HEAT,
        skin=row(batch.state[:, :17], "SKIN", 1)[:, 0],
        core=row(batch.state[:, :17], "CORE", 1)[:, 0],
        batch=batch,
    )
