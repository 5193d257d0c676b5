"""How long a procedure takes, who waits for whom, and where time can be lost without harm.

Spreads are drawn with a seed. What makes a person slow in one step makes them slow in the others
too; how much so is the correlation. Without it long sums would look safer than they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from neckring.procedure.courses import (
    Course,
    Drawing,
    course_of,
    critical_chain,
    drawn_durations,
    likely_durations,
    longest_durations,
    people_of,
    tails_of,
)
from neckring.procedure.durations import practised, practised_total
from neckring.procedure.model import Duration
from neckring.procedure.steps import Procedure
from neckring.values import FloatArray, require_within

HIGH_SHARE = 0.95
"""What is called high: kept below in 19 of 20 runs."""
PRACTICE_TIMES = (1, 2, 5, 10)
LEARNING_RATES = (0.9, 0.8)
"""Assumed: a team that learns slowly, and Wright's 1936 figure of 80 % (from memory)."""


@dataclass(frozen=True)
class Spread:
    """A time with its spread [s].

    Attributes:
        likely: With every duration at its most likely value.
        mean: Of the runs drawn.
        high: Kept below in 19 of 20 of them.
    """

    likely: float
    mean: float
    high: float

    def scaled(self, factor: float) -> Spread:
        """All three multiplied by one factor."""
        return Spread(self.likely * factor, self.mean * factor, self.high * factor)


@dataclass(frozen=True)
class StepTime:
    """When one step may begin, counted from the start, by the likely durations [s].

    Attributes:
        start: Earliest.
        latest_start: Latest that does not make the whole later.
        float_time: Between the two: the step's float.
    """

    start: float
    latest_start: float
    float_time: float


@dataclass(frozen=True)
class Wait:
    """One lane at one meeting.

    Attributes:
        lane: Its number.
        time: It waits [s].
        waited_for: Share of the runs drawn in which this lane is the last to come.
    """

    lane: int
    time: Spread
    waited_for: float


@dataclass(frozen=True)
class Meeting:
    """Several lanes that wait for one another.

    Attributes:
        step: Its place in the procedure, from 0.
        late: The lane that is waited for by the likely durations; None where nobody waits.
        waits: Of each lane, by number.
    """

    step: int
    late: int | None
    waits: tuple[Wait, ...]


@dataclass(frozen=True)
class Timing:
    """Times of a whole procedure.

    Attributes:
        total: Until the last lane has ended.
        lanes: Until each lane has ended.
        steps: By place in the procedure.
        chain: The critical chain: steps that follow one another without a gap from the start to
            the end, by the likely durations.
        meetings: In the order written.
    """

    total: Spread
    lanes: tuple[Spread, ...]
    steps: tuple[StepTime, ...]
    chain: tuple[int, ...]
    meetings: tuple[Meeting, ...]


@dataclass(frozen=True)
class LaneStart:
    """The latest at which a lane may start so that all have ended by the deadline [s].

    Negative where it is too late already. All lanes must keep theirs.

    Attributes:
        likely: With the likely durations.
        sure: In 19 of 20 runs drawn.
        worst: With the longest durations.
    """

    likely: float
    sure: float
    worst: float


@dataclass(frozen=True)
class Practice:
    """How long the whole takes when it is done once more.

    Attributes:
        time: The how-manieth time, from 1.
        rate: What is left after each doubling of practice.
        total: Until the last lane has ended.
    """

    time: int
    rate: float
    total: Spread


def times(procedure: Procedure, drawing: Drawing | None = None) -> Timing:
    """When everything happens.

    Args:
        procedure: With durations; a step without one takes no time.
        drawing: How spreads are drawn.

    Raises:
        ValueError: A duration that is no range, or a step of a lane that there is not.
    """
    likely, drawn = _both_courses(procedure, drawing or Drawing())
    tails = tails_of(procedure, likely_durations(procedure))[0][:, 0]
    total = float(likely.total[0])
    starts = likely.start[:, 0]
    return Timing(
        total=_spread(likely.total, drawn.total),
        lanes=tuple(map(_spread, likely.lane_end, drawn.lane_end)),
        steps=tuple(
            StepTime(float(start), total - float(tail), max(0.0, total - float(tail + start)))
            for start, tail in zip(starts, tails, strict=True)
        ),
        chain=critical_chain(procedure, likely),
        meetings=tuple(
            _meeting(place, people_of(procedure, place), likely, drawn) for place in likely.arrivals
        ),
    )


