"""The run in which nothing fails, with its states kept at the instants at which something may."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.lanes import LANES, STEP
from neckring.outing.batch import Batch, Schedule
from neckring.outing.plan import coldest, station_pressure
from neckring.outing.scenario import Scenario
from neckring.outing.spells import Leg, legs, schedule
from neckring.outing.watching import Held, Rules, harm_limits, nothing_held, rules_of, watch
from neckring.outing.wearing import dressed
from neckring.station.limits import LimitSheet

FloatArray = NDArray[np.float64]

MINUTE = 60.0


@dataclass(frozen=True)
class Instant:
    """An instant of the run.

    Attributes:
        time: From first dressing [s].
        spell: Number of the spell.
        share: How much of that spell is done, 0..1.
    """

    time: float
    spell: int
    share: float


@dataclass(frozen=True)
class Kept:
    """State of all members at one instant.

    Attributes:
        state: shape (blocks, 18, STATE_SIZE).
        whole: shape (blocks, WHOLE_SIZE).
        held: Limits until then.
    """

    state: FloatArray
    whole: FloatArray
    held: Held


@dataclass(frozen=True)
class Trunk:
    """A run in which nothing fails.

    Attributes:
        scenario: Who, what, where, and how many members.
        rules: The limits that count as harm.
        every: All limits of the sheet that are watched.
        ready: The spells.
        pressure: Of the air [Pa], shape (members,).
        batch: At the end.
        kept: State at each instant, by its time [s].
        held: When each of `every` was crossed over the whole run.
    """

    scenario: Scenario
    rules: Rules
    every: Rules
    ready: list[Leg]
    pressure: FloatArray
    batch: Batch
    kept: dict[float, Kept]
    held: Held


def instants_of(ready: list[Leg]) -> tuple[Instant, ...]:
    """Every whole minute of a run, with its place in it."""
    ends = np.cumsum([leg.duration for leg in ready])
    found = []
    for minute in range(math.ceil(ends[-1] / MINUTE - 1e-9)):
        time = minute * MINUTE
        spell = int(np.searchsorted(ends, time + 1e-9, side="right"))
        begun = ends[spell] - ready[spell].duration
        found.append(Instant(time, spell, float((time - begun) / ready[spell].duration)))
    return tuple(found)


def run_trunk(
    scenario: Scenario,
    sheet: LimitSheet,
    keep: frozenset[float],
    step: float,
    only_kept: bool = False,
) -> Trunk:
    """Advance all members through the run.

    Args:
        scenario: With its members.
        sheet: The signed limits.
        keep: Times at which states are kept [s].
        step: Longest step [s].
        only_kept: End as soon as the last state is kept.
    """
    ready, pressure = legs(scenario), station_pressure(scenario)
    batch = dressed(scenario, pressure, coldest(ready))
    plan = schedule(scenario, ready, pressure, step)
    age = scenario.wearer.age.nominal
    rules, every = rules_of(harm_limits(sheet), age), rules_of(sheet.limits, age)
    harmful = [every.limits.index(limit) for limit in rules.limits]
    held = nothing_held(batch.state.shape[0], every)
    kept: dict[float, Kept] = {}
    for spell, begin, end in _pieces(ready, keep):
        if begin in keep:
            harm = Held(held.since[:, harmful], held.crossed[:, harmful])
            kept[begin] = Kept(batch.state.copy(), batch.whole.copy(), harm)
        if only_kept and len(kept) == len(keep):
            break
        watch(batch, _piece(plan, spell, end - begin, step), every, held)
    return Trunk(scenario, rules, every, ready, pressure, batch, kept, held)


def _pieces(ready: list[Leg], marks: frozenset[float]) -> list[tuple[int, float, float]]:
    """Each spell cut at the marks in it: its number, and when each piece begins and ends [s]."""
    pieces = []
    begun = 0.0
    for spell, leg in enumerate(ready):
        over = begun + leg.duration
        inside = sorted(time for time in marks if begun + 1e-9 < time < over - 1e-9)
        cuts = [_mark_at(marks, begun), *inside, over]
        pieces += [(spell, begin, end) for begin, end in itertools.pairwise(cuts)]
        begun = over
    return pieces


def _mark_at(marks: frozenset[float], time: float) -> float:
    """The mark at a time, to rounding; the time itself when there is none."""
    return next((mark for mark in marks if abs(mark - time) <= 1e-9), time)


def _piece(plan: Schedule, spell: int, duration: float, step: float) -> Schedule:
    """A part of one spell, in equal steps."""
    part = plan.part(spell, spell + 1)
    count = max(1, math.ceil(duration / step - 1e-9))
    part.spells[..., STEP : STEP + LANES] = duration / count
    return part.with_steps(np.array([count]))
