"""A logged run gone through again by members of the one kernel, through the spells really begun."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from neckring.calibration.logged import Logged, round_times, when
from neckring.constants import CELSIUS_ZERO, GAS_CONSTANT
from neckring.live.hidden_values import WORK_LASTS, WORK_SPREAD, Doubts, doubts_of
from neckring.live.likelihood import QUANTITIES, readings
from neckring.live.members import Carried, Loop, Members, Suited
from neckring.outing.scenario import Scenario
from neckring.outing.spells import Leg

FloatArray = NDArray[np.float64]

STEP = 10.0
"""Longest step [s]; as that of a plan."""

KNOTS = 240.0
"""Between two values of the work factor, which wanders [s]."""

AIR_FLOW = "air_flow"
LEARNED_FROM = (*QUANTITIES, AIR_FLOW)
"""Quantities whose readings can be computed, and so be learned from."""


@dataclass(frozen=True, eq=False)
class Course:
    """One logged run, made ready to be gone through.

    Attributes:
        scenario: The run as written, one member.
        logged: What was done and read.
    """

    scenario: Scenario
    logged: Logged

    @cached_property
    def doubts(self) -> Doubts:
        """What differs between members."""
        return doubts_of(self.scenario)

    @cached_property
    def loop(self) -> Loop:
        """The suit's water loop."""
        return Loop(self.scenario)

    @cached_property
    def rounds(self) -> FloatArray:
        """Run times at which readings are compared [s]."""
        return round_times(self.logged.doings, self.logged.until)

    @cached_property
    def knots(self) -> FloatArray:
        """Run times at which the work factor has a value of its own [s]."""
        begins, ends = self.logged.doings[0].begun, self.logged.until
        count = max(2, int(np.ceil((ends - begins) / KNOTS)) + 1)
        return np.linspace(begins, max(ends, begins + 1.0), count)

    def work_covariance(self) -> FloatArray:
        """Of the logarithm of the work factor at the knots, shape (knots, knots).

        Source: stationary Ornstein-Uhlenbeck process (Uhlenbeck and Ornstein 1930, Phys Rev
            36:823), as `live.hidden_values.work_after`.
        """
        apart = np.abs(self.knots[:, None] - self.knots[None, :])
        return np.asarray(WORK_SPREAD**2 * np.exp(-apart / WORK_LASTS))

    def work_at(self, work: FloatArray, time: float) -> FloatArray:
        """Logarithm of the work factor at a run time, on straight lines between the knots.

        Args:
            work: At the knots, shape (members, knots).
            time: [s]
        """
        place = np.clip(np.searchsorted(self.knots, time) - 1, 0, len(self.knots) - 2)
        width = self.knots[place + 1] - self.knots[place]
        part = float(np.clip((time - self.knots[place]) / width, 0.0, 1.0))
        return np.asarray((1.0 - part) * work[:, place] + part * work[:, place + 1])

    def stretches(self) -> list[tuple[float, float]]:
        """Stretches of run time in which one thing is done [s], broken at rounds and changes."""
        logged = self.logged
        first = logged.doings[0].begun
        marks = {first, *self.rounds.tolist()}
        marks |= {when(one) for one in logged.doings if first < when(one) < logged.until}
        ordered = sorted(mark for mark in marks if mark <= logged.until + 1e-9)
        return list(pairwise(ordered))


def replayed(
    course: Course, scores: FloatArray, work: FloatArray, workers: int = 1
) -> Mapping[str, FloatArray]:
    """What sensors without error would have said, by quantity, shape (rounds, members).

    Not a number in rounds in which a reading has no meaning.

    Args:
        course: The run.
        scores: Of all doubts, shape (members, columns).
        work: Logarithm of the work factor at the knots, shape (members, knots).
        workers: Threads; the answer does not depend on them.
    """
    logged, count = course.logged, len(scores)
    begun = logged.doings[0].begun
    carried = Carried(scores.copy(), course.work_at(work, begun))
    members = Members(course.doubts, course.loop, carried, begun)
    rounds = {float(time): place for place, time in enumerate(course.rounds)}
    found = {name: np.full((len(rounds), count), np.nan) for name in LEARNED_FROM}
    for begins, ends in course.stretches():
        leg = members.suited.ahead(logged.at(begins), begins).legs[0]
        members.carried.work = course.work_at(work, 0.5 * (begins + ends))
        members.go_on(leg, ends - begins, STEP, workers)
        place = rounds.get(ends)
        if place is not None:
            for name, values in shown(members, leg).items():
                found[name][place] = values
    return found


def shown(members: Members, leg: Leg) -> dict[str, FloatArray]:
    """What sensors without error would say now, the air flow among them, shape (members,) each."""
    found = readings(members, leg)
    if leg.spell.helmet_on and leg.spell.air != "none":
        found[AIR_FLOW] = air_flow(members)
    return found


def air_flow(members: Members) -> FloatArray:
    """Air supplied to helmet and suit, as it is in the helmet [m3/s], shape (members,).

    Source: ideal gas law; the flow is kept in moles of dry air.
    """
    moles = members.read("AIR_TO_HELMET") + members.read("AIR_TO_SUIT")
    dry = members.suited.pressure - members.read("INSPIRED_WATER_PRESSURE")
    warmth = members.read("HELMET_TEMPERATURE") + CELSIUS_ZERO
    return np.asarray(moles * GAS_CONSTANT * warmth / dry)


def work_ratio(course: Course, scores: FloatArray, work: FloatArray) -> FloatArray:
    """Metabolic rate over the one planned, both meant over the logged time, shape (members,).

    Args:
        course: The run.
        scores: Of all doubts, shape (members, columns).
        work: Logarithm of the work factor at the knots, shape (members, knots).
    """
    suited = Suited(course.doubts, course.loop, scores)
    planned = Suited(course.doubts, course.loop, np.zeros((1, scores.shape[1])))
    done, meant = np.zeros(len(scores)), 0.0
    for begins, ends in course.stretches():
        doing = course.logged.at(begins)
        rate = np.asarray(suited.ahead(doing, begins).legs[0].rate.likely)
        usual = planned.ahead(doing, begins).legs[0].rate.likely
        factor = np.exp(course.work_at(work, 0.5 * (begins + ends)))
        done += (ends - begins) * rate * factor
        meant += (ends - begins) * float(np.asarray(usual).mean())
    return np.asarray(done / max(meant, 1e-9))
