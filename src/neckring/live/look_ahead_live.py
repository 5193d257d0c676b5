"""Looking ahead from now: harm against help for every failure, and when to turn back at the latest.

The same branches as in a plan, off the members' present states. Every failure is held against help
now. Of what is to come, only those failures and instants are computed at which the plan as
written, or the members now, come near a reserve; and where most lose it first, finer.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.lanes import LANES
from neckring.live.nearness import ENDLESS, NEAR, Shape, filled, margins
from neckring.live.outlooked import Outlooked, Question
from neckring.outing.branches import Clocks, Pace, possible_at
from neckring.outing.failures import FAILURES, Failure
from neckring.outing.gathered import first_loss
from neckring.outing.help_clock import ends_in_cooling
from neckring.outing.scenario import Scenario
from neckring.outing.trunk import MINUTE, Instant
from neckring.outing.watching import AIR

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Wanted = Mapping[str, frozenset[float]]

# In a live round clocks are computed a little more coarsely than in a plan, and less far.
LIVE_PACE = Pace(near=3.0, walking=30.0, waiting=30.0, beyond=600.0)
# Of what is to come only the sign of what is left beyond the reserve is asked.
COMING_PACE = Pace(near=3.0, walking=30.0, waiting=60.0, beyond=300.0)
# What lies below so many parts of `NEAR` beyond its reserve is asked, at most at so many places in
# the first go; and how many goes there are.
MAY_BE_LOST = 0.8
# In the place of a failure: the plan itself crosses a limit, and it is that of turning for home.
UNAVOIDED = FAILURES[0].code
MOST_PLACES = 48
GOES = 4
# Of how many failures the minutes are asked at which members lose, and of which members.
MOST_BINDING = 3
MEMBERS_ASKED = (0.2, 0.6)


@dataclass(frozen=True)
class LookedAhead:
    """What a look ahead found for the chosen members.

    Attributes:
        now: Clocks of every failure now, by its code.
        turn_back: Latest run time at which leaving for home keeps every reserve [s], (chosen,);
            now when it is too late already, the planned return where nothing comes near.
        home: Run time of the planned return [s].
        lost: Who has less than a reserve already now, (chosen,).
        binds: Code of the failure that binds each, empty where none does.
        scenario: Of the chosen.
    """

    now: dict[str, Clocks]
    turn_back: FloatArray
    home: float
    lost: NDArray[np.bool_]
    binds: tuple[str, ...]
    scenario: Scenario


def look_ahead_from(question: Question, workers: int = 1) -> LookedAhead:
    """Every failure now, and the latest time to turn back, for chosen members."""
    asked = Outlooked(question)
    here = frozenset({asked.now})
    found = asked.clocks({f.code: here for f in FAILURES}, LIVE_PACE, workers)
    grids = _grids(asked)
    found = _leg_by_leg(asked, found, grids, workers)
    wanted = _wanted(asked, found, grids)
    for _ in range(GOES):
        if wanted:
            found = _merged(found, asked.clocks(wanted, COMING_PACE, workers))
        wanted = _where_most_lose(asked, found, grids)
        if not wanted:
            break
    return _found(asked, found, _losses(asked, found, grids))


def every_minute(question: Question, pace: Pace, workers: int = 1) -> LookedAhead:
    """The same for a few members, with every failure at every minute to come: slow and sure.

    It ends with the minutes in which all have lost a reserve.
    """
    asked = Outlooked(question)
    times = sorted({instant.time for instant in asked.instants()} | {asked.now})
    found: dict[str, Clocks] = {}
    losses: dict[str, FloatArray] = {}
    for begin in range(0, len(times), LANES):
        some = frozenset(times[begin : begin + LANES])
        found = _merged(found, asked.clocks({f.code: some for f in FAILURES}, pace, workers))
        losses = {
            c: first_loss({c: at}, question.reserves, ENDLESS, len(question.chosen))
            for c, at in found.items()
        }
        if losses and np.isfinite(np.min(list(losses.values()), axis=0)).all():
            break
    return _found(asked, found, losses)


@dataclass(frozen=True)
class _Grid:
    """Whole minutes to come at which a failure can happen, and the plan as written there.

    Attributes:
        times: [s], shape (minutes,).
        shape: Slack beyond the reserve [s], shape (2, minutes).
        legs: Number of the leg each lies in, shape (minutes,).
    """

    times: FloatArray
    shape: FloatArray
    legs: IntArray

    def worst(self, leg: int) -> float:
        """The minute of a leg at which the plan has least, the last of several [s]."""
        here = np.flatnonzero(self.legs == leg)
        least = (self.shape[:, here] / NEAR[:, None]).min(axis=0)
        return float(self.times[here[len(here) - 1 - int(least[::-1].argmin())]])


def _grids(asked: Outlooked) -> dict[str, _Grid]:
    """Every failure's minutes to come, by its code; on the way home the plan gives no shape."""
    instants = asked.instants()
    grids = {}
    for failure in FAILURES:
        shape = asked.question.near.shapes.get(failure.code)
        can = [i for i in instants if possible_at(asked.trunk, failure, i)]
        if not can or asked.home <= asked.now:
            continue
        rows = [_as_planned(asked, shape, instant) for instant in can]
        grids[failure.code] = _Grid(
            np.array([i.time for i in can]),
            np.stack(rows, axis=1),
            np.array([i.spell for i in can]),
        )
    return grids


