"""The help clock: how long from a failure until fresh air at the face, and until cooling or out.

Every way to relief is timed for every member, and the quickest counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.outing.failures import Failure
from neckring.outing.scenario import Scenario
from neckring.outing.watching import AIR, HEAT
from neckring.outing.way_home import home_of, home_speed, route_from, stretch_lengths
from neckring.station.help import ALONG
from neckring.station.run import Spell

FloatArray = NDArray[np.float64]

# Speed of a wearer who can only walk slowly, as a share of the speed home; assumed.
SLOW_SHARE = 0.5
# More people than this cannot lift together (HSE L23, paragraph 120).
MOST_LIFTERS = 4


@dataclass(frozen=True)
class Spot:
    """Where the wearer is.

    Attributes:
        spell: What is being done.
        share: How much of it is done, 0..1.
    """

    spell: Spell
    share: float


def noticing(scenario: Scenario, failure: Failure) -> FloatArray:
    """Time from a failure until it is noticed and acted on [s], shape (members,).

    Without contact nobody acts before a call is missed, unless a tender walks along.
    """
    times, hands = scenario.suit.help_times, scenario.run.hands
    noticed = scenario.of(times.notice_air if failure.stops_air else times.notice)
    unheard = "unheard" in failure.hindrances and hands.tender != ALONG
    return noticed + (hands.call_every.nominal if unheard else 0.0)


def speed_home(scenario: Scenario, failure: Failure) -> FloatArray:
    """How fast the wearer goes home after a failure [m/s], shape (members,)."""
    slow = SLOW_SHARE if failure.conduct == "walks slowly" else 1.0
    return slow * home_speed(scenario)


def help_clock(scenario: Scenario, failure: Failure, spot: Spot) -> FloatArray:
    """Time from a failure until relief [s].

    Args:
        scenario: Who, where, with whose help.
        failure: What fails.
        spot: Where.

    Returns:
        Shape (2, members): until fresh air at the face (AIR), until cooling or out of the suit
        (HEAT); infinite where no way leads to it.
    """
    ways = np.empty((2, scenario.members))
    ways[AIR] = _quickest(_ways_to_air(scenario, failure, spot))
    ways[HEAT] = _quickest(_ways_to_cooling(scenario, failure, spot))
    return ways


def _quickest(ways: list[FloatArray]) -> FloatArray:
    return np.asarray(np.min(ways, axis=0)) if ways else np.array(np.inf)


def _ways_to_air(scenario: Scenario, failure: Failure, spot: Spot) -> list[FloatArray]:
    times, of = scenario.suit.help_times, scenario.of
    noticed, hindered = noticing(scenario, failure), failure.hindrances
    opening = of(times.open_helmet_by_other)
    if "jammed helmet" in hindered:
        opening = opening + of(times.free_helmet)
    ways = []
    if times.open_helmet is not None and "own hands" not in hindered:
        ways.append(noticed + of(times.open_helmet))
    coming = tender_comes(scenario, spot)
    if coming is not None:
        first = opening if "busy tender" in hindered else 0.0
        ways.append(noticed + coming + first + opening)
    if scenario.run.hands.partner is not None and not hindered & {"busy tender", "unheard"}:
        ways.append(noticed + opening)
    walked = walk_home(scenario, failure, spot)
    if walked is not None:
        ways.append(noticed + walked + opening)
    return ways


def _ways_to_cooling(scenario: Scenario, failure: Failure, spot: Spot) -> list[FloatArray]:
    times, of = scenario.suit.help_times, scenario.of
    noticed = noticing(scenario, failure)
    if failure.conduct == "lies down":
        return _ways_out_lying(scenario, failure, spot)
    walked = walk_home(scenario, failure, spot)
    if walked is None:
        return []
    freed = of(times.free_helmet) if "jammed helmet" in failure.hindrances else 0.0
    if "snagged" in failure.hindrances:
        freed = of(times.free_umbilical)
    out = of(times.undress) + freed
    ways = [noticed + walked + out]
    if facility_helps(scenario, failure):
        ways.append(noticed + walked + of(times.connect))
    return ways


def facility_helps(scenario: Scenario, failure: Failure) -> bool:
    """Whether the facility can give cooling at the bay after a failure.

    It does not end a failure of its own, nor what only getting out of the suit ends.
    """
    facility = scenario.station.facility
    if facility is None or home_of(scenario) not in facility.reaches:
        return False
    return not failure.hindrances & {"facility", "snagged", "jammed helmet"}


def ends_in_cooling(scenario: Scenario, failure: Failure) -> bool:
    """Whether the quickest relief from heat is cooling, not getting out of the suit."""
    times = scenario.suit.help_times
    quicker = times.connect.nominal <= times.undress.nominal
    return failure.conduct != "lies down" and facility_helps(scenario, failure) and quicker


def _ways_out_lying(scenario: Scenario, failure: Failure, spot: Spot) -> list[FloatArray]:
    times, of = scenario.suit.help_times, scenario.of
    coming = tender_comes(scenario, spot)
    if coming is None:
        return []
    there = noticing(scenario, failure) + coming
    ways = [there + of(times.undress_lying)]
    route = route_from(scenario.station, spot.spell, spot.share, home_of(scenario))
    if route is not None and can_carry(scenario):
        way = stretch_lengths(scenario, route, spot.share).sum(axis=0)
        ways.append(there + way / of(times.carry_speed) + of(times.undress))
    return ways


def people_to_carry(scenario: Scenario) -> int:
    """How many people it takes to carry the wearer, the pack left behind."""
    worn = scenario.suit.mass.nominal + scenario.suit.garment.water.nominal
    mass = scenario.wearer.mass.nominal + worn
    return int(np.ceil(mass / scenario.station.policy.lift_limit.nominal))


def can_carry(scenario: Scenario) -> bool:
    """Whether enough people come to carry, and not more than can lift together."""
    hands = scenario.run.hands
    return people_to_carry(scenario) <= min(hands.tenders, MOST_LIFTERS)


def walk_home(scenario: Scenario, failure: Failure, spot: Spot) -> FloatArray | None:
    """Time to walk to the bay [s], shape (members,); None for those who cannot."""
    route = route_from(scenario.station, spot.spell, spot.share, home_of(scenario))
    if route is None or failure.conduct == "lies down":
        return None
    length = stretch_lengths(scenario, route, spot.share).sum(axis=0)
    return np.asarray(length / speed_home(scenario, failure))


def tender_comes(scenario: Scenario, spot: Spot) -> FloatArray | None:
    """Time until a tender stands beside the wearer [s], shape (members,); None when none can.

    At the bay the tenders who dress and undress are there.
    """
    hands, home = scenario.run.hands, home_of(scenario)
    if hands.tender == ALONG or spot.spell.places == (home,):
        return np.zeros(scenario.members)
    place = hands.tender or home
    route = route_from(scenario.station, spot.spell, spot.share, place)
    if route is None:
        return None
    length = stretch_lengths(scenario, route, spot.share).sum(axis=0)
    return np.asarray(length / scenario.of(hands.tender_speed))
