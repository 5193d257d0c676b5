"""Faults on a timeline: a file that says what breaks when, and the deeds that then are due.

```yaml
faults:
  - {at: 20 min, wearer: A, fault: fans, until: 24 min}
  - {at: 35 min, wearer: B, fault: main_kinked, share: 80 %}
  - {at: 40 min, wearer: A, fault: sensor-stuck, channel: heart}
```
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from neckring.live.entries import Deed, Kind, Role
from neckring.live.fault_catalogue import AT, SENSOR_FAULTS, catalogue
from neckring.station.fault import Fault, StationFaults, listed, quoted
from neckring.station.fields import Code, Word, did_you_mean
from neckring.station.files import FileFault, read_text
from neckring.station.measured import Measured
from neckring.station.nodes import Node
from neckring.station.validation import validate
from neckring.station.written import Complaint, Written
from neckring.station.yaml_reading import read_yaml
from neckring.units import Quantity

Time = Annotated[Quantity, Measured("time", "0 s", "12 h", spread=False)]
_OF_SENSORS = frozenset(fault.code for fault in SENSOR_FAULTS)


class TimelineFault(Written):
    """One fault.

    Attributes:
        at: Run time at which it begins.
        wearer: A or B.
        fault: Code in the catalogue.
        channel: Of a sensor's fault.
        share: How bad, for faults that come in degrees.
        until: Run time at which it ends; left out, it stays.
    """

    at: Time
    wearer: Annotated[Literal["A", "B"], Word()]
    fault: Annotated[str, Code()]
    channel: Annotated[str | None, Code()] = None
    share: Annotated[Quantity | None, Measured("fraction", "0 %", "100 %", spread=False)] = None
    until: Annotated[Quantity | None, Measured("time", "0 s", "12 h", spread=False)] = None

    def disagreements(self) -> Iterator[Complaint]:
        """An end before the beginning, a sensor's fault without a sensor, or the other way."""
        if self.until is not None and self.until.nominal <= self.at.nominal:
            yield Complaint(("until",), f"later than at, which is {self.at.text}")
        if self.fault in _OF_SENSORS and self.channel is None:
            yield Complaint(("channel",), "the channel whose sensor fails", "nothing")
        if self.fault not in _OF_SENSORS and self.channel is not None:
            yield Complaint(("channel",), f"only beside {listed(sorted(_OF_SENSORS))}")

    @property
    def code(self) -> str:
        """As it stands in the catalogue and in the log book."""
        return self.fault if self.channel is None else f"{self.fault}{AT}{self.channel}"


class TimelineSheet(Written):
    """All faults of a rehearsal, in any order."""

    faults: tuple[TimelineFault, ...] = Field(min_length=1, max_length=200)


@dataclass(frozen=True)
class Timed:
    """One thing that is due.

    Attributes:
        at: Run time [s].
        kind: Begun or ended.
        wearer: A or B.
        fault: Code in the catalogue.
        share: How bad, 0..1.
    """

    at: float
    kind: Kind
    wearer: str
    fault: str
    share: float


Timeline = tuple[Timed, ...]
"""In the order in which they are due."""


def read_timeline(path: Path, channels: Mapping[str, tuple[str, ...]]) -> Timeline:
    """Read a timeline.

    Args:
        path: Of the file.
        channels: Of each wearer's suit, by letter: who is not among them does not take part.

    Raises:
        StationFaults: With every fault of the file, each with its place.
    """
    try:
        tree, told = read_yaml(read_text(path.parent, path.name), path.name)
    except FileFault as refused:
        raise StationFaults([refused.fault]) from None
    sheet, faults = validate(TimelineSheet, tree)
    if sheet is not None:
        faults = list(_unknown(sheet, tree, channels))
    if sheet is None or told or faults:
        raise StationFaults([*told, *faults])
    return in_order(sheet)


def in_order(sheet: TimelineSheet) -> Timeline:
    """Everything that is due, in its order; at one instant what ends comes first."""
    due = []
    for fault in sheet.faults:
        share = 1.0 if fault.share is None else fault.share.nominal
        start = Timed(fault.at.nominal, Kind.FAULT_BEGUN, fault.wearer, fault.code, share)
        due.append(start)
        if fault.until is not None:
            due.append(
                Timed(fault.until.nominal, Kind.FAULT_ENDED, fault.wearer, fault.code, share)
            )
    return tuple(sorted(due, key=lambda one: (one.at, one.kind is Kind.FAULT_BEGUN)))


def _unknown(
    sheet: TimelineSheet, tree: Node, channels: Mapping[str, tuple[str, ...]]
) -> Iterator[Fault]:
    """Wearers who take no part, faults nobody knows, channels that the suit has not."""
    for place, fault in enumerate(sheet.faults):
        if fault.wearer not in channels:
            accepted = f"a wearer of this rehearsal: {listed(channels)}"
            yield _at(tree, place, "wearer", fault.wearer, accepted)
            continue
        known = (*(code for code in catalogue()), *sorted(_OF_SENSORS))
        if fault.fault not in known:
            accepted = f"a fault: {listed(known)}"
            yield _at(tree, place, "fault", fault.fault, accepted, did_you_mean(fault.fault, known))
        mine = channels[fault.wearer]
        if fault.channel is not None and fault.channel not in mine:
            accepted = f"a channel of the suit: {listed(mine)}"
            hint = did_you_mean(fault.channel, mine)
            yield _at(tree, place, "channel", fault.channel, accepted, hint)


def _at(tree: Node, place: int, key: str, read: str, accepted: str, hint: str = "") -> Fault:
    """The fault of a key of one entry, with its place in the file."""
    spot = tree.spot
    root = tree.value
    if isinstance(root, dict) and isinstance(root["faults"].node.value, list):
        entry = root["faults"].node.value[place]
        spot = entry.spot
        if isinstance(entry.value, dict):
            spot = entry.value[key].node.spot
    field = f"faults[{place + 1}].{key}"
    return Fault(spot.file, spot.line, spot.column, field, quoted(read), accepted, hint)


def due(timeline: Timeline, before: float, now: float, name: str, trainer: str) -> tuple[Deed, ...]:
    """The deeds that are due after one run time, up to and with another.

    Their keys follow from the run and the line alone: asked for twice, they are recorded once.

    Args:
        timeline: In order.
        before: Run time up to which all was asked for [s]; below 0 for the beginning.
        now: [s]
        name: Of the run.
        trainer: Code of the person in whose name it is done.
    """
    return tuple(
        fault_deed(one, f"{name} {number}", trainer)
        for number, one in enumerate(timeline)
        if before < one.at <= now
    )


def fault_deed(one: Timed, name: str, trainer: str, device: str = "desk") -> Deed:
    """The deed of one fault begun or ended.

    Args:
        one: What.
        name: Makes its key; the same name makes the same key.
        trainer: Code of the person.
        device: Which tablet.
    """
    told = f"{name} {one.at!r} {one.kind.value} {one.wearer} {one.fault}"
    key = f"fault:{hashlib.sha256(told.encode()).hexdigest()[:40]}"
    body: dict[str, str | float] = {"wearer": one.wearer, "fault": one.fault}
    if one.kind is Kind.FAULT_BEGUN:
        body["share"] = one.share
    return Deed(key, one.kind, trainer, Role.TRAINER, device, body)
