"""The channels of a suit as data in SI, and which record belongs to which of them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from neckring.live.sensors.gas_reference import (
    ASSUMED_AIR_TEMPERATURE,
    GasConditions,
    actual_flow,
    partial_pressure,
)
from neckring.live.sensors.quality import Expectation
from neckring.live.sensors.units_sent import unit_sent
from neckring.station.sensing import AT_ACTUAL, ReferenceConditions, Sensor, default_of
from neckring.station.ucum import UnitCode, codes_of
from neckring.units import QuantityError

if TYPE_CHECKING:
    from neckring.station.suit import Suit

HELMET_AIR = "helmet_temperature"
"""The quantity that tells how warm the flowing air is."""


@dataclass(frozen=True)
class Channel:
    """One channel, in SI.

    Attributes:
        name: In the suit's file.
        quantity: What it measures.
        dimensions: In which its unit may be.
        unit: In which it sends when a message names none.
        known_as: SenML name or topic, maybe with wildcards.
        expected: What is expected of its readings.
        reference: At which a gas flow or a share is stated; None when as it is there.
        has_clock: Whether the times that it sends count.
        is_flow_of_air: Whether reference conditions are those of a flow.
    """

    name: str
    quantity: str
    dimensions: tuple[str, ...]
    unit: UnitCode
    known_as: str
    expected: Expectation
    reference: GasConditions | None = None
    has_clock: bool = True
    is_flow_of_air: bool = False

    @property
    def dimension(self) -> str:
        """Of its readings."""
        return self.dimensions[0]

    @property
    def is_topic(self) -> bool:
        """Whether it is known by an MQTT topic of its own."""
        return "/" in self.known_as

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        return topic_pattern(self.known_as) if self.is_topic else _name_pattern(self.known_as)

    def is_meant_by(self, name: str) -> bool:
        """Whether a record's name, or a topic, is that of this channel.

        A name without : and * is also known as the last part of a longer one:
        `heart` of `urn:dev:mac:0024befffe804ff1:heart`.
        """
        if self._pattern.fullmatch(name):
            return True
        plain = not re.search(r"[:*/]", self.known_as)
        return plain and re.split("[:/]", name)[-1] == self.known_as

    def as_stated(self, value: float, unit: str | None, registry: bool) -> tuple[float, str]:
        """A value in SI, not yet led to actual conditions, and its dimension.

        Args:
            value: As sent.
            unit: As sent; None for the channel's own.
            registry: Whether the unit is one of the SenML registry.

        Raises:
            UnitError: The unit is not known, or another quantity's.
        """
        known = unit_sent(unit, self.dimensions, registry) if unit else self.unit
        return known.to_si(value), known.dimension

    def actual(self, stated: float, dimension: str, air: GasConditions) -> float:
        """A value as it is where the gas is [SI]; the value itself for all that is no gas.

        Args:
            stated: [SI]
            dimension: Of it.
            air: The air there.
        """
        if self.is_flow_of_air:
            return actual_flow(stated, self.reference, air) if self.reference else stated
        if dimension == "fraction" and self.dimension == "pressure":
            stated_at = self.reference or air
            return partial_pressure(stated, stated_at.pressure)
        return stated

    def rival_values(self, value: float, air: GasConditions) -> Mapping[str, float]:
        """What a figure would be in each unit that the channel may have, by its code [SI].

        Args:
            value: The figure as sent.
            air: The air there.
        """
        found: dict[str, float] = {}
        for code in codes_of(*self.dimensions):
            try:
                stated, dimension = self.as_stated(value, code, registry=False)
            except QuantityError:
                continue
            found[code] = self.actual(stated, dimension, air)
        return found


def channel_of(sensor: Sensor) -> Channel:
    """The channel that a sensor's entry describes."""
    sensed = sensor.sensed
    return Channel(
        sensor.channel,
        sensor.measures,
        sensed.dimensions,
        sensor.unit,
        sensor.known_as,
        _expectation(sensor),
        _conditions(sensor),
        sensor.clock == "own",
        sensor.measures == "air_flow",
    )


def _expectation(sensor: Sensor) -> Expectation:
    plausible = default_of(sensor, "plausible")
    return Expectation(
        low=plausible.low,
        high=plausible.high,
        jump=default_of(sensor, "jump").nominal,
        every=sensor.every.nominal,
        frozen_after=default_of(sensor, "frozen_after").nominal,
        accuracy=default_of(sensor, "accuracy").nominal,
        rests_at_zero=sensor.sensed.rests_at_zero,
    )


def _conditions(sensor: Sensor) -> GasConditions | None:
    given = sensor.reference
    if not isinstance(given, ReferenceConditions):
        assert given == AT_ACTUAL or sensor.measures != "air_flow", "check has refused it"
        return None
    warmth = given.temperature.nominal if given.temperature else ASSUMED_AIR_TEMPERATURE
    return GasConditions(warmth, given.pressure.nominal)


@dataclass(frozen=True)
class Wired:
    """One wearer with the suit and its channels.

    Attributes:
        wearer: A or B.
        suit: The suit's code, by which its sensors may also be addressed.
        channels: In the suit's order.
    """

    wearer: str
    suit: str
    channels: tuple[Channel, ...]

    def meant_by(self, name: str) -> tuple[Channel, ...]:
        """The channels that a name may mean: exactly one, when all is well."""
        exact = tuple(each for each in self.channels if name in (each.known_as, each.name))
        return exact or tuple(each for each in self.channels if each.is_meant_by(name))

    def measuring(self, quantity: str) -> tuple[Channel, ...]:
        """The channels that measure a quantity."""
        return tuple(each for each in self.channels if each.quantity == quantity)


def wire(wearers: Iterable[tuple[str, Suit]]) -> tuple[Wired, ...]:
    """Wire suits to the wearers of a run.

    Args:
        wearers: Letter and suit of each.
    """
    return tuple(
        Wired(letter, suit.code, tuple(channel_of(sensor) for sensor in suit.sensors))
        for letter, suit in wearers
    )


def topic_pattern(filter_: str) -> re.Pattern[str]:
    """The topics that an MQTT topic filter means.

    Source: OASIS, MQTT version 3.1.1 (2014), section 4.7.1: `+` is one level, `#` at the end any
    number of them, none included.
    """
    whole = filter_.removesuffix("/#")
    levels = ["[^/]*" if level == "+" else re.escape(level) for level in whole.split("/")]
    rest = "(?:/.*)?" if whole != filter_ else ""
    return re.compile("/".join(levels) + rest, re.DOTALL)


def _name_pattern(name: str) -> re.Pattern[str]:
    return re.compile(".*".join(re.escape(part) for part in name.split("*")))
