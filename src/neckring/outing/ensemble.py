"""Many drawn members through the whole map of failures, members spent where they matter.

Every minute is computed for the run as written. Drawn members are computed where the curve of
slack bends; and beyond the first hundreds only where the slack comes near its reserve. Which
those are depends on the seed and on nothing else, and each chunk of members can be computed
anywhere: the answer does not depend on chunks or workers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.outing.branch_rows import RowBook
from neckring.outing.branches import Clocks, Pace, branch, courses
from neckring.outing.draws import dimensions, drawn, sobol_points
from neckring.outing.failures import FAILURES, Failure
from neckring.outing.gathered import Chunk, Gathered, in_order
from neckring.outing.instants import Refinement, first_choice
from neckring.outing.scenario import Scenario
from neckring.outing.spells import STEP, legs
from neckring.outing.trunk import Trunk, instants_of, run_trunk
from neckring.outing.watch import NEVER
from neckring.station.limits import LimitSheet

FloatArray = NDArray[np.float64]

CHUNK = 256
# Members at every bend; those after them only where the slack comes near the reserve.
FIRST_MEMBERS = 512
# Slack beyond the reserve below which it is near [s], of the air and of everything else.
NEAR = np.array([15.0, 240.0])
# The trunk of drawn members goes in longer steps than a plan's.
TRUNK_STEP = 20.0
# The run as written in steps whose halving moves no clock by 1 %; drawn members, whose spread is
# far wider than that, in longer ones.
MAP_PACE = Pace(near=2.0, walking=10.0, waiting=10.0, to_the_end=True)
PACE = Pace()

# Failure's code to the times [s] at which it is to be computed.
Wanted = Mapping[str, frozenset[float]]


@dataclass(frozen=True)
class Question:
    """What is asked: who goes where, under which limits, with how many members drawn.

    Attributes:
        scenario: As written.
        sheet: The signed limits.
        members: Drawn.
        seed: Of the draw.
    """

    scenario: Scenario
    sheet: LimitSheet
    members: int = 2000
    seed: int = 1

    @property
    def reserves(self) -> FloatArray:
        """Slack kept free of the air and of everything else [s], shape (2,)."""
        policy = self.scenario.station.policy
        air = policy.air_reserve or policy.reserve
        return np.array([air.nominal, policy.reserve.nominal])


@dataclass(frozen=True)
class Task:
    """One chunk of members to be computed, anywhere.

    Attributes:
        question: What is asked.
        first: Number of its first member.
        last: One more than the number of its last.
        wanted: What is to be computed.
    """

    question: Question
    first: int
    last: int
    wanted: Wanted


# Computes tasks, in any order and anywhere, and gives what each found in the order asked.
Runner = Callable[[Sequence[Task]], Iterable[Chunk]]


@dataclass(frozen=True)
class FailureMap:
    """Harm against help for every failure.

    Attributes:
        question: What was asked.
        trunk: The run as written, one member.
        as_written: At every minute, with every quantity at its nominal value.
        drawn: Members drawn, at the instants chosen.
    """

    question: Question
    trunk: Trunk
    as_written: dict[str, Clocks]
    drawn: Gathered


def map_of(
    trunk: Trunk, wanted: Wanted, reserves: FloatArray, pace: Pace, workers: int = 1
) -> dict[str, Clocks]:
    """Clocks of all wanted failures at their times, in the order of FAILURES."""
    book = RowBook(trunk)
    asked = [failure for failure in FAILURES if failure.code in wanted]

    def of_course(course: list[Failure]) -> dict[str, Clocks]:
        return branch(book, course, wanted, reserves, pace)

    found: dict[str, Clocks] = {}
    with ThreadPoolExecutor(workers) as pool:
        for part in pool.map(of_course, courses(asked)):
            found |= part
    return {failure.code: found[failure.code] for failure in asked if failure.code in found}


def everywhere(scenario: Scenario) -> Wanted:
    """Every failure at every whole minute of the run."""
    every = frozenset(instant.time for instant in instants_of(legs(scenario)))
    return {failure.code: every for failure in FAILURES}


def times_of(wanted: Wanted) -> frozenset[float]:
    """All times at which something is wanted [s]."""
    return frozenset(time for times in wanted.values() for time in times)


def as_written(question: Question, workers: int = 1) -> tuple[Trunk, dict[str, Clocks]]:
    """The run as written: one member, every failure at every minute."""
    wanted = everywhere(question.scenario)
    trunk = run_trunk(question.scenario, question.sheet, times_of(wanted), STEP)
    return trunk, map_of(trunk, wanted, question.reserves, MAP_PACE, workers)


def compute(task: Task) -> Chunk:
    """Compute one chunk of members."""
    question = task.question
    shapes = dimensions(question.scenario)
    points = sobol_points(len(shapes), task.first, task.last, question.seed)
    scenario = drawn(question.scenario, points)
    trunk = run_trunk(scenario, question.sheet, times_of(task.wanted), TRUNK_STEP)
    clocks = map_of(trunk, task.wanted, question.reserves, PACE)
    crossed = np.moveaxis(trunk.held.crossed, 1, 0).reshape(len(trunk.every.limits), -1)
    reached = crossed[:, : task.last - task.first]
    return Chunk(task.first, clocks, np.where(reached < NEVER, reached, np.inf))


def in_threads(workers: int) -> Runner:
    """A runner on this machine."""

    def run(tasks: Sequence[Task]) -> Iterable[Chunk]:
        with ThreadPoolExecutor(workers) as pool:
            yield from pool.map(compute, tasks)

    return run


def failure_map(
    question: Question, run: Runner, workers: int = 1, tell: Callable[[str], None] = lambda _: None
) -> FailureMap:
    """The whole map: as written, then drawn members where they matter.

    Args:
        question: What is asked.
        run: Computes chunks.
        workers: Threads for what is not in chunks.
        tell: Told what is being done, for a person who waits.
    """
    tell("the run as written, every failure at every minute")
    trunk, written = as_written(question, workers)
    return FailureMap(question, trunk, written, drawn_members(question, written, run, tell))


def drawn_members(
    question: Question,
    written: Mapping[str, Clocks],
    run: Runner,
    tell: Callable[[str], None] = lambda _: None,
) -> Gathered:
    """Members drawn, computed where they matter.

    Args:
        question: What is asked.
        written: The run as written.
        run: Computes chunks.
        tell: Told what is being done, for a person who waits.
    """
    first = min(question.members, FIRST_MEMBERS)
    wanted = {c: first_choice(at, question.reserves, PACE.beyond) for c, at in written.items()}
    tell(f"{first} members, every failure where its curve bends")
    found = Gathered(question.reserves, PACE.beyond)
    found.add(run(tasks_of(question, 0, first, wanted)))
    _refine(question, found, first, run)
    if question.members > first and not clearly_lost(question, found):
        near = found.near(NEAR)
        tell(f"{question.members} members, where slack is short")
        found.add(run(tasks_of(question, first, question.members, near)))
    return found


def clearly_lost(question: Question, found: Gathered) -> bool:
    """Whether so few of the first members keep every reserve that more could not change it.

    Three standard errors of a share; the first members give the percentiles as well.
    """
    confidence = question.scenario.station.policy.confidence.nominal
    error = np.sqrt(confidence * (1.0 - confidence) / found.members)
    return bool(found.kept_until(np.inf) + 3.0 * error < confidence)


def _refine(question: Question, found: Gathered, members: int, run: Runner) -> None:
    """Compute further instants until the tails of the slack are straight between them."""
    share = 1.0 - question.scenario.station.policy.confidence.nominal
    refinement = Refinement(question.reserves, PACE.beyond, share)
    while True:
        asked = {c: refinement.asks_for(c, in_order(t)) for c, t in found.clocks.items()}
        asked = {code: times for code, times in asked.items() if times}
        if not asked:
            return
        found.insert(run(tasks_of(question, 0, members, asked)))


def tasks_of(question: Question, first: int, last: int, wanted: Wanted) -> list[Task]:
    """Members in chunks."""
    begins = range(first, last, CHUNK)
    return [Task(question, begin, min(begin + CHUNK, last), wanted) for begin in begins]
