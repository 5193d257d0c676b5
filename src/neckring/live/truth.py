"""The hidden truth of a rehearsal: one member of the same kernel, whose values nobody knows.

Faults can be put into it and taken out at any time; its sensors err as real ones do. The estimate
never sees it: only what `measured` says.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.live.doing import Doing
from neckring.live.fault_modes import MODES, NUMBER, SOUND
from neckring.live.hidden_values import WORK_SPREAD, doubts_of, work_after
from neckring.live.likelihood import OFFSET_SHARE, QUANTITIES, readings
from neckring.live.look_ahead_live import LookedAhead, every_minute
from neckring.live.members import Members
from neckring.live.nearness import Near
from neckring.live.outlooked import Question
from neckring.live.suited import Carried, Loop
from neckring.outing.batch import fill, row
from neckring.outing.branches import STORES, TRUNK_SEGMENTS, Pace
from neckring.outing.failures import FAILURES, Failure
from neckring.outing.scenario import Scenario
from neckring.outing.watch import NEVER
from neckring.outing.watching import harm_limits, rules_of
from neckring.station.limits import LimitSheet

FloatArray = NDArray[np.float64]

# Longest step of the truth [s], and how often its work wanders [s].
STEP = 1.0
WANDERS = 30.0
TRUE_PACE = Pace(near=2.0, walking=10.0, waiting=10.0, beyond=600.0)

USUAL_ACCURACY: dict[str, float] = {
    "heart_rate": 3.0 / 60.0,
    "core_temperature": 0.1,
    "mean_skin_temperature": 0.3,
    "water_inlet_temperature": 0.3,
    "water_outlet_temperature": 0.3,
    "reservoir_temperature": 0.3,
    "water_flow": 0.03 / 60e3,
    "helmet_co2": 60.0,
    "inspired_co2": 60.0,
    "inspired_o2": 200.0,
    "helmet_temperature": 0.5,
    "battery_voltage": 0.05,
    "battery_charge": 0.03,
    "pump_pressure": 1000.0,
    "garment_pressure": 200.0,
}
"""One standard deviation of a usual sensor's error, SI; assumed."""


@dataclass
class _WrongSensor:
    """A sensor that does not say what is."""

    kind: str
    amount: float
    begun: float
    stuck: float | None = None


