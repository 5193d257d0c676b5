"""What a wearer does now, and what is still to come: from the spells that were really begun."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from neckring.outing.scenario import Scenario
from neckring.outing.spells import Leg
from neckring.outing.way_home import (
    home_of,
    home_speed,
    route_from,
    staying,
    stretch_lengths,
    walking_home,
)

# A spell that lasts longer than planned stays so close to its end.
ALMOST = 1.0 - 1e-6


@dataclass(frozen=True)
class Doing:
    """What the log book says of one wearer.

    Attributes:
        number: Of the spell last begun, from 0.
        begun: Run time at which it was [s].
        turned: Run time at which the wearer turned for home in it [s]; None when not.
    """

    number: int
    begun: float
    turned: float | None = None


@dataclass(frozen=True)
class Ahead:
    """The present spell and those after it.

    Attributes:
        legs: The present one first; it is there as a whole, also what is done of it.
        share: How much of it is done, 0..1.
        before: The one before it; None at the first.
    """

    legs: tuple[Leg, ...]
    share: float
    before: Leg | None

    @property
    def spent(self) -> float:
        """How long the present leg has lasted [s], never more than planned."""
        return self.share * self.legs[0].duration


def ahead(scenario: Scenario, ready: list[Leg], doing: Doing, now: float) -> Ahead:
    """What is to come, from what is being done.

    Args:
        scenario: Who, what, where.
        ready: All spells of the run made ready, for this scenario's members.
        doing: What the log book says.
        now: Run time [s].
    """
    before = ready[doing.number - 1] if doing.number else None
    present = ready[doing.number]
    if doing.turned is None or home_of(scenario) == present.spell.places[-1]:
        share = _share(now - doing.begun, present.duration)
        return Ahead(tuple(ready[doing.number :]), share, before)
    return _homeward(scenario, ready, doing, now)


def _share(spent: float, lasting: float) -> float:
    return float(np.clip(spent / max(lasting, 1e-9), 0.0, ALMOST))


def _homeward(scenario: Scenario, ready: list[Leg], doing: Doing, now: float) -> Ahead:
    """The way home from where the wearer turned, then what follows the planned return."""
    present = ready[doing.number]
    turned = doing.turned if doing.turned is not None else now
    share = _share(turned - doing.begun, present.duration)
    walks, done = _way_home(scenario, present, share)
    rest = ready[_after_return(scenario, ready) :]
    if not walks:
        return Ahead((present, *rest), share, None)
    spent = now - turned + done * walks[0].duration
    place = 0
    while place < len(walks) - 1 and spent >= walks[place].duration:
        spent -= walks[place].duration
        place += 1
    here = walks[place]
    before = walks[place - 1] if place else present
    if place == len(walks) - 1 and spent >= here.duration:
        # Arrived, and nobody has begun the next spell yet: waiting at the bay.
        at_home = staying(scenario, present.spell, "stand", home_of(scenario))
        return Ahead((replace(at_home, duration=60.0), *rest), ALMOST, here)
    return Ahead((*walks[place:], *rest), _share(spent, here.duration), before)


def _way_home(scenario: Scenario, present: Leg, share: float) -> tuple[list[Leg], float]:
    """Stretches home as whole legs, and which share of the first lies behind the wearer already."""
    route = route_from(scenario.station, present.spell, share, home_of(scenario))
    if route is None:
        return [], 0.0
    speed = home_speed(scenario)
    whole = 0.0 if route.ahead else 1.0
    lengths = stretch_lengths(scenario, route, whole)
    walks = [
        replace(
            walking_home(scenario, present.spell, stretch, speed),
            duration=float(np.median(length / speed)),
        )
        for stretch, length in zip(route.stretches, lengths, strict=True)
    ]
    behind = 0.0 if route.begun is None else (share if route.ahead else 1.0 - share)
    return walks, behind


def _after_return(scenario: Scenario, ready: list[Leg]) -> int:
    """Number of the first spell after the last arrival at the bay."""
    home = home_of(scenario)
    away = [n for n, leg in enumerate(ready) if leg.spell.places != (home,)]
    return away[-1] + 1 if away else len(ready)


def home_again(scenario: Scenario, legs: tuple[Leg, ...]) -> int:
    """How many of the legs pass until the wearer is back at the bay for good."""
    home = home_of(scenario)
    away = [n for n, leg in enumerate(legs) if leg.spell.places != (home,)]
    return away[-1] + 1 if away else 0