def _leg_by_leg(
    asked: Outlooked, found: dict[str, Clocks], grids: dict[str, _Grid], workers: int
) -> dict[str, Clocks]:
    """Every failure once in each leg to come, up to the leg in which nearly all lose a reserve.

    Where the plan as written never reaches a limit its shape gives no warning; who breathes out
    more than planned, or has less in the battery, may lose a reserve there all the same.
    """
    for leg in sorted({int(leg) for grid in grids.values() for leg in grid.legs}):
        here = {c: grid.worst(leg) for c, grid in grids.items() if leg in grid.legs}
        losses = _losses(asked, found, grids)
        first = np.min(list(losses.values()), axis=0) if losses else np.array([np.inf])
        if min(here.values()) > float(np.quantile(first, 0.9, method="inverted_cdf")):
            break
        wanted = {c: frozenset({t}) for c, t in here.items() if t > asked.now}
        if wanted:
            found = _merged(found, asked.clocks(wanted, COMING_PACE, workers))
    return found


def _as_planned(asked: Outlooked, shape: Shape | None, instant: Instant) -> FloatArray:
    spell = asked.question.doing.number + instant.spell - 1
    if shape is None or asked.question.doing.turned is not None or not shape.can(spell):
        return np.zeros(2)
    return shape.at(spell, instant.share)


def _wanted(
    asked: Outlooked, now: dict[str, Clocks], grids: dict[str, _Grid]
) -> dict[str, frozenset[float]]:
    """Failures and instants to come at which a reserve may be lost, the first of them.

    In each spell the worst minute of the plan stands for it. Members lie from the plan as they do
    now; where nobody knows, as widely as counts as near. What comes after nearly all have lost a
    reserve is not asked.
    """
    found: list[tuple[float, str]] = []
    end = float(np.quantile(asked.unavoided(), 0.9, method="inverted_cdf"))
    for code, grid in grids.items():
        low, high = _ends(asked, now.get(code), grid)
        for leg in np.unique(grid.legs):
            inside = (grid.times > asked.now) & (grid.times <= end)
            here = np.flatnonzero((grid.legs == leg) & inside)
            if not len(here):
                continue
            worst = here[low[here].argmin()]
            if low[worst] < MAY_BE_LOST:
                found.append((float(grid.times[worst]), code))
            if high[worst] < 0.0:
                end = min(end, float(grid.times[worst]))
                break
    wanted: dict[str, set[float]] = {}
    for time, code in sorted(found)[:MOST_PLACES]:
        if time <= end:
            wanted.setdefault(code, set()).add(time)
    return {code: frozenset(times) for code, times in wanted.items()}


def _ends(asked: Outlooked, now: Clocks | None, grid: _Grid) -> tuple[FloatArray, FloatArray]:
    """Where a tenth and nine tenths of the members lie [in parts of NEAR], (minutes,) each."""
    away = np.stack([-NEAR, NEAR])
    if now is not None and grid.times[0] == asked.now:
        known = margins(now, asked.question.reserves)[:, 0]
        away = np.quantile(known, (0.1, 0.9), axis=1) - grid.shape[:, 0]
    low, high = (((grid.shape + a[:, None]) / NEAR[:, None]).min(axis=0) for a in away)
    return low, high


def _losses(
    asked: Outlooked, found: dict[str, Clocks], grids: dict[str, _Grid]
) -> dict[str, FloatArray]:
    """When each member first has less than its reserve [s], by the failure's code."""
    reserves = asked.question.reserves
    losses: dict[str, FloatArray] = {}
    for code, clocks in found.items():
        known = margins(clocks, reserves)
        times = np.array([instant.time for instant in clocks.instants])
        if code not in grids:
            lost = (known.min(axis=(0, 1)) < 0.0) & (times[0] <= asked.now)
            losses[code] = np.where(lost, asked.now, np.inf)
        else:
            grid = grids[code]
            losses[code] = _first_below(
                grid.times, filled(times, known, grid.times, grid.shape, grid.legs)
            )
    if asked.home > asked.now:
        unavoided = asked.unavoided()
        losses[UNAVOIDED] = np.minimum(losses.get(UNAVOIDED, unavoided), unavoided)
    return losses