class HiddenTruth:
    """One wearer as things really are.

    Attributes:
        members: One member.
        now: Run time [s]; None before the first spell.
        doing: What the wearer does.
    """

    def __init__(
        self,
        scenario: Scenario,
        seed: int,
        accuracy: Mapping[str, float] | None = None,
        step: float = STEP,
    ) -> None:
        """Draw what nobody will know.

        Args:
            scenario: The run as written, one member.
            seed: Of all that is drawn.
            accuracy: One standard deviation of each sensor's error; the usual ones when None.
            step: Longest step [s].
        """
        self.now: float | None = None
        self.doing: Doing | None = None
        self._scenario, self._step = scenario, step
        self._draw = np.random.default_rng((seed, 77))
        self._doubts, self._loop = doubts_of(scenario), Loop(scenario)
        shares = self._draw.random((1, self._doubts.columns))
        work = WORK_SPREAD * self._draw.standard_normal(1)
        self._carried = Carried(self._doubts.scores(shares), work)
        self._accuracy = USUAL_ACCURACY | dict(accuracy or {})
        share = math.sqrt(OFFSET_SHARE)
        self._offset = {q: share * self._draw.standard_normal() for q in QUANTITIES}
        self._noise = np.random.default_rng((seed, 78))
        self._members: Members | None = None
        self._broken: dict[str, Failure] = {}
        self._wrong: dict[str, _WrongSensor] = {}
        self._wandered = 0.0

    @property
    def scenario(self) -> Scenario:
        """The run as written."""
        return self._scenario

    @property
    def members(self) -> Members:
        """The one member.

        Raises:
            RuntimeError: No spell has begun yet.
        """
        if self._members is None:
            raise RuntimeError("no spell has begun: nobody is dressed yet")
        return self._members

    def advance(self, to: float, doing: Doing) -> None:
        """Go on to a run time, second by second.

        Args:
            to: Run time [s].
            doing: What the wearer does now. Before it began, the last one went on.
        """
        if self._members is None:
            self._members = Members(self._doubts, self._loop, self._carried, doing.begun)
            self.now = doing.begun
        if self.doing is not None and doing != self.doing:
            turned = doing.turned if doing.number == self.doing.number else None
            self._go(min(to, doing.begun if turned is None else turned), self.doing)
        self.doing = doing
        self._go(to, doing)

    def _go(self, to: float, doing: Doing) -> None:
        while self.now is not None and self.now < to - 1e-9:
            until = min(to, (math.floor(self.now / WANDERS + 1e-9) + 1.0) * WANDERS)
            leg = self.members.suited.ahead(doing, self.now).legs[0]
            self.members.go_on(leg, until - self.now, self._step, broken=self._broken)
            self._wandered += until - self.now
            self.now = until
            if self._wandered >= WANDERS - 1e-9:
                noise = self._draw.standard_normal(1)
                carried = self.members.carried
                carried.work = work_after(carried.work, self._wandered, noise)
                self._wandered = 0.0

    def breaks(self, code: str, share: float = 0.5) -> None:
        """Put a fault in.

        Args:
            code: Of a failure of `outing.failures`, or of a fault of `fault_modes`, which comes in
                degrees and of which there is one at a time.
            share: How bad, 0 slight to 1; for failures without meaning.

        Raises:
            ValueError: No such fault.
        """
        failure = next((f for f in FAILURES if f.code == code), None)
        if failure is not None:
            self._broken[code] = failure
            self._strike(failure)
        elif code in NUMBER and NUMBER[code] != SOUND:
            carried = self.members.carried
            carried.mode[:] = NUMBER[code]
            carried.severity[:] = min(max(share, 0.0), 1.0)
            self.members.renew()
        else:
            known = [f.code for f in FAILURES] + [m.code for m in MODES[1:]]
            raise ValueError(f"no fault is called {code!r}; accepted: {', '.join(known)}")

    def mends(self, code: str) -> None:
        """Take a fault out; what it has done meanwhile stays."""
        self._broken.pop(code, None)
        carried = self.members.carried
        if code in NUMBER and carried.mode[0] == NUMBER[code]:
            carried.mode[:] = SOUND
            carried.severity[:] = 0.0
            self.members.renew()

    def holds(self, failure: Failure, there: bool) -> None:
        """Let something be so from now on, or no more, that is no fault: nothing jumps by it.

        Args:
            failure: How the rows change while it is so.
            there: Whether it is.
        """
        self._broken.pop(failure.code, None)
        if there:
            self._broken[failure.code] = failure

    def _strike(self, failure: Failure) -> None:
        """What jumps at the instant itself."""
        if failure.strike is None or self.doing is None or self.now is None:
            return
        members = self.members
        held = {name: members.read(name) for name in STORES}
        leg = members.suited.ahead(self.doing, self.now).legs[0]
        held["OUTSIDE_TEMPERATURE"] = leg.around.air
        for name, values in failure.strike(members.suited.scenario, held).items():
            if name == "LIQUID":
                for segment in TRUNK_SEGMENTS:
                    here = members.batch.state[:, segment]
                    more = row(here, name, 1) + values / len(TRUNK_SEGMENTS)
                    fill(here, {name: more}, 1)
            else:
                fill(members.batch.whole, {name: np.asarray(values)}, 1)

    def sensor_fails(self, quantity: str, kind: str, amount: float = 0.0) -> None:
        """Let a sensor be wrong from now on.

        Args:
            quantity: Which.
            kind: "stuck" at what it says now, "offset" by an amount, or "drifts" by an amount each
                hour.
            amount: [SI]

        Raises:
            ValueError: No such quantity or kind.
        """
        if quantity not in QUANTITIES:
            raise ValueError(f"no reading {quantity!r}; accepted: {', '.join(QUANTITIES)}")
        if kind not in ("stuck", "offset", "drifts"):
            raise ValueError(f"a sensor cannot be {kind!r}; accepted: stuck, offset, drifts")
        self._wrong[quantity] = _WrongSensor(kind, amount, self.now or 0.0)

    def sensor_mends(self, quantity: str) -> None:
        """Let a sensor be right again."""
        self._wrong.pop(quantity, None)

    def true(self) -> dict[str, float]:
        """What sensors without error would say, by quantity; without what has no meaning now."""
        if self.doing is None or self.now is None:
            return {}
        leg = self.members.suited.ahead(self.doing, self.now).legs[0]
        shown = readings(self.members, leg)
        return {name: float(values[0]) for name, values in shown.items()}

    def measured(self) -> dict[str, float]:
        """What the sensors say now, by quantity: truth, an offset of their own, and noise."""
        return {name: self._said(name, value) for name, value in self.true().items()}

    def _said(self, name: str, value: float) -> float:
        accuracy = self._accuracy[name]
        noise = math.sqrt(1.0 - OFFSET_SHARE) * self._noise.standard_normal()
        said = value + accuracy * (self._offset[name] + noise)
        wrong = self._wrong.get(name)
        if wrong is None:
            return said
        if wrong.kind == "stuck":
            wrong.stuck = said if wrong.stuck is None else wrong.stuck
            return wrong.stuck
        hours = ((self.now or 0.0) - wrong.begun) / 3600.0
        return said + wrong.amount * (hours if wrong.kind == "drifts" else 1.0)

    def accuracy(self, name: str) -> float:
        """One standard deviation of a sensor's error."""
        return self._accuracy[name]

    def looks_ahead(self, sheet: LimitSheet) -> LookedAhead:
        """Harm against help as it truly is, every failure at every minute to come.

        The values that the member has now are held.

        Raises:
            RuntimeError: No spell has begun yet.
        """
        if self.doing is None or self.now is None:
            raise RuntimeError("no spell has begun: nobody is dressed yet")
        rules = rules_of(harm_limits(sheet), self._scenario.wearer.age.nominal)
        policy = self._scenario.station.policy
        air = policy.air_reserve or policy.reserve
        question = Question(
            self.members,
            np.array([0]),
            self.doing,
            self.now,
            rules,
            np.full((len(rules.limits), 1), NEVER),
            np.array([air.nominal, policy.reserve.nominal]),
            Near({}),
        )
        return every_minute(question, TRUE_PACE)
