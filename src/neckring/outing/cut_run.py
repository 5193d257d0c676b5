"""A run cut short: the same until a time, then straight home and out of the suit."""

from __future__ import annotations

import numpy as np

from neckring.outing.scenario import Scenario
from neckring.outing.spells import Leg
from neckring.outing.way_home import USUAL_SPEED, home_of, paths_between, slowest_walk
from neckring.station.run import Run, Spell
from neckring.units import Quantity, format_quantity

# Shorter rests of a spell are not kept [s].
SHORTEST = 1.0


def cut_at(scenario: Scenario, ready: list[Leg], time: float) -> Run | None:
    """The run with the wearer turning for home at a time.

    Args:
        scenario: The run as planned.
        ready: Its spells made ready.
        time: From first dressing [s].

    Returns:
        The shorter run; None when the time lies on a path, which a run has to walk to its end,
        when no way leads home, or when the wearer is on the way to be undressed already.
    """
    spells = scenario.run.outing
    home = home_of(scenario)
    ends = np.cumsum([leg.duration for leg in ready])
    number = min(int(np.searchsorted(ends, time)), len(ready) - 1)
    spent = time - float(ends[number] - ready[number].duration)
    kept = list(spells[:number])
    here = spells[number]
    if spent >= SHORTEST:
        if here.starts_at != here.ends_at and spent < ready[number].duration - SHORTEST:
            return None
        kept.append(_shortened(here, min(spent, ready[number].duration)))
    if not kept:
        return None
    last = kept[-1]
    way = paths_between(scenario.station, last.ends_at, home)
    after = _after_return(spells, home)
    if way is None or after is None or after <= number:
        return None
    walked = [_walk(scenario, last, start, end) for start, end in way]
    return scenario.run.model_copy(update={"outing": (*kept, *walked, *spells[after:])})


def _after_return(spells: tuple[Spell, ...], home: str) -> int | None:
    """Number of the first spell after the last arrival at the bay."""
    for number in range(len(spells) - 1, -1, -1):
        if spells[number].places != (home,):
            return number + 1 if spells[number].ends_at == home else None
    return None


def _shortened(spell: Spell, lasting: float) -> Spell:
    if spell.duration is None:
        return spell
    return spell.model_copy(update={"duration": exactly(lasting, "time")})


def _walk(scenario: Scenario, before: Spell, start: str, end: str) -> Spell:
    """A walk along a path: as fast as planned for it, else as the slowest walk of the run."""
    spells = scenario.run.outing
    same = [spell for spell in spells if (spell.starts_at, spell.ends_at) == (start, end)]
    speed = slowest_walk(same) or slowest_walk(spells) or exactly(USUAL_SPEED, "speed")
    nothing = {"duration": None, "grade": None, "load": None, "metabolic_rate": None}
    where = {"place": None, "from_place": start, "to_place": end}
    return before.model_copy(update={"spell": "walk", "speed": speed, **nothing, **where})


def exactly(value: float, kind: str) -> Quantity:
    """A quantity without a spread [SI]."""
    return Quantity(value, value, value, "exact", format_quantity(value, kind), kind)
