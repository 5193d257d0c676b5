"""What follows from a failure at each instant: branches off the run in which nothing fails.

A branch begins with the trunk's state at its instant. The wearer goes on until the failure is
noticed, walks home (or lies down), and waits at the bay with the failure still there: the harm
clock is what happens when no help comes.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring import lanes
from neckring.lanes import LANES
from neckring.outing.batch import Batch, Schedule, blocks_of
from neckring.outing.branch_rows import Phase, RowBook
from neckring.outing.failures import Failure
from neckring.outing.help_clock import Spot, help_clock
from neckring.outing.scenario import Scenario
from neckring.outing.trunk import Instant, Kept, Trunk, instants_of
from neckring.outing.watch import NEVER
from neckring.outing.watching import RELIEFS, Held, watch

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Segments whose underwear a leak inside the suit soaks: chest, back, pelvis.
TRUNK_SEGMENTS = (2, 3, 4)
# Stores that a strike may change.
STORES = ("ICE", "RESERVOIR", "RESERVOIR_WATER", "CHARGE")


@dataclass(frozen=True)
class Pace:
    """How finely and how far branches are computed.

    Attributes:
        near: Longest step in the first minutes [s].
        walking: Longest step on the way home [s].
        waiting: Longest step at the bay [s].
        beyond: Slack beyond the reserve up to which clocks are computed [s].
        to_the_end: Whether every limit's clock is wanted, not only the slack.
    """

    near: float = 3.0
    walking: float = 20.0
    waiting: float = 20.0
    beyond: float = 900.0
    to_the_end: bool = False


@dataclass(frozen=True)
class Clocks:
    """Harm and help of one failure.

    Attributes:
        instants: At which it can happen.
        runs: Number of the unbroken run of minutes each lies in, shape (instants,).
        harm: [s], shape (2, instants, members), by relief (AIR, HEAT); infinite where no limit
            is crossed in what is computed.
        help: Same.
        limit: Number of the limit crossed first, same shape; -1 where none is.
        each: Time to every limit [s], shape (limits, instants, members); None when branches ended
            as soon as the slack was known.
    """

    instants: tuple[Instant, ...]
    runs: IntArray
    harm: FloatArray
    help: FloatArray
    limit: IntArray
    each: FloatArray | None = None

    def slack(self) -> FloatArray:
        """Harm less help [s], shape (2, instants, members).

        Where help cannot come at all, it is the harm clock that says whether it is needed.
        """
        with np.errstate(invalid="ignore"):
            return np.where(np.isinf(self.harm), np.inf, self.harm - self.help)

    def margin(self, reserves: FloatArray) -> FloatArray:
        """Slack beyond the reserve [s], shape (2, instants, members)."""
        return self.slack() - reserves[:, None, None]

    def part(self, instants: slice = slice(None), members: slice = slice(None)) -> Clocks:
        """The clocks of some instants and members; of no single limits."""
        return Clocks(
            self.instants[instants],
            self.runs[instants],
            self.harm[:, instants, members],
            self.help[:, instants, members],
            self.limit[:, instants, members],
        )


def courses(failures: Iterable[Failure]) -> list[list[Failure]]:
    """Failures gathered by what the body goes through."""
    found: dict[tuple[object, ...], list[Failure]] = {}
    for failure in failures:
        found.setdefault(failure.course, []).append(failure)
    return list(found.values())


def possible_at(trunk: Trunk, failure: Failure, instant: Instant) -> bool:
    """Whether a failure can happen at an instant."""
    spell = trunk.ready[instant.spell].spell
    before = trunk.ready[instant.spell - 1].spell if instant.spell else None
    return failure.possible(trunk.scenario, spell, before)


def branch(
    book: RowBook,
    course: Sequence[Failure],
    wanted: Mapping[str, frozenset[float]],
    reserves: FloatArray,
    pace: Pace,
) -> dict[str, Clocks]:
    """Clocks of failures that share a course, at instants whose states the trunk has kept.

    Args:
        book: Rows of the trunk.
        course: The failures.
        wanted: Times [s] at which each failure is wanted.
        reserves: Of the air and of everything else [s], shape (2,).
        pace: How finely.

    Returns:
        By the failure's code; without those that can happen at none of the instants.
    """
    trunk = book.trunk
    spans = {f.code: _run_numbers(trunk, f) for f in course}
    helps = _helps(trunk.scenario, trunk, spans, course, wanted)
    drawn = book.ends is not trunk.scenario
    ends = _helps(book.ends, trunk, spans, course, wanted) if drawn else helps
    places = sorted({i for times in helps.values() for i in times}, key=lambda i: i.time)
    crossed: dict[Instant, FloatArray] = {}
    for group in _groups(book, places):
        relief, at_ends = (
            [[found[f][i] for f in found if i in found[f]] for i in group]
            for found in (helps, ends)
        )
        crossed |= _crossed_in_group(book, course[0], group, relief, at_ends, reserves, pace)
    return {
        code: _clocks(trunk, times, spans[code], crossed, pace.to_the_end)
        for code, times in helps.items()
    }


def _run_numbers(trunk: Trunk, failure: Failure) -> dict[Instant, int]:
    """The instants at which a failure can happen, with the number of their unbroken run."""
    instants = instants_of(trunk.ready)
    possible = [possible_at(trunk, failure, instant) for instant in instants]
    breaks = np.cumsum(~np.array(possible))
    return {i: int(n) for i, n, can in zip(instants, breaks, possible, strict=True) if can}


def _clocks(
    trunk: Trunk,
    helps: dict[Instant, FloatArray],
    runs: dict[Instant, int],
    crossed: dict[Instant, FloatArray],
    each: bool,
) -> Clocks:
    to_limit = [np.maximum(crossed[i] - i.time, 0.0) for i in helps]
    first = [_first_harm(trunk, times) for times in to_limit]
    return Clocks(
        tuple(helps),
        np.array([runs[i] for i in helps]),
        np.stack([harm for harm, _ in first], axis=1),
        np.stack(list(helps.values()), axis=1),
        np.stack([limit for _, limit in first], axis=1),
        np.stack(to_limit, axis=1) if each else None,
    )


def _helps(
    scenario: Scenario,
    trunk: Trunk,
    spans: dict[str, dict[Instant, int]],
    course: Sequence[Failure],
    wanted: Mapping[str, frozenset[float]],
) -> dict[str, dict[Instant, FloatArray]]:
    """Help clocks of a scenario's members, by failure and instant; without empty ones."""
    helps = {}
    for failure in course:
        instants = [i for i in spans[failure.code] if i.time in wanted[failure.code]]
        if instants:
            helps[failure.code] = {
                i: help_clock(scenario, failure, spot_at(trunk, i)) for i in instants
            }
    return helps


