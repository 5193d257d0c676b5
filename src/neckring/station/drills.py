"""drills.yaml: how long people really took, drill by drill; the file may be missing."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Literal, get_args

from pydantic import Field

from neckring.station.fault import Fault, StationFaults, listed
from neckring.station.fields import DAY, Code, Plain, Text, Word, did_you_mean
from neckring.station.files import FileFault, read_text
from neckring.station.measured import Measured
from neckring.station.nodes import Node
from neckring.station.references import codes, fault_at
from neckring.station.validation import validate
from neckring.station.written import Complaint, Written
from neckring.station.yaml_reading import read_yaml
from neckring.units import Quantity

FILE = "drills.yaml"

DrillKey = Literal[
    "notice_air",
    "notice",
    "open_helmet",
    "open_helmet_by_other",
    "free_helmet",
    "connect",
    "free_umbilical",
    "undress",
    "undress_lying",
]
DRILL_KEYS: tuple[str, ...] = get_args(DrillKey)
"""The times among a suit's `help` keys (docs/station.md)."""


class Drill(Written):
    """One time that was taken.

    Attributes:
        key: Which of a suit's `help` times it is.
        suit: In which suit.
        took: How long [s].
        on: The day.
        source: Who took it and how: a watch, a rehearsal.
        speed: Run time against real time, in a rehearsal.
    """

    key: Annotated[DrillKey, Word()]
    suit: Annotated[str, Code()]
    took: Annotated[Quantity, Measured("time", "0.1 s", "60 min", spread=False)]
    on: Annotated[datetime.date, DAY]
    source: Annotated[str, Text(200)]
    speed: Annotated[float, Plain(1, 20)] = 1.0

    def disagreements(self) -> Iterator[Complaint]:
        """A time of nothing."""
        if self.took.nominal <= 0.0:
            yield Complaint(("took",), "a time above nought")


class DrillSheet(Written):
    """All of them, the oldest first."""

    drills: tuple[Drill, ...] = Field(min_length=1, max_length=5000)


def drill_faults(trees: Mapping[str, Mapping[str, Node]]) -> Iterator[Fault]:
    """Drills in a suit that the station does not have.

    Args:
        trees: All files that could be read, by kind and path.
    """
    known = codes(trees.get("suit", {}))
    for sheet in trees.get("drills", {}).values():
        drills = sheet.child("drills")
        for place, drill in enumerate(drills.items if drills else ()):
            suit = drill.text_of("suit")
            if suit and suit not in known:
                accepted = f"the code of a suit of this station: {listed(known)}"
                yield fault_at(
                    sheet, ("drills", place, "suit"), accepted, did_you_mean(suit, known)
                )


NO_DRILLS: tuple[Drill, ...] = ()


def read_drills(folder: Path) -> tuple[Drill, ...]:
    """Read a station's drills; none when there is no such file.

    Args:
        folder: The station's folder.

    Raises:
        StationFaults: With every fault of the file.
    """
    if not (folder / FILE).exists():
        return NO_DRILLS
    try:
        tree, told = read_yaml(read_text(folder, FILE), FILE)
    except FileFault as refused:
        raise StationFaults([refused.fault]) from None
    sheet, faults = validate(DrillSheet, tree)
    if sheet is None or told or faults:
        raise StationFaults([*told, *faults])
    return sheet.drills
