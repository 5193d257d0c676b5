"""A procedure gone through lane by lane, once or many times: starts, ends and arrivals.

Each lane does its steps in the order written; at a meeting all who meet wait for the last. Nothing
else holds a lane up: that a move needs what another lane does first is for the proof to find.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np

from neckring.procedure.durations import pert_beta, require_ordered, triangular
from neckring.procedure.model import Duration
from neckring.procedure.steps import Procedure, Step
from neckring.values import FloatArray, require_within

MOST_DRAWN = 10_000_000

# Between these normal deviates a duration is interpolated: the beta distribution is slow to invert.
DEVIATES = np.linspace(-6.0, 6.0, 1201)


class Shape(StrEnum):
    """Distribution between the three points of a duration."""

    BETA = "beta"
    TRIANGULAR = "triangular"


@dataclass(frozen=True)
class Drawing:
    """How spreads are drawn.

    Attributes:
        runs: How many are drawn.
        seed: Of the random numbers.
        correlation: Between the durations of two steps of one person, 0..1; assumed.
        shape: Distribution between the three points.
    """

    runs: int = 10_000
    seed: int = 1
    correlation: float = 0.5
    shape: Shape = Shape.BETA

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn.

        Raises:
            ValueError: Naming what was read and what is accepted.
        """
        require_within("runs drawn", self.runs, 1, MOST_DRAWN, "")
        require_within("seed", self.seed, 0, 2**63, "")
        require_within("correlation", self.correlation, 0.0, 1.0, "")


@dataclass(frozen=True)
class Course:
    """One or many runs through a procedure.

    Attributes:
        start: Of each step [s], shape (steps, runs).
        lane_end: When each lane has ended [s], shape (lanes, runs).
        arrivals: For each meeting when each of its people comes [s], shape (people, runs).
    """

    start: FloatArray
    lane_end: FloatArray
    arrivals: dict[int, FloatArray]

    @property
    def total(self) -> FloatArray:
        """When all have ended [s], shape (runs,)."""
        return np.asarray(self.lane_end.max(axis=0))


def people_of(procedure: Procedure, place: int) -> tuple[int, ...]:
    """Lanes that a step keeps busy, rising.

    Raises:
        ValueError: None, or one that there is not.
    """
    step: Step = procedure.steps[place]
    lanes = sorted(step.meets | ({step.lane} if step.lane >= 0 else frozenset()))
    if not lanes or not 0 <= lanes[0] <= lanes[-1] < len(procedure.lanes):
        raise ValueError(
            f'step {step.number}, "{step.name}", is of lanes {lanes}; accepted: at least one of '
            f"0 to {len(procedure.lanes) - 1}"
        )
    return tuple(lanes)


def likely_durations(procedure: Procedure) -> FloatArray:
    """Every duration at its most likely value [s], shape (steps, 1).

    Raises:
        ValueError: A duration that is no range.
    """
    for step in procedure.steps:
        require_ordered(step.duration, f'step {step.number}, "{step.name}",')
    likely = [step.duration.likely for step in procedure.steps]
    return np.array(likely, dtype=np.float64).reshape(-1, 1)


def longest_durations(procedure: Procedure) -> FloatArray:
    """Every duration at its longest [s], shape (steps, 1)."""
    longest = [step.duration.high for step in procedure.steps]
    return np.array(longest, dtype=np.float64).reshape(-1, 1)


def drawn_durations(procedure: Procedure, drawing: Drawing) -> FloatArray:
    """Durations of many runs [s], shape (steps, runs).

    Each is drawn through a normal deviate, part of which is the person's in all steps of theirs; a
    meeting has the parts of all who meet.
    """
    draw = np.random.default_rng(drawing.seed)
    person = draw.standard_normal((len(procedure.lanes), drawing.runs))
    own = draw.standard_normal((len(procedure.steps), drawing.runs))
    drawn = np.empty(own.shape)
    for place, step in enumerate(procedure.steps):
        people = list(people_of(procedure, place))
        common = person[people].sum(axis=0) / np.sqrt(len(people))
        mixed = np.sqrt(drawing.correlation) * common
        mixed += np.sqrt(1.0 - drawing.correlation) * own[place]
        drawn[place] = np.interp(mixed, DEVIATES, _at_deviates(step.duration, drawing.shape))
    return drawn


@lru_cache(maxsize=1024)
def _at_deviates(duration: Duration, shape: Shape) -> FloatArray:
    from scipy.special import ndtr

    at = pert_beta if shape is Shape.BETA else triangular
    return at(duration, ndtr(DEVIATES))


def course_of(procedure: Procedure, durations: FloatArray) -> Course:
    """Go through the steps in the order written, many runs at once.

    Args:
        procedure: Who does what after what.
        durations: Of each step [s], shape (steps, runs).
    """
    ready = np.zeros((max(1, len(procedure.lanes)), durations.shape[1]))
    start = np.zeros(durations.shape)
    arrivals = {}
    for place in range(len(procedure.steps)):
        people = list(people_of(procedure, place))
        if len(people) > 1:
            arrivals[place] = ready[people]
        start[place] = ready[people].max(axis=0)
        ready[people] = start[place] + durations[place]
    return Course(start, ready, arrivals)


def tails_of(procedure: Procedure, durations: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What is still to come.

    Args:
        procedure: Who does what after what.
        durations: Of each step [s], shape (steps, runs).

    Returns:
        From the start of each step until all that hangs on it has ended [s], shape (steps, runs);
        and the same from the start of each lane, shape (lanes, runs).
    """
    left = np.zeros((max(1, len(procedure.lanes)), durations.shape[1]))
    tails = np.zeros(durations.shape)
    for place in reversed(range(len(procedure.steps))):
        people = list(people_of(procedure, place))
        tails[place] = left[people].max(axis=0) + durations[place]
        left[people] = tails[place]
    return tails, left


def critical_chain(procedure: Procedure, course: Course) -> tuple[int, ...]:
    """Steps that follow one another without a gap from the start to the end of the first run.

    Found back from the end, each time by the person who came last.

    Returns:
        Places in the procedure, rising; of equals the lane of the least number.
    """
    before, last = _places_before(procedure)
    chain: list[int] = []
    place = last.get(int(course.lane_end[:, 0].argmax()))
    while place is not None:
        chain.append(place)
        people = people_of(procedure, place)
        arrivals = course.arrivals.get(place)
        latest = people[0 if arrivals is None else int(arrivals[:, 0].argmax())]
        place = before[place].get(latest)
    return tuple(reversed(chain))


def _places_before(procedure: Procedure) -> tuple[list[dict[int, int]], dict[int, int]]:
    """For each step the step before it of each of its people; and the last step of each lane."""
    last: dict[int, int] = {}
    before: list[dict[int, int]] = []
    for place in range(len(procedure.steps)):
        people = people_of(procedure, place)
        before.append({lane: last[lane] for lane in people if lane in last})
        last.update(dict.fromkeys(people, place))
    return before, last
