"""Every uncertain quantity of a scenario, drawn for many members at once.

Quantities of the same kind move together: one dimension is one field of the files, whatever place,
path or spell it stands at. A warm day is warm everywhere, a wearer who walks faster than planned
does so in every spell. That is our choice, and the careful one: doubts that add up never cancel
out between places. Fields with names of their own (helmet and trunk) are drawn apart, and so are
different kinds at one place (its wind and its humidity).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from pydantic.fields import FieldInfo

from neckring.outing.dimension_words import NOT_MEASURABLE, label_of
from neckring.outing.doubts import MODEL_DOUBTS
from neckring.outing.scenario import Scenario, nominal
from neckring.outing.way_home import home_of, paths_between
from neckring.station.measured import Measured
from neckring.station.site import Station
from neckring.station.written import Written
from neckring.units import Quantity

FloatArray = NDArray[np.float64]

NOT_DRAWN = ("policy", "sensors", "fit", "measures", "settings")
"""No doubts of the physics: what the team has signed for, what instruments may read, and fit."""

SEQUENCE_BITS = 30


@dataclass(frozen=True)
class Uncertain:
    """A quantity with a spread and the range in which it is accepted.

    Attributes:
        quantity: As written.
        lowest: Smallest accepted value [SI].
        highest: Largest accepted value [SI].
    """

    quantity: Quantity
    lowest: float = -math.inf
    highest: float = math.inf

    def at(self, share: FloatArray) -> FloatArray:
        """The value below which a share of all members lies.

        Args:
            share: 0..1, any shape; 0.5 gives the median.

        Returns:
            [SI], same shape, never outside the accepted range: a range is uniform, a normal
            quantity is cut off at the ends of what is accepted.
        """
        quantity = self.quantity
        if quantity.spread == "normal":
            value = self._normal(share)
        else:
            value = quantity.nominal + (share - 0.5) * (quantity.high - quantity.low)
        return np.clip(value, self.lowest, self.highest)

    def _normal(self, share: FloatArray) -> FloatArray:
        from scipy.special import ndtr, ndtri

        middle, deviation = self.quantity.nominal, self.quantity.deviation
        below = ndtr((self.lowest - middle) / deviation)
        inside = ndtr((self.highest - middle) / deviation) - below
        return np.asarray(middle + deviation * ndtri(below + share * inside))


@dataclass(frozen=True)
class Dimension:
    """One doubt that is drawn as a whole.

    Attributes:
        key: Field path without places and numbers, for example "station.places.wind".
        label: In words that fit behind "measure".
        written: The spread as written; all of them where places differ.
        measurable: Whether it can be measured before the run and written into the files.
        quantities: All quantities that move together.
    """

    key: str
    label: str
    written: str
    measurable: bool
    quantities: tuple[Uncertain, ...]


def dimensions(scenario: Scenario) -> tuple[Dimension, ...]:
    """Every doubt of a scenario, in a fixed order: suit, wearer, run, station, the model itself.

    Only places and paths that the outing, a way home or a tender's way touches are asked.
    """
    grouped: dict[str, list[Uncertain]] = {}
    for key, found in _uncertain(scenario, touched(scenario)):
        grouped.setdefault(key, []).append(found)
    own = tuple(_dimension(key, tuple(found)) for key, found in grouped.items())
    return own + tuple(
        Dimension(
            doubt.key,
            doubt.label,
            doubt.written,
            doubt.measurable,
            (Uncertain(doubt.quantity, doubt.lowest, doubt.highest),),
        )
        for doubt in MODEL_DOUBTS
    )


def sobol_points(dimensions: int, first: int, last: int, seed: int) -> FloatArray:
    """Rows of one scrambled Sobol sequence; a row is the same whatever is asked with it.

    Args:
        dimensions: Columns.
        first: Number of the first row, from 0.
        last: Number of the row after the last one; at most 2**30.
        seed: Of the scrambling.

    Returns:
        Strictly between 0 and 1, shape (last - first, dimensions).

    Raises:
        ValueError: Rows that run backwards or lie beyond the sequence.

    Source: Sobol' 1967; scrambling of Owen and Matousek as in scipy.stats.qmc.
    """
    if not 0 <= first <= last <= 2**SEQUENCE_BITS:
        raise ValueError(f"rows {first} to {last}; accepted: from 0 up to {2**SEQUENCE_BITS}")
    if first == last:
        return np.empty((0, dimensions))
    from scipy.stats import qmc

    sequence = qmc.Sobol(dimensions, scramble=True, bits=SEQUENCE_BITS, rng=seed)
    parts = []
    if first == 0:
        # The first row alone: only there the library asks for a power of two.
        parts.append(sequence.random(1))
        first = 1
    else:
        sequence.fast_forward(first)
    if last > first:
        parts.append(sequence.random(last - first))
    # The middle of each cell of the sequence: no member sits on the edge of a distribution.
    return np.concatenate(parts) + 0.5 ** (SEQUENCE_BITS + 1)


def drawn(scenario: Scenario, points: FloatArray) -> Scenario:
    """The scenario with a member for each point.

    Args:
        scenario: Its own members and draw are forgotten.
        points: One column for each of `dimensions(scenario)`, 0..1, shape (members, dimensions).

    Raises:
        ValueError: Not one column for each dimension.
    """
    written = replace(scenario, members=1, draw=nominal)
    return replace(scenario, members=len(points), draw=Draws(written, points))


class Draws:
    """Gives each quantity of one scenario its values for all members.

    It knows a quantity by being the very same object, since equal texts may stand for different
    things. Sent to another process it finds the quantities of the scenario sent with it anew.
    """

    def __init__(self, scenario: Scenario, points: FloatArray) -> None:
        columns = {dimension.key: i for i, dimension in enumerate(dimensions(scenario))}
        if points.ndim != 2 or points.shape[1] != len(columns):
            raise ValueError(f"points of shape {points.shape}; accepted: {len(columns)} columns")
        self.scenario = scenario
        self.points = points
        # Places that nobody touches share the draw of those that are touched.
        everywhere = [*_uncertain(scenario, scenario.station), *_of_the_model()]
        self._column = {
            id(found.quantity): (found, columns[key]) for key, found in everywhere if key in columns
        }
        self._values: dict[int, FloatArray] = {}

    def __call__(self, quantity: Quantity) -> FloatArray:
        """Values of a quantity [SI], shape (members,); not to be written to.

        Raises:
            KeyError: It has a spread but is no quantity of this scenario.
        """
        if quantity.spread == "exact":
            return np.full(len(self.points), quantity.nominal)
        if id(quantity) not in self._column:
            raise KeyError(f'"{quantity.text}" is no quantity of the scenario that is drawn')
        if id(quantity) not in self._values:
            found, column = self._column[id(quantity)]
            values = found.at(self.points[:, column])
            values.flags.writeable = False
            self._values[id(quantity)] = values
        return self._values[id(quantity)]

    def __reduce__(self) -> tuple[type[Draws], tuple[Scenario, FloatArray]]:
        """Rebuilt where it arrives: objects have another identity there."""
        return Draws, (self.scenario, self.points)


def touched(scenario: Scenario) -> Station:
    """The station with only those places and paths that the outing, home or help may lead over."""
    station, outing = scenario.station, scenario.run.outing
    ways = {(spell.starts_at, spell.ends_at) for spell in outing}
    goals = (home_of(scenario), scenario.run.hands.tender)
    for place in {end for way in tuple(ways) for end in way}:
        for goal in goals:
            ways.update(paths_between(station, place, goal) or ())
    places = {end for way in ways for end in way}
    ways |= {(end, start) for start, end in ways}
    return station.model_copy(
        update={
            "places": {code: place for code, place in station.places.items() if code in places},
            "paths": tuple(p for p in station.paths if (p.from_place, p.to_place) in ways),
        }
    )


def _dimension(key: str, found: tuple[Uncertain, ...]) -> Dimension:
    texts = dict.fromkeys(uncertain.quantity.text for uncertain in found)
    return Dimension(key, label_of(key), ", ".join(texts), key not in NOT_MEASURABLE, found)


def _of_the_model() -> Iterator[tuple[str, Uncertain]]:
    for doubt in MODEL_DOUBTS:
        yield doubt.key, Uncertain(doubt.quantity, doubt.lowest, doubt.highest)


def _uncertain(scenario: Scenario, station: Station) -> Iterator[tuple[str, Uncertain]]:
    """Keys and quantities of a scenario that have a spread, each object once."""
    suit, run = scenario.suit, scenario.run
    parts = {
        "suit": suit.model_copy(update={"help": suit.help_times}),
        "wearer": scenario.wearer,
        "run": run.model_copy(update={"help": run.hands}),
        "station": station,
    }
    met: set[int] = set()
    for name, part in parts.items():
        for key, found in _quantities(part, name, None):
            if found.quantity.spread != "exact" and id(found.quantity) not in met:
                met.add(id(found.quantity))
                yield key, found


def _quantities(value: object, key: str, rule: Measured | None) -> Iterator[tuple[str, Uncertain]]:
    if isinstance(value, Quantity):
        yield key, Uncertain(value, *rule.bounds) if rule else Uncertain(value)
    elif isinstance(value, Written):
        for name, field in type(value).model_fields.items():
            if name not in NOT_DRAWN:
                yield from _quantities(getattr(value, name), f"{key}.{name}", _rule(field))
    elif isinstance(value, dict | tuple):
        for part in value.values() if isinstance(value, dict) else value:
            yield from _quantities(part, key, rule)


def _rule(field: FieldInfo) -> Measured | None:
    return next((rule for rule in field.metadata if isinstance(rule, Measured)), None)