def _first_below(times: FloatArray, least: FloatArray) -> FloatArray:
    """When each column of (minutes, members) first falls below nought; straight in a minute."""
    below = least < 0.0
    place = below.argmax(axis=0)
    column = np.arange(least.shape[1])
    before = np.maximum(place - 1, 0)
    # Minutes at which the failure can happen need not follow one another.
    gap = times[place] - times[before] > MINUTE + 1e-6
    high, low = np.maximum(least[before, column], 0.0), least[place, column]
    way = np.where(gap | (place == 0), 1.0, high / np.maximum(high - low, 1e-300))
    when = times[before] + way * (times[place] - times[before])
    return np.where(below.any(axis=0), when, np.inf)


def _where_most_lose(
    asked: Outlooked, found: dict[str, Clocks], grids: dict[str, _Grid]
) -> dict[str, frozenset[float]]:
    """The failures that bind most members, at the minutes at which some of those lose."""
    losses = _losses(asked, found, grids)
    if not losses:  # Back at the bay with the helmet off nothing that is known can fail.
        return {}
    codes = list(losses)
    table = np.array(list(losses.values()))
    binds, first = table.argmin(axis=0), table.min(axis=0)
    inside = np.isfinite(first) & (first > asked.now)
    wanted: dict[str, frozenset[float]] = {}
    often = np.bincount(binds[inside], minlength=len(codes))
    for number in np.argsort(-often, kind="stable")[:MOST_BINDING]:
        code, mine = codes[number], first[inside & (binds == number)]
        if not len(mine) or code not in grids:
            continue
        clocks = found.get(code)
        known = {i.time for i in clocks.instants} if clocks is not None else set()
        minutes = np.floor(np.quantile(mine, MEMBERS_ASKED, method="inverted_cdf") / MINUTE)
        near = {float(MINUTE * (m + more)) for m in minutes for more in (-1.0, 0.0, 1.0)}
        near |= {_halfway(known | {asked.now}, MINUTE * float(m)) for m in minutes}
        asked_for = (near & set(grids[code].times.tolist())) - known
        if asked_for:
            wanted[code] = frozenset(asked_for)
    return wanted


def _halfway(known: set[float], time: float) -> float:
    """The whole minute half way from the last instant known before a time [s]."""
    before = max((t for t in known if t < time), default=time)
    return MINUTE * math.floor((before + time) / 2.0 / MINUTE)


def _merged(first: dict[str, Clocks], more: dict[str, Clocks]) -> dict[str, Clocks]:
    """Clocks of the same members from two goes, in the order of time."""
    return {c: _both(first[c], more[c]) if c in more else first[c] for c in first} | {
        code: clocks for code, clocks in more.items() if code not in first
    }


def _both(first: Clocks, second: Clocks) -> Clocks:
    instants = (*first.instants, *second.instants)
    order = np.argsort([instant.time for instant in instants], kind="stable")
    joined = [
        np.concatenate([getattr(first, name), getattr(second, name)], axis=1)[:, order]
        for name in ("harm", "help", "limit")
    ]
    runs = np.concatenate([first.runs, second.runs])[order]
    return Clocks(tuple(instants[n] for n in order), runs, *joined)


def _found(
    outlooked: Outlooked, clocks: dict[str, Clocks], losses: dict[str, FloatArray]
) -> LookedAhead:
    count = len(outlooked.question.chosen)
    if not losses:
        losses = {"": np.full(count, np.inf)}
    table = np.array(list(losses.values()))
    first = table.min(axis=0)
    codes = list(losses)
    return LookedAhead(
        now={c: now for c, at in clocks.items() if (now := _only_now(outlooked, at))},
        turn_back=np.clip(first, outlooked.now, max(outlooked.home, outlooked.now))
        + outlooked.shift,
        home=outlooked.home + outlooked.shift,
        lost=first <= outlooked.now,
        binds=tuple(
            codes[n] if np.isfinite(f) else ""
            for n, f in zip(np.floor(table).argmin(axis=0), first, strict=True)
        ),
        scenario=outlooked.trunk.scenario,
    )


def _only_now(outlooked: Outlooked, clocks: Clocks) -> Clocks | None:
    places = [n for n, instant in enumerate(clocks.instants) if instant.time == outlooked.now]
    return clocks.part(slice(places[0], places[0] + 1)) if places else None


def relief_of(scenario: Scenario, failure: Failure, relief: int) -> str:
    """What would end the harm, in words."""
    if relief == AIR:
        return "fresh air at the face"
    return "cooling" if ends_in_cooling(scenario, failure) else "out of the suit"
