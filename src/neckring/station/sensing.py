"""`sensors:` of a suit: what each channel measures, in which unit, and what may be expected of it.

What a sensor sends is judged by what is written here: outside `plausible` it is impossible, faster
than `jump` it has jumped, later than `every` allows it is stale. Keys that are left out count as in
`SENSED`: round figures of our own, assumed, without a published source. Know your sensors.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag, model_validator

from neckring.station.fault import listed
from neckring.station.fields import Accepted, Code, Formed, Kind, UnacceptableError, Word
from neckring.station.measured import Measured
from neckring.station.measured_like import MeasuredLike, Tagged
from neckring.station.sensed import NEVER, SENSED, Sensed, SensedQuantity
from neckring.station.ucum import UnitCode, UnitCodeKind, codes_of
from neckring.station.written import Complaint, Written
from neckring.units import Quantity, format_quantity, parse_quantity

LEAST_READINGS_FROZEN = 3
"""So many equal readings at least, before a sensor may be called frozen."""

AT_ACTUAL = "actual"
NOT_STATED = "none"


class ReferenceConditions(Written):
    """The conditions at which a gas flow, or a share of a gas, is stated.

    Attributes:
        temperature: For a flow.
        pressure: Absolute.
    """

    temperature: Annotated[
        Quantity | None, Measured("temperature", "-40 degC", "60 degC", spread=False)
    ] = None
    pressure: Annotated[Quantity, Measured("pressure", "50 kPa", "120 kPa", spread=False)]


_CONDITIONS = "the conditions, as in {temperature: 0 degC, pressure: 101.325 kPa}"
Reference = Annotated[
    Annotated[Annotated[Literal["actual", "none"], Word(also=_CONDITIONS)], Tag("«word»")]
    | Annotated[ReferenceConditions, Tag("«group»")],
    Discriminator(lambda written: "«word»" if isinstance(written, str) else "«group»"),
]

_SENML_NAME = re.compile(r"[A-Za-z0-9*][A-Za-z0-9:._*/-]*")
_TOPIC = re.compile(
    r"[^\s/#+*]+(?:/(?:[^\s/#+*]+|\+))*(?:/#)?|(?:\+)(?:/(?:[^\s/#+*]+|\+))+(?:/#)?"
)


def _read_name(text: str) -> str:
    whole = _TOPIC if "/" in text else _SENML_NAME
    if len(text) > 200 or not whole.fullmatch(text):
        raise UnacceptableError
    return text


NAME = Formed(
    _read_name,
    "a SenML name, in which * stands for anything, or with a / an MQTT topic, with + and #",
    "*:heart",
)


@dataclass(frozen=True)
class TimeOrNever(Kind):
    """A time, or the word never, which reads as one without end."""

    lowest: str
    highest: str

    @property
    def _measured(self) -> Measured:
        return Measured("time", self.lowest, self.highest, spread=False)

    def read(self, text: str, among: tuple[str, ...] = ()) -> Quantity:
        """Read the time."""
        if text == NEVER:
            return Quantity(math.inf, math.inf, math.inf, "exact", text, "time")
        return self._measured.read(text)

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """A time, or never."""
        return f"{self._measured.accepted()}; or {NEVER}"

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text."""
        return {"type": "string", "description": self.accepted()}


