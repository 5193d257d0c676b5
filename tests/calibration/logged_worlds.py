"""Runs logged by a hidden truth: what was done, what its sensors said, and what really was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

import neckring.station
from neckring.calibration.logged import Logged, Series, round_times
from neckring.calibration.replay import AIR_FLOW, Course, air_flow
from neckring.live.doing import Doing
from neckring.live.likelihood import OFFSET_SHARE
from neckring.live.truth import HiddenTruth
from neckring.outing.scenario import Scenario
from neckring.outing.spells import legs
from neckring.station.loading import LoadedStation, load_station

DEMO_FOLDER = Path(neckring.station.__file__).parent / "demo"
DEMO: LoadedStation = load_station(DEMO_FOLDER)
MINUTE = 60.0
HEARD = (
    "heart_rate",
    "water_inlet_temperature",
    "water_outlet_temperature",
    "reservoir_temperature",
    "water_flow",
    "pump_pressure",
    "inspired_co2",
    "helmet_temperature",
    "battery_voltage",
)
"""What the sensors of the demo's suits measure."""
AIR_ACCURACY = 5.0 / 60e3


@cache
def demo_run(code: str) -> Scenario:
    """A run of the demo as written."""
    run = DEMO.runs[code]
    return Scenario(DEMO.station, DEMO.suits[run.suit], DEMO.wearers[run.wearer], run)


def doings(scenario: Scenario, seed: int) -> tuple[tuple[Doing, ...], float]:
    """Every spell takes a little more or less than planned; and when the last one ended [s]."""
    draw, begun, found = np.random.default_rng((seed, 5)), 0.0, []
    for number, leg in enumerate(legs(scenario)):
        found.append(Doing(number, begun))
        begun += leg.duration * float(np.exp(0.1 * draw.standard_normal()))
    return tuple(found), begun


@dataclass(frozen=True, eq=False)
class World:
    """A run as logged, and the truth that nobody knows.

    Attributes:
        course: The run, with what was read.
        scores: Of all doubts, shape (1, columns).
        work: Logarithm of the true work factor at the course's knots, shape (1, knots).
    """

    course: Course
    scores: np.ndarray
    work: np.ndarray


def world(
    scenario: Scenario,
    seed: int,
    heard: tuple[str, ...] = HEARD,
    written: Scenario | None = None,
) -> World:
    """One run.

    Args:
        scenario: From which the truth is drawn.
        seed: Of all that is drawn.
        heard: Quantities with a sensor, beside the air flow.
        written: What the station's files say; the scenario of the truth when None.
    """
    done, until = doings(scenario, seed)
    truth = HiddenTruth(scenario, seed, step=10.0)
    noise = np.random.default_rng((seed, 99))
    offset = noise.standard_normal()
    rounds = round_times(done, until)
    said: dict[str, list[tuple[float, float]]] = {}
    worked: list[tuple[float, float]] = []
    for time in rounds:
        for doing in done:
            if doing.begun <= time and (truth.doing is None or doing.begun > truth.doing.begun):
                truth.advance(doing.begun, doing)
        truth.advance(time, truth.doing)
        worked.append((time, float(truth.members.carried.work[0])))
        for name, value in truth.measured().items():
            if name in heard:
                said.setdefault(name, []).append((time, value))
        leg = truth.members.suited.ahead(truth.doing, time).legs[0]
        if leg.spell.helmet_on and leg.spell.air != "none":
            parts = np.sqrt([OFFSET_SHARE, 1.0 - OFFSET_SHARE])
            error = AIR_ACCURACY * float(parts @ [offset, noise.standard_normal()])
            true = float(air_flow(truth.members)[0])
            said.setdefault(AIR_FLOW, []).append((time, true + error))
    logged = Logged(
        f"world {seed}",
        scenario.run.code,
        "A",
        scenario.wearer.code,
        scenario.suit.code,
        done,
        until,
        series=tuple(series(truth, name, pairs) for name, pairs in said.items()),
    )
    course = Course(written or scenario, logged)
    times, work = np.array(worked).T
    at_knots = np.interp(course.knots, times, work)[None]
    return World(course, truth.members.carried.scores.copy(), at_knots)


def series(truth: HiddenTruth, name: str, pairs: list[tuple[float, float]]) -> Series:
    """What one channel said."""
    times, values = np.array(pairs).T
    accuracy = AIR_ACCURACY if name == AIR_FLOW else truth.accuracy(name)
    return Series(name, name, accuracy, times, values, len(times))


def with_series(one: World, changed: Mapping[str, Series]) -> World:
    """The same run with some channels otherwise."""
    logged = one.course.logged
    parts = tuple(changed.get(each.channel, each) for each in logged.series)
    return replace(one, course=Course(one.course.scenario, replace(logged, series=parts)))


def until(one: World, end: float) -> World:
    """The same run, logged only up to a run time [s]."""
    logged = one.course.logged
    parts = []
    for each in logged.series:
        kept = each.times <= end
        parts.append(replace(each, times=each.times[kept], values=each.values[kept]))
    changed = replace(logged, until=end, series=tuple(p for p in parts if len(p.times)))
    return replace(one, course=Course(one.course.scenario, changed))