def waiting_while(
    procedure: Procedure, lane: int, holding: Sequence[bool], drawing: Drawing | None = None
) -> Spread:
    """How long a lane waits in all while something holds, for example with the helmet on.

    Args:
        procedure: With durations.
        lane: Who waits.
        holding: For each step, whether it holds while that step is waited for.
        drawing: How spreads are drawn.

    Raises:
        ValueError: As `times`; no such lane; not one value for each step.
    """
    require_within("lane", lane, 0, len(procedure.lanes) - 1, "")
    if len(holding) != len(procedure.steps):
        raise ValueError(
            f"{len(holding)} values for {len(procedure.steps)} steps; accepted: one for each step"
        )
    likely, drawn = (
        _waited(procedure, lane, holding, course)
        for course in _both_courses(procedure, drawing or Drawing())
    )
    return _spread(likely, drawn)


def latest_starts(
    procedure: Procedure, deadline: float, drawing: Drawing | None = None
) -> tuple[LaneStart, ...]:
    """The latest at which each lane may start.

    Args:
        procedure: With durations.
        deadline: When all must have ended [s].
        drawing: How spreads are drawn.

    Returns:
        By lane, on the clock of the deadline. `sure` holds for all lanes together: each keeps the
        same reserve before the start that half of the runs would allow it.

    Raises:
        ValueError: As `times`; a deadline that is no number.
    """
    require_within("deadline", deadline, -1e9, 1e9, "s")
    likely = deadline - tails_of(procedure, likely_durations(procedure))[1][:, 0]
    worst = deadline - tails_of(procedure, longest_durations(procedure))[1][:, 0]
    drawn = deadline - tails_of(procedure, drawn_durations(procedure, drawing or Drawing()))[1]
    half = np.median(drawn, axis=1)
    busy = [lane for lane in range(len(procedure.lanes)) if worst[lane] < deadline]
    reserve = _high(np.max(half[busy, None] - drawn[busy], axis=0)) if busy else 0.0
    return tuple(
        LaneStart(
            float(likely[lane]),
            float(half[lane]) - (reserve if lane in busy else 0.0),
            float(worst[lane]),
        )
        for lane in range(len(procedure.lanes))
    )


def practised_procedure(procedure: Procedure, time: int, rate: float) -> Procedure:
    """The procedure as it goes when done once more: all durations by Wright's learning curve.

    Args:
        procedure: As done for the first time.
        time: The how-manieth time, from 1.
        rate: What is left after each doubling of practice.
    """
    left = float(practised(1.0, time, rate))
    return replace(
        procedure,
        steps=tuple(
            replace(step, duration=_shortened(step.duration, left)) for step in procedure.steps
        ),
    )


def total_of_runs(
    procedure: Procedure, runs: int, rate: float, drawing: Drawing | None = None
) -> Spread:
    """How long several runs take together when each goes better than the one before.

    Whoever is slow in the first is slow in all of them: the careful choice.

    Args:
        procedure: As done for the first time.
        runs: How many.
        rate: What is left after each doubling of practice.
        drawing: How spreads are drawn.

    Raises:
        ValueError: As `times`; a number of runs or a rate out of range.
    """
    return times(procedure, drawing).total.scaled(practised_total(1.0, runs, rate))


def practised_totals(timing: Timing) -> tuple[Practice, ...]:
    """How long a procedure takes when it has been done before, at each rate of learning.

    Every duration shortens alike, and so does the whole.
    """
    return tuple(
        Practice(time, rate, timing.total.scaled(float(practised(1.0, time, rate))))
        for rate in LEARNING_RATES
        for time in PRACTICE_TIMES
    )


def _shortened(duration: Duration, left: float) -> Duration:
    return Duration(duration.low * left, duration.likely * left, duration.high * left)


def _spread(likely: FloatArray, drawn: FloatArray) -> Spread:
    return Spread(float(likely.flat[0]), float(drawn.mean()), _high(drawn))


def _high(drawn: FloatArray) -> float:
    return float(np.quantile(drawn, HIGH_SHARE, method="higher"))


def _both_courses(procedure: Procedure, drawing: Drawing) -> tuple[Course, Course]:
    likely = course_of(procedure, likely_durations(procedure))
    return likely, course_of(procedure, drawn_durations(procedure, drawing))


def _meeting(place: int, people: tuple[int, ...], likely: Course, drawn: Course) -> Meeting:
    plain = likely.start[place] - likely.arrivals[place]
    many = drawn.start[place] - drawn.arrivals[place]
    waits = tuple(
        Wait(lane, _spread(plain[row], many[row]), float((many[row] == 0.0).mean()))
        for row, lane in enumerate(people)
    )
    late = people[int(plain[:, 0].argmin())] if plain.any() else None
    return Meeting(place, late, waits)


def _waited(procedure: Procedure, lane: int, holding: Sequence[bool], course: Course) -> FloatArray:
    waited = np.zeros(course.start.shape[1])
    for place, arrivals in course.arrivals.items():
        people = people_of(procedure, place)
        if holding[place] and lane in people:
            waited += course.start[place] - arrivals[people.index(lane)]
    return waited
