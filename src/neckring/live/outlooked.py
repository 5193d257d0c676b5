"""Members that look ahead: the run to come from their present states, and branches off it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from neckring.lanes import LANES
from neckring.live.doing import Doing, home_again
from neckring.live.members import Members, elapsed_row
from neckring.live.nearness import Near
from neckring.live.suited import Carried, Suited
from neckring.outing.batch import Batch, Schedule, new_schedule, row
from neckring.outing.branch_rows import Phase, RowBook
from neckring.outing.branches import Clocks, Pace, branch, courses
from neckring.outing.failures import FAILURES, Failure
from neckring.outing.help_clock import noticing
from neckring.outing.spells import stacked
from neckring.outing.trunk import MINUTE, Instant, Kept, Trunk, instants_of
from neckring.outing.watch import NEVER
from neckring.outing.watching import Held, Rules, watch

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Wanted = Mapping[str, frozenset[float]]

# Longest step of what is still to come when nothing fails [s].
STEP_AHEAD = 30.0


@dataclass
class LiveBook(RowBook):
    """Rows of what follows a failure, with what each member carries."""

    suited: Suited = field(kw_only=True)
    carried: Carried = field(kw_only=True)
    water: FloatArray = field(kw_only=True)

    def schedule(self, failure: Failure, phases: list[Phase]) -> Schedule:
        """The kernel's schedule of the phases, without steps."""
        scenario = self.trunk.scenario
        spells, around = [], []
        for phase in phases:
            leg, rows, surroundings = self._rows(failure, phase)
            changed = rows | failure.change(scenario, leg.spell, rows)
            spells.append(self.suited.under(leg, changed, self.carried, self.water))
            around.append(surroundings)
        none = np.zeros(len(phases), dtype=np.int64)
        return new_schedule(scenario.members, stacked(spells), stacked(around), none)

    def sound(self, number: int) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
        """Rows and surroundings of a planned leg when nothing fails."""
        none = np.zeros((1, 1))
        leg, rows, around = self._rows(FAILURES[0], Phase("goes on", number, None, none, none))
        return self.suited.under(leg, rows, self.carried, self.water), around


@dataclass(frozen=True)
class Question:
    """What is asked of chosen members.

    Attributes:
        members: All of them.
        chosen: Numbers of those asked.
        doing: What the log book says.
        now: Run time [s].
        rules: The limits that count as harm.
        since: When each limit began to be crossed [s], NEVER while it is not, (limits, members).
        reserves: Of the air and of everything else [s].
        near: Where the plan as written comes near a reserve.
        untold: Scores drawn for what no reading tells, (chosen, columns); the members' own when
            None.
    """

    members: Members
    chosen: IntArray
    doing: Doing
    now: float
    rules: Rules
    since: FloatArray
    reserves: FloatArray
    near: Near
    untold: FloatArray | None = None

    def carried(self) -> Carried:
        """What the chosen carry, with what is drawn anew."""
        mine = self.members.carried.some(self.chosen)
        if self.untold is not None:
            columns = self.members.suited.doubts.untold
            mine.scores = np.where(columns, self.untold, mine.scores)
        return mine