def spot_at(trunk: Trunk, instant: Instant) -> Spot:
    """Where the wearer is at an instant."""
    return Spot(trunk.ready[instant.spell].spell, instant.share)


def _groups(book: RowBook, instants: list[Instant]) -> list[list[Instant]]:
    """Instants of one spell with one way home."""
    keyed = [(instant.spell, book.route(instant), instant) for instant in instants]
    return [
        [instant for _, _, instant in group]
        for _, group in itertools.groupby(keyed, key=lambda entry: entry[:2])
    ]


def _crossed_in_group(
    book: RowBook,
    failure: Failure,
    group: list[Instant],
    relief: list[list[FloatArray]],
    at_ends: list[list[FloatArray]],
    reserves: FloatArray,
    pace: Pace,
) -> dict[Instant, FloatArray]:
    """When each limit is crossed [s], shape (limits, members), infinite when never."""
    trunk = book.trunk
    members = trunk.scenario.members
    spared = _spared(relief, reserves)
    totals = (_longest(s) + pace.beyond for s in (spared, _spared(at_ends, reserves)))
    phases = book.phases(failure, book.route(group[0]), group, *totals)
    plan = _timed(book.schedule(failure, phases), phases, pace, members)
    kept = [trunk.kept[instant.time] for instant in group]
    batch, held = _gathered(trunk, kept)
    _strike(trunk, failure, batch, plan)
    start = _to_blocks(np.array([[i.time] * members for i in group]))
    # Failures that share a course but not their help are followed to the end.
    alone = all(len(r) == 1 for r in relief) and not pace.to_the_end
    wanted = _relief_rows(trunk, spared, alone)
    watch(batch, plan, trunk.rules, held, start, wanted)
    crossed = _from_blocks(held.crossed, len(group), members)
    crossed = np.where(crossed < NEVER, crossed, np.inf)
    return {instant: crossed[:, place] for place, instant in enumerate(group)}


def _spared(relief: list[list[FloatArray]], reserves: FloatArray) -> FloatArray:
    """Slowest help with its reserve [s], shape (instants, 2, members)."""
    return np.array([np.max(r, axis=0) for r in relief]) + reserves[:, None]


def _longest(spared: FloatArray) -> FloatArray:
    """Of both reliefs, where help comes at all [s], shape (instants, members)."""
    return np.asarray(np.where(np.isfinite(spared), spared, 0.0).max(axis=1))


def _relief_rows(trunk: Trunk, spared: FloatArray, alone: bool) -> FloatArray:
    """Relief with its reserve of each limit, shape (blocks, limits, LANES)."""
    rows = [
        _to_blocks(spared[:, relief] if alone else np.full_like(spared[:, 0], NEVER))
        for relief in trunk.rules.relief
    ]
    return np.ascontiguousarray(np.minimum(np.stack(rows, axis=1), NEVER))


