"""The picture of who does what when: one lane for each person, waiting drawn as such."""

from __future__ import annotations

import math
from dataclasses import dataclass

from neckring.procedure.courses import people_of
from neckring.procedure.examination import Examination
from neckring.procedure.model import holds
from neckring.procedure.steps import StepKind
from neckring.procedure.timing import Spread, practised_totals

WIDTH, LEFT, RIGHT = 760.0, 72.0, 14.0
TOP, LANE, BOX = 12.0, 40.0, 22.0
FOOT = 30.0
ROOM_FOR_NUMBER = 15.0
MOST_TICKS = 8
GAP = 0.5  # s


@dataclass(frozen=True)
class Box:
    """One step of one lane.

    Attributes:
        x: Of its left edge.
        width: As long as it takes.
        number: Of the step; empty where there is no room for it.
        critical: Whether it is in the critical chain.
    """

    x: float
    width: float
    number: str
    critical: bool


@dataclass(frozen=True)
class Lane:
    """One person.

    Attributes:
        name: Who.
        y: Of the middle of the lane.
        boxes: What they do.
        meetings: Where they meet others.
        waits: From and to, where they wait.
    """

    name: str
    y: float
    boxes: tuple[Box, ...]
    meetings: tuple[float, ...]
    waits: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class LanePicture:
    """All lanes on one axis.

    Attributes:
        width: Of the picture.
        height: Of the picture.
        lanes: From top to bottom.
        ticks: Place and words of each mark on the axis.
        axis: Height of the axis.
    """

    width: float
    height: float
    lanes: tuple[Lane, ...]
    ticks: tuple[tuple[float, str], ...]
    axis: float


def lane_picture(examination: Examination) -> LanePicture | None:
    """Draw who does what when, by the likely durations; None when nothing takes any time."""
    timing, procedure = examination.timing, examination.listed.procedure
    total = timing.total.likely
    if total <= 0.0:
        return None
    scale = (WIDTH - LEFT - RIGHT) / total
    axis = TOP + LANE * len(procedure.lanes)
    lanes = tuple(
        _lane(examination, lane, name, TOP + LANE * (lane + 0.5), scale)
        for lane, name in enumerate(procedure.lanes)
    )
    ticks = tuple((LEFT + scale * at, f"{at:g}") for at in _moments(total))
    return LanePicture(WIDTH, axis + FOOT, lanes, ticks, axis)


def _lane(examination: Examination, lane: int, name: str, y: float, scale: float) -> Lane:
    procedure, timing = examination.listed.procedure, examination.timing
    boxes: list[Box] = []
    meetings: list[float] = []
    waits: list[tuple[float, float]] = []
    free = 0.0
    for place, step in enumerate(procedure.steps):
        if lane not in people_of(procedure, place):
            continue
        start = timing.steps[place].start
        if start > free + GAP:
            waits.append((LEFT + scale * free, LEFT + scale * start))
        free = start + step.duration.likely
        width = scale * step.duration.likely
        number = str(step.number) if width >= ROOM_FOR_NUMBER else ""
        if step.kind is StepKind.MEET:
            meetings.append(LEFT + scale * start)
        elif width > 0.0:
            boxes.append(Box(LEFT + scale * start, width, number, place in timing.chain))
    return Lane(name, y, tuple(boxes), tuple(meetings), tuple(waits))


def _moments(total: float) -> list[float]:
    """Round moments from 0 on, not too many."""
    step = next(
        each
        for each in (5, 10, 20, 30, 60, 120, 300, 600, 1200, math.inf)
        if total / each <= MOST_TICKS
    )
    if math.isinf(step):
        step = 10.0 ** math.ceil(math.log10(total / MOST_TICKS))
    return [step * n for n in range(int(total / step) + 1)]


@dataclass(frozen=True)
class LaneWords:
    """What one person's time is made of.

    Attributes:
        who: Who.
        ends: When they have ended, likely [s].
        high: The same, kept below in 19 of 20 runs [s].
        busy: They act for so long, likely [s].
        waits: They wait at meetings for so long, likely [s].
        mean_waits: The same on average [s].
        closed_in: Of that with a wearer in the suit who waits; None for a tender [s].
        mean_closed_in: The same on average [s].
        last: At how many meetings they are the one waited for.
    """

    who: str
    ends: float
    high: float
    busy: float
    waits: float
    mean_waits: float
    closed_in: float | None
    mean_closed_in: float | None
    last: int


def lane_words(examination: Examination) -> tuple[LaneWords, ...]:
    """Each person's time, by the likely durations and on average."""
    procedure, timing = examination.listed.procedure, examination.timing
    found = []
    for lane, who in enumerate(procedure.lanes):
        places = [n for n in range(len(procedure.steps)) if lane in people_of(procedure, n)]
        waits = [
            (meeting.step, wait.time)
            for meeting in timing.meetings
            for wait in meeting.waits
            if wait.lane == lane
        ]
        worn = (
            None
            if who not in examination.listed.ground.wearers
            else [time for place, time in waits if _inside(examination, who, place)]
        )
        found.append(
            LaneWords(
                who,
                timing.lanes[lane].likely,
                timing.lanes[lane].high,
                sum(procedure.steps[place].duration.likely for place in places),
                sum(time.likely for _, time in waits),
                sum(time.mean for _, time in waits),
                None if worn is None else sum(time.likely for time in worn),
                None if worn is None else sum(time.mean for time in worn),
                sum(meeting.late == lane for meeting in timing.meetings),
            )
        )
    return tuple(found)


def _inside(examination: Examination, wearer: str, place: int) -> bool:
    ground = examination.listed.ground
    inside = ground.condition(ground.kit.relief.inside, wearer)
    return holds(inside, examination.states[place])


def practice_rows(examination: Examination) -> dict[int, list[Spread]]:
    """The whole by how-manieth time it is done, for each rate of learning in its order."""
    rows: dict[int, list[Spread]] = {}
    for each in practised_totals(examination.timing):
        rows.setdefault(each.time, []).append(each.total)
    return rows
