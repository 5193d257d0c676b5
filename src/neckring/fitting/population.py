"""How many women and how many men a suit accepts, each person with the settings that suit them.

People are drawn from the survey's copula, not counted in it. Two bounds hold however places that
share no adjuster go together: no more can pass all of them than pass the worst one, and no more can
fail than fail any of them added up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm, qmc

from neckring.body.anthropometry import Sex
from neckring.fitting.clearance import bounds_of, left_over
from neckring.fitting.measures import DEEPEST_BREATH
from neckring.fitting.places import RULES
from neckring.fitting.settings import room_at
from neckring.fitting.survey import KNOWN, correlations, value_at
from neckring.station.fit import Fit
from neckring.values import FloatArray

PEOPLE = 4096
"""Drawn of each sex: a share then misses by well under one in a hundred."""

MOST_SETTINGS = 20_000
"""Settings of one group of adjusters that are tried; more are refused."""

People = Mapping[str, FloatArray]
Flags = NDArray[np.bool_]


class TooManySettingsError(ValueError):
    """A group of adjusters that act on the same places has more settings than are tried."""


@dataclass(frozen=True)
class Accepted:
    """Share of one sex that a suit accepts.

    Attributes:
        sex: "male" or "female".
        bars: No place that would bar them; the settings are each person's own [1].
        whole: No place that would bar or hurt them [1].
        light: No bar, and the load no more than the advised share of body mass [1].
        carries: No bar, and the load no more than the greatest share [1].
        fewest: What `bars` cannot fall below, however the groups of places go together [1].
        most: What it cannot exceed, likewise [1].
        places: Share that passes each place alone [1].
    """

    sex: Sex
    bars: float
    whole: float
    light: float
    carries: float
    fewest: float
    most: float
    places: Mapping[str, float]


def drawn_people(sex: Sex, count: int = PEOPLE, seed: int = 1) -> People:
    """People of one sex, by measure.

    Args:
        sex: "male" or "female".
        count: How many; a power of two.
        seed: Of the draw; the same seed gives the same people.

    Returns:
        Each of `KNOWN` and chest depth at full breath, shape (count,); [m], body mass [kg].
    """
    factor = _root(correlations(KNOWN, sex))
    even = qmc.Sobol(len(KNOWN) + 1, seed=seed).random(count)
    normal = norm.ppf(np.clip(even, 1e-9, 1.0 - 1e-9))
    deviates = normal[:, :-1] @ factor.T
    people = {name: np.asarray(value_at(name, sex, deviates[:, i])) for i, name in enumerate(KNOWN)}
    more, spread = DEEPEST_BREATH
    people["chest_depth_full_breath"] = people["chest_depth"] + more + spread * normal[:, -1]
    return people


def _root(matrix: FloatArray) -> FloatArray:
    """A factor of a positive semidefinite matrix."""
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray(vectors * np.sqrt(np.clip(values, 0.0, None)))


def accepted(fit: Fit, carried: float, guides: tuple[float, float], sex: Sex) -> Accepted:
    """Share of one sex that a suit accepts.

    Args:
        fit: Of the suit.
        carried: What it puts on its wearer [kg].
        guides: Advised and greatest share of body mass [1].
        sex: "male" or "female".

    Raises:
        TooManySettingsError: Some adjusters have too many settings together.
    """
    people = drawn_people(sex)
    barring = _passing(fit, people, bars_only=True)
    whole = _passing(fit, people, bars_only=False)
    share = carried / people["body_mass"]
    alone = {name: float(_passes_alone(fit, people, name).mean()) for name in fit.named_places()}
    groups = [float(flags.mean()) for flags in barring]
    every = np.logical_and.reduce(barring)
    return Accepted(
        sex=sex,
        bars=float(every.mean()),
        whole=float(np.logical_and.reduce(whole).mean()),
        light=float((every & (share <= guides[0])).mean()),
        carries=float((every & (share <= guides[1])).mean()),
        fewest=max(0.0, 1.0 - sum(1.0 - one for one in groups)),
        most=min(groups),
        places=alone,
    )


def _passing(fit: Fit, people: People, bars_only: bool) -> list[Flags]:
    """Who passes each group of places that share adjusters, with some setting or other."""
    return [
        np.logical_or.reduce([_within(fit, people, places, at, bars_only) for at in settings])
        for places, settings in ((group.places, list(group.settings(fit))) for group in linked(fit))
    ]


def _passes_alone(fit: Fit, people: People, place: str) -> Flags:
    acting = [name for name, one in fit.adjusters.items() if place in one.acts_on]
    settings = Group((place,), tuple(acting)).settings(fit)
    found: Flags = np.logical_or.reduce(
        [_within(fit, people, (place,), at, bars_only=False) for at in settings]
    )
    return found


def _within(
    fit: Fit, people: People, places: Sequence[str], at: Mapping[str, int], bars_only: bool
) -> Flags:
    """Who passes all of some places with the adjusters at some positions."""
    inside = np.ones(len(people["stature"]), dtype=bool)
    for name in places:
        rule = RULES[name]
        body = people[rule.measure]
        left = np.asarray(left_over(name, room_at(fit, name, at), fit.layers.nominal, body))
        least, most = bounds_of(fit.named_places()[name])
        if not bars_only or rule.tight_harm == "bars":
            inside &= left >= least
        if not bars_only or rule.loose_harm == "bars":
            inside &= left <= most
    return inside


@dataclass(frozen=True)
class Group:
    """Places that share adjusters, directly or through one another."""

    places: tuple[str, ...]
    adjusters: tuple[str, ...]

    def settings(self, fit: Fit) -> Iterator[dict[str, int]]:
        """Every setting of its adjusters.

        Raises:
            TooManySettingsError: There are more than `MOST_SETTINGS`.
        """
        ranges = [range(fit.adjusters[name].last + 1) for name in self.adjusters]
        count = int(np.prod([len(one) for one in ranges], dtype=float))
        if count > MOST_SETTINGS:
            names = ", ".join(self.adjusters)
            raise TooManySettingsError(f"{count} settings of {names} together")
        for positions in product(*ranges):
            yield dict(zip(self.adjusters, positions, strict=True))


def linked(fit: Fit) -> list[Group]:
    """The places of a fit in groups that share no adjuster with one another."""
    left, groups = list(fit.named_places()), []
    while left:
        places, adjusters = [left[0]], set[str]()
        for place in places:
            for name, adjuster in fit.adjusters.items():
                if place in adjuster.acts_on:
                    adjusters.add(name)
                    places += [each for each in adjuster.acts_on if each not in places]
        groups.append(Group(tuple(places), tuple(n for n in fit.adjusters if n in adjusters)))
        left = [place for place in left if place not in places]
    return groups