def _first_harm(trunk: Trunk, to_limit: FloatArray) -> tuple[FloatArray, IntArray]:
    """Time to the first limit of each relief [s], and its number, shape (2, members) each."""
    members = to_limit.shape[-1]
    harm = np.full((2, members), np.inf)
    which = np.full((2, members), -1, dtype=np.int64)
    for relief in RELIEFS:
        numbers = np.flatnonzero(trunk.rules.relief == relief)
        if len(numbers):
            harm[relief] = to_limit[numbers].min(axis=0)
            first = numbers[to_limit[numbers].argmin(axis=0)]
            which[relief] = np.where(np.isfinite(harm[relief]), first, -1)
    return harm, which


def _timed(plan: Schedule, phases: list[Phase], pace: Pace, members: int) -> Schedule:
    """The schedule for every instant, with the steps of each phase."""
    count = len(phases[0].duration)
    copies = blocks_of(count) if members == 1 else count
    spells = np.tile(plan.spells, (copies, 1, 1))
    steps = np.zeros(len(phases), dtype=np.int64)
    for number, phase in enumerate(phases):
        longest = float(phase.ends.max())
        steps[number] = max(1, math.ceil(longest / _step(phase, pace) - 1e-9))
        lasting = _to_blocks(phase.duration / steps[number])
        spells[:, number, lanes.STEP : lanes.STEP + LANES] = lasting
    return Schedule(spells, plan.around, steps)


def _step(phase: Phase, pace: Pace) -> float:
    if phase.soon:
        return pace.near
    return pace.walking if phase.name == "walks" else pace.waiting


def _to_blocks(values: FloatArray) -> FloatArray:
    """Values (instants, members) in the blocks of a branch, shape (blocks, LANES).

    One member: instants lie side by side. Several: each instant has its own blocks.
    """
    count, members = values.shape
    flat = values.reshape(1, count) if members == 1 else values
    width = blocks_of(flat.shape[1]) * LANES
    padded = np.concatenate([flat, np.repeat(flat[:, -1:], width - flat.shape[1], axis=1)], axis=1)
    return padded.reshape(-1, LANES)


def _from_blocks(values: FloatArray, count: int, members: int) -> FloatArray:
    """Values (blocks, rows, LANES) of a branch as (rows, instants, members)."""
    rows = np.moveaxis(values, 1, 0)
    if members == 1:
        return rows.reshape(len(rows), -1)[:, :count, None]
    return rows.reshape(len(rows), count, -1)[..., :members]


def _gathered(trunk: Trunk, kept: list[Kept]) -> tuple[Batch, Held]:
    """The kept states of several instants as one batch that may be advanced."""
    if trunk.scenario.members == 1:
        state = _side_by_side([k.state for k in kept])
        whole = _side_by_side([k.whole for k in kept])
        since = _side_by_side([k.held.since for k in kept])
        crossed = _side_by_side([k.held.crossed for k in kept])
    else:
        state = np.concatenate([k.state for k in kept])
        whole = np.concatenate([k.whole for k in kept])
        since = np.concatenate([k.held.since for k in kept])
        crossed = np.concatenate([k.held.crossed for k in kept])
    end = trunk.batch
    members = state.shape[0] * LANES
    batch = Batch(members, state, end.body, whole, end.traits, end.upstream, end.order)
    return batch, Held(since, crossed)


def _side_by_side(arrays: list[FloatArray]) -> FloatArray:
    """Instants of one member put beside each other in lanes; the last one fills the block up."""
    shape = arrays[0].shape[1:]
    numbers = np.stack([a[0].reshape(*shape[:-1], -1, LANES)[..., 0] for a in arrays], axis=-1)
    short = blocks_of(len(arrays)) * LANES - len(arrays)
    padded = np.concatenate([numbers, np.repeat(numbers[..., -1:], short, axis=-1)], axis=-1)
    blocks = padded.reshape(*padded.shape[:-1], -1, LANES)
    return np.ascontiguousarray(np.moveaxis(blocks, -2, 0)).reshape(-1, *shape)


def _strike(trunk: Trunk, failure: Failure, batch: Batch, plan: Schedule) -> None:
    """Change what the pack and the suit hold, as the failure does at its instant."""
    if failure.strike is None:
        return

    def lane(array: FloatArray, name: str) -> FloatArray:
        place = getattr(lanes, name)
        return array[..., place : place + LANES]

    stores = {name: lane(batch.whole, name).copy() for name in STORES}
    outside = lane(plan.spells[:, 0], "OUTSIDE_TEMPERATURE")
    for name, values in failure.strike(
        trunk.scenario, stores | {"OUTSIDE_TEMPERATURE": outside}
    ).items():
        if name == "LIQUID":
            for segment in TRUNK_SEGMENTS:
                lane(batch.state[:, segment], name)[:] += values / len(TRUNK_SEGMENTS)
        else:
            lane(batch.whole, name)[:] = values