class Outlooked:
    """Chosen members from now on: the run to come, and branches off it.

    Attributes:
        trunk: The run to come; its clock begins so that now is a whole minute.
        now: On that clock [s].
        shift: What to add to that clock for the run time [s].
        home: When the wearer is back at the bay for good, on that clock [s]; before `now` when
            that is so already.
    """

    def __init__(self, question: Question) -> None:
        self.question = question
        carried = question.carried()
        whole = question.members.suited
        suited = Suited(whole.doubts, whole.loop, carried.scores)
        scenario = suited.scenario
        coming = suited.ahead(question.doing, question.now)
        spent = coming.spent
        lead = MINUTE - spent % MINUTE
        self.now = lead + spent
        self.shift = question.now - self.now
        before = replace(coming.before or coming.legs[0], duration=lead)
        ready = [before, *coming.legs]
        batch = question.members.some(question.chosen)
        elapsed_row(batch, self.now)
        self.trunk = Trunk(
            scenario, question.rules, question.rules, ready, suited.pressure, batch, {}, self._held
        )
        water = row(batch.whole, "RESERVOIR", len(question.chosen))
        self.book = LiveBook(self.trunk, suited=suited, carried=carried, water=water)
        self.trunk.kept[self.now] = _kept(batch, self.trunk.held)
        self._latest = (self.now, 1, batch.copy(), _copied(self.trunk.held))
        self.home = lead + sum(
            leg.duration for leg in coming.legs[: home_again(scenario, coming.legs)]
        )

    @property
    def _held(self) -> Held:
        question = self.question
        since = question.since[:, question.chosen]
        since = np.where(since < NEVER, since - self.shift, NEVER)
        short = -(-len(question.chosen) // LANES) * LANES - len(question.chosen)
        padded = np.concatenate([since, np.repeat(since[:, -1:], short, axis=1)], axis=1)
        blocks = np.moveaxis(padded.reshape(len(padded), -1, LANES), 1, 0)
        return Held(np.ascontiguousarray(blocks), np.full(blocks.shape, NEVER))

    def instants(self) -> tuple[Instant, ...]:
        """Now and every whole minute to come until the wearer is back."""
        found = instants_of(self.trunk.ready)
        return tuple(i for i in found if self.now <= i.time < max(self.home, self.now + 1.0))

    def keep(self, times: frozenset[float]) -> None:
        """Go on to some instants and keep the states there.

        Args:
            times: On the trunk's clock [s].
        """
        missing = sorted(time for time in times if time not in self.trunk.kept)
        if not missing:
            return
        if missing[0] < self._latest[0]:
            self._latest = self._last_before(missing[0])
        for time in missing:
            self._go_to(time)

    def _last_before(self, time: float) -> tuple[float, int, Batch, Held]:
        """The last state kept before a time, to go on from."""
        begin = max(kept for kept in self.trunk.kept if kept < time)
        kept, end = self.trunk.kept[begin], self.trunk.batch
        batch = replace(end, state=kept.state.copy(), whole=kept.whole.copy())
        ends = np.cumsum([one.duration for one in self.trunk.ready])
        leg = int(np.searchsorted(ends, begin + 1e-9, side="right"))
        return begin, leg, batch, _copied(kept.held)

    def _go_to(self, time: float) -> None:
        here, leg, batch, held = self._latest
        ends = np.cumsum([one.duration for one in self.trunk.ready])
        while here < time - 1e-9:
            until = min(time, float(ends[leg]))
            if until > here:
                rows, around = self.book.sound(leg)
                piece = _in_steps(rows, around, until - here, batch.members)
                watch(batch, piece, self.trunk.rules, held)
            here = until
            leg += here < time - 1e-9
        elapsed_row(batch, time)
        self._latest = (time, leg, batch, held)
        self.trunk.kept[time] = _kept(batch, held)

    def crossed_as_planned(self) -> FloatArray:
        """When each member crosses a limit if nothing fails and the plan goes on [s]; or never."""
        last = MINUTE * math.floor(self.home / MINUTE)
        self.keep(frozenset({max(last, self.now)}))
        crossed = self.trunk.kept[max(last, self.now)].held.crossed
        first = np.moveaxis(crossed, 1, 0).reshape(crossed.shape[1], -1).min(axis=0)
        return np.where(first < NEVER, first, np.inf)[: len(self.question.chosen)]

    def unavoided(self) -> FloatArray:
        """When it is too late to turn before a limit is crossed [s], (chosen,); or never.

        Whoever would cross a limit before he has noticed that he is to turn cannot avoid it.
        """
        notice = noticing(self.trunk.scenario, FAILURES[0])
        return np.maximum(self.crossed_as_planned() - notice, self.now)

    def clocks(self, wanted: Wanted, pace: Pace, workers: int = 1) -> dict[str, Clocks]:
        """Clocks of failures at some instants, in the order of FAILURES.

        Args:
            wanted: Times on the trunk's clock at which each is wanted, by its code.
            pace: How finely.
            workers: Threads; the answer does not depend on them.
        """
        self.keep(frozenset(time for times in wanted.values() for time in times))
        asked = [failure for failure in FAILURES if failure.code in wanted]

        def of_course(course: list[Failure]) -> dict[str, Clocks]:
            return branch(self.book, course, wanted, self.question.reserves, pace)

        found: dict[str, Clocks] = {}
        if workers > 1:
            with ThreadPoolExecutor(workers) as pool:
                for part in pool.map(of_course, courses(asked)):
                    found |= part
        else:
            for course in courses(asked):
                found |= of_course(course)
        return {f.code: found[f.code] for f in asked if f.code in found}


def _kept(batch: Batch, held: Held) -> Kept:
    return Kept(batch.state.copy(), batch.whole.copy(), _copied(held))


def _copied(held: Held) -> Held:
    return Held(held.since.copy(), held.crossed.copy())


def _in_steps(
    rows: dict[str, FloatArray], around: dict[str, FloatArray], seconds: float, members: int
) -> Schedule:
    steps = max(1, math.ceil(seconds / STEP_AHEAD - 1e-9))
    table = rows | {"STEP": np.full(members, seconds / steps)}
    return new_schedule(members, stacked([table]), stacked([around]), np.array([steps]))
