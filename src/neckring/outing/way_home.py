"""The way back to the bay from wherever the wearer is, and how fast this wearer walks it."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.body.walking import TERRAIN_FACTORS
from neckring.outing.scenario import Scenario
from neckring.outing.spells import Leg, Walked, leg_moving
from neckring.station.run import Spell
from neckring.station.site import Station
from neckring.units import Quantity

FloatArray = NDArray[np.float64]
Stretch = tuple[str, str]

# Speed home when the run itself never walks [m/s]; assumed, the slow end of what is published for
# people in heavy suits (0.5 to 0.9 m/s).
USUAL_SPEED = 0.5


@dataclass(frozen=True)
class Route:
    """A way from a point of a spell to a place.

    Attributes:
        begun: The path on which the wearer stands, in the direction to be walked; None in a place.
        ahead: Whether it goes on in the direction of the spell, not back.
        rest: The paths after it, from place to place.
    """

    begun: Stretch | None
    ahead: bool
    rest: tuple[Stretch, ...]

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """All paths in the order in which they are walked."""
        return self.rest if self.begun is None else (self.begun, *self.rest)


def home_of(scenario: Scenario) -> str:
    """Code of the bay: where the run begins."""
    return scenario.run.outing[0].starts_at


def paths_between(station: Station, start: str, end: str) -> tuple[Stretch, ...] | None:
    """The shortest way from one place to another, None when no paths join them."""
    queue: list[tuple[float, str, tuple[Stretch, ...]]] = [(0.0, start, ())]
    seen: set[str] = set()
    while queue:
        walked, here, way = heapq.heappop(queue)
        if here == end:
            return way
        if here in seen:
            continue
        seen.add(here)
        for path in station.paths:
            for a, b in ((path.from_place, path.to_place), (path.to_place, path.from_place)):
                if a == here:
                    heapq.heappush(queue, (walked + path.length.nominal, b, (*way, (a, b))))
    return None


def route_from(station: Station, spell: Spell, share: float, place: str) -> Route | None:
    """The shorter of turning round and going on to a place, from a point of a spell.

    Args:
        station: With its paths.
        spell: Where the wearer is.
        share: How much of it is done, 0..1.
        place: Code of where to go.

    Returns:
        None when no way leads there.
    """
    start, end = spell.starts_at, spell.ends_at
    way = None if start == end else station.path(start, end)
    if way is None:
        rest = paths_between(station, end, place)
        return None if rest is None else Route(None, True, rest)
    choices = []
    for ahead, here, part in ((False, start, share), (True, end, 1.0 - share)):
        rest = paths_between(station, here, place)
        if rest is not None:
            length = part * way.length.nominal + path_length(station, rest)
            begun = (start, end) if ahead else (end, start)
            choices.append((length, Route(begun, ahead, rest)))
    return min(choices, key=lambda choice: choice[0])[1] if choices else None


def path_length(station: Station, stretches: tuple[Stretch, ...]) -> float:
    """Length of paths as written [m]."""
    ways = [station.path(start, end) for start, end in stretches]
    return sum(way.length.nominal for way in ways if way is not None)


def stretch_lengths(scenario: Scenario, route: Route, share: float) -> FloatArray:
    """Length of each stretch that is still to be walked [m], shape (stretches, members).

    Args:
        scenario: With its paths.
        route: The way.
        share: How much of the spell is done, 0..1.
    """
    lengths = np.zeros((len(route.stretches), scenario.members))
    for place, (start, end) in enumerate(route.stretches):
        way = scenario.station.path(start, end)
        lengths[place] = scenario.of(way.length if way else None)
    if route.begun is not None:
        lengths[0] *= (1.0 - share) if route.ahead else share
    return lengths


def slowest_walk(spells: Sequence[Spell]) -> Quantity | None:
    """Speed of the slowest of the walks among spells [m/s], None when nobody walks."""
    planned = [spell.speed for spell in spells if spell.speed and spell.spell in ("walk", "carry")]
    return min(planned, key=lambda speed: speed.nominal, default=None)


def home_speed(scenario: Scenario) -> FloatArray:
    """Speed on the way home [m/s], shape (members,): as planned, spread by the suit's factor.

    The run's slowest planned walk is taken, for a wearer whose suit slows as much as the middle of
    `speed_factor` says; a member whose suit slows more walks slower in proportion.
    """
    factor = scenario.suit.speed_factor
    speed = (
        scenario.of(slowest_walk(scenario.run.outing), USUAL_SPEED)
        * factor.nominal
        / scenario.of(factor)
    )
    return np.asarray(speed)


def walking_home(scenario: Scenario, before: Spell, stretch: Stretch, speed: FloatArray) -> Leg:
    """A stretch of the way home made ready, with water, air and helmet as they were before.

    Args:
        scenario: Who, in what.
        before: The spell in which the way home began.
        stretch: The path, in the direction in which it is walked.
        speed: [m/s], shape (members,).
    """
    start, end = stretch
    way = scenario.station.path(start, end)
    if way is None:
        raise ValueError(f"no path leads from {start} to {end}")
    spell = _as(before, "walk", from_place=start, to_place=end)
    grade = way.rise / way.length.nominal
    return leg_moving(scenario, spell, Walked(speed, grade, TERRAIN_FACTORS[way.terrain]), 0.0)


def staying(scenario: Scenario, before: Spell, activity: str, place: str | None = None) -> Leg:
    """Somebody who stays, with water, air and helmet as they were before.

    Args:
        scenario: Who, in what.
        before: The spell in which it began.
        activity: "stand" or "rest".
        place: Code of the place; where they are when None.
    """
    spell = (
        _as(before, activity, place=place)
        if place
        else _as(
            before,
            activity,
            place=before.place,
            from_place=before.from_place,
            to_place=before.to_place,
        )
    )
    still = np.zeros(scenario.members)
    return leg_moving(scenario, spell, Walked(still, 0.0, 1.0), 0.0)


def _as(before: Spell, activity: str, **where: str | None) -> Spell:
    nowhere = {"place": None, "from_place": None, "to_place": None}
    nothing = {"speed": None, "load": None, "metabolic_rate": None, "duration": None, "grade": None}
    return before.model_copy(update={"spell": activity, **nowhere, **nothing, **where})
