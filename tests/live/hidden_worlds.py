"""Runs with a hidden truth: what happens, what sensors say, and what the estimate makes of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import numpy as np

import neckring.station
from neckring.live.doing import Doing
from neckring.live.estimate import LiveEstimate, turn_back_band
from neckring.live.estimated import Band
from neckring.live.nearness import Near, near_in_plan
from neckring.live.truth import HiddenTruth
from neckring.outing.scenario import Scenario
from neckring.outing.spells import legs
from neckring.station.loading import LoadedStation, load_station
from neckring.station.variation import with_value
from neckring.units import parse_quantity

DEMO: LoadedStation = load_station(Path(neckring.station.__file__).parent / "demo")
MINUTE = 60.0

USUAL = (
    "heart_rate",
    "water_inlet_temperature",
    "water_outlet_temperature",
    "water_flow",
    "helmet_co2",
    "battery_voltage",
)
GAUGES = (*USUAL, "pump_pressure", "garment_pressure")


@cache
def demo_run(code: str = "bench-climb") -> Scenario:
    """A run of the demo as written."""
    run = DEMO.runs[code]
    return Scenario(DEMO.station, DEMO.suits[run.suit], DEMO.wearers[run.wearer], run)


def with_reserves(scenario: Scenario, air: str, rest: str) -> Scenario:
    """The same under a policy that keeps so much free."""
    policy = scenario.station.policy.model_copy(
        update={"air_reserve": parse_quantity(air, "time"), "reserve": parse_quantity(rest, "time")}
    )
    return replace(scenario, station=scenario.station.model_copy(update={"policy": policy}))


def hot(scenario: Scenario) -> Scenario:
    """The same on a hot still day, with half of the ice: heat binds before the air does."""
    station = scenario.station
    for place in ("yard", "floor", "bench"):
        warmer = parse_quantity("33 degC +/- 2", "temperature")
        station = with_value(station, ("places", place, "air_temperature"), warmer)
    suit = with_value(scenario.suit, ("reservoir", "ice"), parse_quantity("0.6 kg", "mass"))
    return replace(scenario, station=station, suit=suit)


@cache
def near(scenario: Scenario) -> Near:
    """Where the plan comes near a reserve: the same for all worlds of a scenario."""
    return near_in_plan(scenario, DEMO.limits)


@dataclass(frozen=True)
class Course:
    """The order and the times in which spells were really begun."""

    doings: tuple[Doing, ...]

    def at(self, time: float) -> Doing:
        """What is being done at a run time [s]."""
        return [d for d in self.doings if d.begun <= time + 1e-9][-1]


def course(scenario: Scenario, seed: int, begun: float = 0.0, spread: float = 0.1) -> Course:
    """Every spell takes a little more or less than planned, as on any day."""
    draw = np.random.default_rng((seed, 5))
    doings = []
    for number, leg in enumerate(legs(scenario)):
        doings.append(Doing(number, begun))
        begun += leg.duration * float(np.exp(spread * draw.standard_normal()))
    return Course(tuple(doings))


Says = Callable[[float, float], float]
"""What a wrong sensor says at a run time [s], where a right one would say so much."""


@dataclass
class World:
    """One run: the truth, and an estimate that hears only its sensors.

    Attributes:
        wrong: What wrong sensors say, by quantity.
    """

    scenario: Scenario
    truth: HiddenTruth
    estimate: LiveEstimate
    course: Course
    quantities: tuple[str, ...] = USUAL
    wrong: dict[str, Says] = field(default_factory=dict)

    def twin(self) -> World:
        """The same world up to here, that goes its own way from now on."""
        shared = (self.scenario, self.course, *DEMO.runs.values(), near(self.scenario))
        return deepcopy(self, {id(one): one for one in shared})

    def heard(self, name: str, time: float, said: float) -> tuple[float, float]:
        """Value and accuracy as they come from the sensor, right or wrong."""
        says = self.wrong.get(name)
        return (says(time, said) if says else said), self.truth.accuracy(name)

    def rounds(self, until: float, begin: float = 0.0) -> Iterator[float]:
        """Go on minute by minute; both are at the time that is given."""
        time = begin + MINUTE
        while time <= until + 1e-9:
            doing = self.course.at(time)
            self.truth.advance(time, doing)
            self.estimate.advance(time, doing)
            said = self.truth.measured()
            heard = {
                name: self.heard(name, time, said[name]) for name in self.quantities if name in said
            }
            self.estimate.weigh(heard)
            yield time
            time += MINUTE

    def run(self, until: float, begin: float = 0.0) -> None:
        """Go on without looking."""
        for _ in self.rounds(until, begin):
            pass


def world(
    scenario: Scenario,
    seed: int,
    particles: int = 400,
    quantities: tuple[str, ...] = USUAL,
    looks: bool = True,
) -> World:
    """A world whose truth is drawn independently of the particles.

    Without a look ahead nobody needs to know where the plan comes near a reserve.
    """
    truth = HiddenTruth(scenario, seed, step=5.0)
    estimate = LiveEstimate(
        scenario, DEMO.limits, particles, seed=9, near=near(scenario) if looks else Near({})
    )
    return World(scenario, truth, estimate, course(scenario, seed), quantities)


@dataclass(frozen=True)
class Held:
    """What was stated and what was true, at one instant of one world."""

    seed: int
    time: float
    band: Band | None
    true: float
    home: float
    lost: bool

    @property
    def now(self) -> Band:
        """The stated band; it begins and ends now when no time is left."""
        return self.band or Band(self.time, self.time, self.time)

    @property
    def covers(self) -> bool:
        """Whether the band holds the truth; what is too late already counts as now."""
        return self.now.low - 1.0 <= self.true <= self.now.high + 1.0

    @property
    def in_doubt(self) -> bool:
        """Whether the band says more than "at the planned return" or "at once"."""
        return self.now.high - self.now.low > 1.0


def held(one: World, times: Iterable[float]) -> Iterator[Held]:
    """Stated band and truth of the turn-back time at some instants of a world."""
    wanted = sorted(times)
    for time in one.rounds(wanted[-1]):
        if time in wanted:
            looked = one.estimate.look_ahead()
            band = turn_back_band(looked, time)
            true = one.truth.looks_ahead(DEMO.limits)
            yield Held(
                int(time), time, band, float(true.turn_back[0]), true.home, bool(true.lost[0])
            )