class Sensor(Written):
    """One channel of a suit.

    Attributes:
        channel: Its name here.
        measures: What.
        unit: In which unit it sends when a message names none.
        name: By what its messages are known: a SenML name or an MQTT topic; left out, `channel`.
        reference: Conditions of a gas flow or a share of a gas; `actual` when it is stated as it
            is where it flows; `none` for everything else.
        plausible: Between which values it may be.
        jump: Most change in a second.
        every: Usual time between two readings [s].
        frozen_after: The very same figure for so long is no measurement any more.
        accuracy: One standard deviation of its readings.
        clock: `none` when the times that it sends mean nothing.
    """

    channel: Annotated[str, Code()]
    measures: Annotated[SensedQuantity, Word()]
    unit: Annotated[UnitCode, UnitCodeKind()]
    name: Annotated[str | None, NAME] = None
    reference: Reference = "none"
    plausible: Annotated[Quantity | None, MeasuredLike()] = None
    jump: Annotated[Quantity | None, MeasuredLike()] = None
    every: Annotated[Quantity, Measured("time", "0.01 s", "10 min", spread=False)]
    frozen_after: Annotated[Quantity | None, TimeOrNever("1 s", "24 h")] = None
    accuracy: Annotated[Quantity | None, MeasuredLike()] = None
    clock: Annotated[Literal["own", "none"], Word()] = "own"

    @model_validator(mode="before")
    @classmethod
    def _measure_by_quantity(cls, written: Any) -> Any:  # noqa: ANN401 - not yet validated
        """Tell the values which dimension they have: that of what is measured."""
        sensed = SENSED.get(str(written.get("measures"))) if isinstance(written, dict) else None
        if sensed is None:
            return written
        rules = sensed.rules()
        return {
            key: Tagged(value, rules[key]) if key in rules and isinstance(value, str) else value
            for key, value in written.items()
        }

    @property
    def sensed(self) -> Sensed:
        """What may be said of its quantity."""
        return SENSED[self.measures]

    @property
    def known_as(self) -> str:
        """By what its messages are known."""
        return self.name or self.channel

    def disagreements(self) -> Iterator[Complaint]:
        """A unit of another quantity, conditions that are missing or out of place, and more."""
        dimensions = self.sensed.dimensions
        if self.unit.dimension not in dimensions:
            accepted = (
                f"a code in which {self.measures} is measured: {listed(codes_of(*dimensions))}"
            )
            yield Complaint(("unit",), accepted)
            return
        yield from self._reference_complaints()
        if self.plausible is not None and self.plausible.spread != "range":
            yield Complaint(("plausible",), f'a range, as in "{self.sensed.plausible}"')
        frozen = self.frozen_after
        least = LEAST_READINGS_FROZEN * self.every.nominal
        if frozen is not None and frozen.nominal < least:
            shown = format_quantity(least, "time")
            yield Complaint(("frozen_after",), f"at least {shown}, three readings; or {NEVER}")

    def _reference_complaints(self) -> Iterator[Complaint]:
        is_flow = self.measures == "air_flow"
        is_share = self.sensed.is_gas and self.unit.dimension == "fraction"
        given = self.reference
        if not (is_flow or is_share):
            if given != NOT_STATED:
                accepted = "no reference: only an air_flow, or a gas given as a share, has one"
                yield Complaint(("reference",), accepted)
        elif given == NOT_STATED:
            yield Complaint(("reference",), *_reference_words(is_flow))
        elif isinstance(given, ReferenceConditions):
            if is_flow and given.temperature is None:
                yield Complaint(
                    ("reference", "temperature"),
                    "the temperature at which the flow is stated, as in 0 degC",
                    "nothing (the key is missing)",
                )
            if is_share and given.temperature is not None:
                accepted = "pressure alone: a share of a gas does not depend on the temperature"
                yield Complaint(("reference", "temperature"), accepted)


def _reference_words(is_flow: bool) -> tuple[str, str]:
    if is_flow:
        accepted = f"{AT_ACTUAL}, when the flow is told as it is where it flows; or {_CONDITIONS}"
    else:
        accepted = (
            f"{AT_ACTUAL}, when the sensor allows for the air pressure of the day; or the pressure "
            "for which it is set, as in {pressure: 101.325 kPa}"
        )
    return accepted, "nothing (the key is missing)"


def sensor_complaints(sensors: Iterable[Sensor]) -> Iterator[Complaint]:
    """Two channels of one suit with one name.

    Args:
        sensors: Of one suit, in order.
    """
    channels: set[str] = set()
    names: set[str] = set()
    for place, sensor in enumerate(sensors):
        if sensor.channel in channels:
            yield Complaint(("sensors", place, "channel"), "each channel once")
        elif sensor.known_as in names:
            key = "name" if sensor.name else "channel"
            yield Complaint(("sensors", place, key), "a name by which no other sensor is known")
        channels.add(sensor.channel)
        names.add(sensor.known_as)


Sensors = Annotated[tuple[Sensor, ...], Field(max_length=100)]


def default_of(sensor: Sensor, key: str) -> Quantity:
    """What counts for a key of a sensor: as written, or as assumed.

    Args:
        sensor: One channel.
        key: `plausible`, `jump`, `accuracy` or `frozen_after`.
    """
    written: Quantity | None = getattr(sensor, key)
    if written is not None:
        return written
    text: str = getattr(sensor.sensed, key)
    if key == "frozen_after":
        return TimeOrNever("1 s", "24 h").read(text)
    dimension = sensor.sensed.rules()[key].dimension
    return parse_quantity(text, dimension)
