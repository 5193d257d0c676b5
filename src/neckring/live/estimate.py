"""The live estimate: particles through the one kernel, weighed by what the sensors say.

Between two rounds the particles are advanced through the spell that the log book says; then they
are weighed by the readings that are good. Without readings they go on, and their band widens.
The same seed, spells and readings give the same estimate, whatever the number of threads.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.lanes import LANES
from neckring.live.diagnosis import chances, suspicions
from neckring.live.doing import Doing
from neckring.live.estimated import Band, Estimated
from neckring.live.fault_modes import NUMBER, degree
from neckring.live.hidden_values import WORK_SPREAD, doubts_of
from neckring.live.likelihood import (
    LAG,
    QUANTITIES,
    READ,
    Measured,
    readings,
    weighted_quantile,
)
from neckring.live.live_slack import (
    SHARES,
    binding_words,
    live_slacks,
    spread_band,
    turn_back_band,
)
from neckring.live.look_ahead_live import LookedAhead, look_ahead_from
from neckring.live.members import Members
from neckring.live.nearness import Near, near_in_plan
from neckring.live.outlooked import Question
from neckring.live.particles import Particles
from neckring.live.resampling import effective, systematic
from neckring.live.suited import Carried, Loop
from neckring.outing.batch import row
from neckring.outing.draws import sobol_points
from neckring.outing.scenario import Scenario
from neckring.outing.watch import NEVER, READING_COUNT, read
from neckring.outing.watching import harm_limits, rules_of
from neckring.station.limits import LimitSheet

__all__ = ["LiveEstimate", "rebuild", "spread_band", "turn_back_band"]

FloatArray = NDArray[np.float64]

# Longest step of the particles, and longest time between two changes of their faults [s].
STEP = 20.0
ROUND = 60.0
# Particles that look ahead.
LOOKING = 32
# How much one round's readings count: less than they say, since the model's own errors last.
# Chosen on hidden worlds together with the diagnosis, see docs/estimate.md.
TEMPER = 0.8


@dataclass(frozen=True)
class Weighed:
    """What was used in the last round, and what was not.

    Attributes:
        used: Quantities.
        left_out: Quantity or channel to why.
    """

    used: tuple[str, ...] = ()
    left_out: Mapping[str, str] | None = None


class LiveEstimate:
    """One wearer's estimate as the run goes.

    Attributes:
        wearer: A or B.
        now: Run time up to which it has come [s]; None before the first spell.
        doing: What the log book says.
    """

    def __init__(
        self,
        scenario: Scenario,
        sheet: LimitSheet,
        particles: int = 2000,
        seed: int = 1,
        workers: int = 1,
        wearer: str = "A",
        looking: int = LOOKING,
        near: Near | None = None,
    ) -> None:
        """Draw the particles and make all planned spells ready.

        Args:
            scenario: The run as written, one member.
            sheet: The signed limits.
            particles: How many, at least 64.
            seed: Of all that is drawn.
            workers: Threads; the answer does not depend on them.
            wearer: A or B.
            looking: Particles that look ahead.
            near: Where the plan as written comes near a reserve; worked out when None.

        Raises:
            ValueError: Too few particles.
        """
        if particles < 64:
            raise ValueError(f"{particles} particles; accepted: at least 64")
        self.wearer = wearer
        self.now: float | None = None
        self.doing: Doing | None = None
        self._scenario, self._seed, self._workers = scenario, seed, workers
        self._looking = min(looking, particles)
        self._rules = rules_of(harm_limits(sheet), scenario.wearer.age.nominal)
        self._reserves = _reserves(scenario)
        self._count = particles
        self._doubts, self._loop = doubts_of(scenario), Loop(scenario)
        self._near = near if near is not None else near_in_plan(scenario, sheet, workers)
        self._cloud: Particles | None = None
        self._since = np.full((len(self._rules.limits), particles), NEVER)
        self._weighed = Weighed()
        self._middles: tuple[dict[str, float], float] = ({}, 0.0)
        self._ever: frozenset[str] = frozenset()

    @property
    def cloud(self) -> Particles:
        """The particles.

        Raises:
            RuntimeError: No spell has begun yet.
        """
        if self._cloud is None:
            raise RuntimeError("no spell has begun: there is nothing to estimate yet")
        return self._cloud

    def advance(self, to: float, doing: Doing) -> None:
        """Go on to a run time.

        Args:
            to: Run time [s]; what lies before the present one is not gone back to.
            doing: What the wearer does now. Before it began, the last one went on.
        """
        if self._cloud is None:
            self._begin(doing)
        if self.doing is not None and doing != self.doing:
            turned = doing.turned if doing.number == self.doing.number else None
            self._go(min(to, doing.begun if turned is None else turned), self.doing)
        self.doing = doing
        self._go(to, doing)

    def _begin(self, doing: Doing) -> None:
        shares = sobol_points(self._doubts.columns + 1, 0, self._count, self._seed)
        scores = self._doubts.scores(shares)
        carried = Carried(scores[:, :-1].copy(), WORK_SPREAD * scores[:, -1])
        members = Members(self._doubts, self._loop, carried, doing.begun)
        self._cloud = Particles(members, self._seed)
        self.now = doing.begun

    def _go(self, to: float, doing: Doing) -> None:
        while self.now is not None and self.now < to - 1e-9:
            seconds = min(ROUND, to - self.now)
            self.cloud.pass_time(seconds)
            coming = self.cloud.members.suited.ahead(doing, self.now)
            self.cloud.members.go_on(coming.legs[0], seconds, STEP, self._workers)
            self._note_limits(self.now, self.now + seconds)
            self.now += seconds

    def _note_limits(self, before: float, now: float) -> None:
        """Since when each particle is beyond each limit; begun before the round counts as then."""
        shown = limited_readings(self.cloud.members)[self._rules.which]
        over = self._rules.sign[:, None] * (shown - self._rules.value[:, None]) > 0.0
        begun = np.minimum(self._since, before)
        self._since = np.where(over, begun, NEVER)

    def weigh(self, measured: Measured, left_out: Mapping[str, str] | None = None) -> None:
        """Weigh the particles by the readings of now.

        Args:
            measured: Quantity to value and accuracy (one standard deviation of all its error) in
                SI, good readings only.
            left_out: Channel to why it is not among them.
        """
        cloud, missing = self.cloud, dict(left_out or {})
        if self.doing is None or self.now is None:
            return
        present = cloud.members.suited.ahead(self.doing, self.now).legs[0]
        expected = readings(cloud.members, present)
        good = {}
        for name in sorted(measured):
            why = _why_not(name, *measured[name], expected)
            if why:
                missing[name] = why
            else:
                good[name] = measured[name]
        if good:
            self._note_changes(good, expected)
            cloud.hear(good, present, TEMPER)
        used = tuple(good)
        self._ever |= frozenset(used)
        self._weighed = Weighed(used, missing)

    def _note_changes(self, good: Measured, expected: Mapping[str, FloatArray]) -> None:
        """How fast each quantity is thought to change since it was last expected.

        What changed since then did so since the spell began, if that was later.
        """
        cloud, now = self.cloud, self.now or 0.0
        before, since = self._middles
        begun = self.doing.begun if self.doing is not None else since
        took = max(now - max(since, begun), LAG)
        # Water that stood until now, which was no reading, tells how far it came when it flows.
        shown = {name: read_(cloud.members) for name, read_ in READ.items()} | dict(expected)
        middles = {
            name: weighted_quantile(values, cloud.weights, 0.5) for name, values in shown.items()
        }
        for name, (_, accuracy) in good.items():
            rate = (middles[name] - before.get(name, middles[name])) / took
            cloud.belief.changes(name, rate, accuracy)
        self._middles = middles, now

    def chances(self) -> dict[str, float]:
        """Belief in every explanation, also in those too unlikely to be shown; adds up to 1."""
        cloud = self.cloud
        mode = cloud.members.carried.mode.astype(np.float64)
        return chances(mode, cloud.weights, cloud.belief, self._ever)

    def estimated(self, run_time: float | None = None) -> Estimated:
        """What is known now, with a look ahead.

        Args:
            run_time: To go on to before, with what is being done; now when None.
        """
        if run_time is not None and self.doing is not None:
            self.advance(run_time, self.doing)
        cloud, now = self.cloud, self.now or 0.0
        looked = self.look_ahead()
        weighed = self._weighed
        return Estimated(
            wearer=self.wearer,
            run_time=now,
            quantities=self.quantities(),
            failures=live_slacks(looked, self._rules.limits, self._reserves),
            turn_back=turn_back_band(looked, now),
            binding=binding_words(looked, self._rules.limits, self._reserves),
            suspicions=suspicions(self.chances(), self._ever),
            stands_on=weighed.used,
            left_out=dict(weighed.left_out or {}),
            effective=effective(cloud.weights),
        )

    def look_ahead(self) -> LookedAhead:
        """Every failure held against help, for particles chosen by their weight."""
        cloud = self.cloud
        if self.doing is None or self.now is None:
            raise RuntimeError("no spell has begun: there is nothing to look ahead to yet")
        draw = cloud.generator(purpose=1)
        chosen = systematic(cloud.weights, self._looking, draw.random())
        columns = self._doubts.columns
        order = np.stack([draw.permutation(self._looking) for _ in range(columns)], axis=1)
        shares = (order + draw.random(order.shape)) / self._looking
        untold = self._doubts.scores(shares)
        question = Question(
            cloud.members,
            chosen,
            self.doing,
            self.now,
            self._rules,
            self._since,
            self._reserves,
            self._near,
            untold,
        )
        return look_ahead_from(question, self._workers)

    def quantities(self) -> dict[str, Band]:
        """Bands of what the trace shows and of what was learned."""
        cloud = self.cloud
        members = cloud.members
        found = {name: read_(members) for name, read_ in READ.items()}
        found["ice"] = members.read("ICE")
        found["charge"] = members.read("CHARGE")
        found["body_water_loss"] = members.read("BODY_WATER_LOSS")
        found["core_rise"] = found["core_temperature"] - members.read("CORE_BASELINE")
        return {name: self._band(values) for name, values in (found | self._learned()).items()}

    def _learned(self) -> dict[str, FloatArray]:
        members = self.cloud.members
        carried = members.carried
        harder = np.where(
            carried.mode == NUMBER["harder_work"], degree(carried.mode, carried.severity), 1.0
        )
        learned = {"work_factor": np.exp(carried.work) * harder}
        learned |= {n: f for n, f in members.suited.own.items() if n != "battery_factor"}
        body, traits = members.batch.body, members.batch.traits
        learned["garment_conductance"] = row(body, "GARMENT_CONDUCTANCE", self._count).sum(axis=0)
        learned["battery_capacity"] = row(traits, "BATTERY_CAPACITY", self._count)
        learned["resting_heart_rate"] = row(traits, "RESTING_HEART_RATE", self._count)
        return learned

    def _band(self, values: FloatArray) -> Band:
        weights = self.cloud.weights
        return Band(*(weighted_quantile(values, weights, share) for share in SHARES))


def _reserves(scenario: Scenario) -> FloatArray:
    policy = scenario.station.policy
    air = policy.air_reserve or policy.reserve
    return np.array([air.nominal, policy.reserve.nominal])


def _why_not(name: str, value: float, accuracy: float, expected: Mapping[str, FloatArray]) -> str:
    """Why a reading cannot be weighed; empty when it can."""
    if name not in QUANTITIES:
        return "the model computes no such reading"
    if name not in expected:
        return "has no meaning now: no flow, no helmet or not in use"
    if not math.isfinite(value):
        return f"is no number: {value}"
    if not (math.isfinite(accuracy) and accuracy > 0.0):
        return f"its accuracy is {accuracy}; accepted: above nought"
    return ""


def limited_readings(members: Members) -> FloatArray:
    """What limits may be held against, in the order of `watch.READINGS`, (readings, members)."""
    batch = members.batch
    blocks = batch.state.shape[0]
    found = np.zeros((blocks, READING_COUNT, LANES))
    for block in range(blocks):
        read(batch.state[block], batch.whole[block], batch.traits[block], found[block], LANES)
    return np.moveaxis(found, 0, 1).reshape(READING_COUNT, -1)[:, : batch.members]


def rebuild(
    estimate: LiveEstimate, spells: Iterable[Doing], readings_: Iterable[tuple[float, Measured]]
) -> None:
    """Bring a new estimate to where the last one stood, from the log book and the readings.

    The result is that of an estimate that was advanced and weighed at these very instants.

    Args:
        estimate: New, of the same scenario, particles and seed.
        spells: As begun, in the order of time.
        readings_: Run time and readings of each round, in the order of time.
    """
    begun = list(spells)
    place = 0
    for time, measured in readings_:
        while place + 1 < len(begun) and _when(begun[place + 1]) <= time:
            place += 1
            estimate.advance(_when(begun[place - 1]), begun[place - 1])
        if begun and _when(begun[0]) <= time:
            estimate.advance(time, begun[place])
            estimate.weigh(measured)


def _when(doing: Doing) -> float:
    return doing.begun if doing.turned is None else doing.turned
