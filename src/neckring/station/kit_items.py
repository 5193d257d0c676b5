"""kit_items.yaml: every item by serial, what is counted by bag, what is measured, what grounds."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping
from typing import Annotated, Literal

from pydantic import Field

from neckring.station.fault import Fault, listed
from neckring.station.fields import DAY, Code, Plain, Text, Word, YesNo, did_you_mean
from neckring.station.measured import Measured, left_out
from neckring.station.nodes import Node
from neckring.station.pass_rule import PassRule, PassRuleKind
from neckring.station.references import codes, fault_at
from neckring.station.written import Complaint, Written, alike
from neckring.units import Quantity

Name = Annotated[str, Code()]
Severity = Literal["grounds", "lead decides", "note"]
OTHER = "other"
"""A fault that no list foresaw; it needs words."""

_Time = Measured("time", "1 min", "2000 h", spread=False)


class FaultKind(Written):
    """What can be wrong with a part.

    Attributes:
        words: What it is, as people say it.
        severity: It keeps the kit on the ground; the lead decides; or it is only noted.
    """

    words: Annotated[str, Text(120)]
    severity: Annotated[Severity, Word()]


class Part(Written):
    """A kind of item: all fans are one part, each fan has its own serial.

    Attributes:
        words: What it is called.
        faults: By code; `other` is always there.
        dries_in: How long it dries after it came back [s]; None for not at all.
        cleans_in: How long cleaning takes once it is dry [s]; None for not at all.
        single_use: It goes out once.
        most_cycles: How often it may be used; None for without end.
        rated_charge: Of a battery when new [C]; None for anything else.
        least_charge: Share of it that a battery must still hold [1].
    """

    words: Annotated[str, Text(80)]
    faults: dict[Name, FaultKind] = Field(default_factory=dict)
    dries_in: Annotated[Quantity | None, _Time] = None
    cleans_in: Annotated[Quantity | None, _Time] = None
    single_use: Annotated[bool, YesNo()] = False
    most_cycles: Annotated[int | None, Plain(1, 100_000, whole=True)] = None
    rated_charge: Annotated[
        Quantity | None, Measured("charge", "0.05 Ah", "500 Ah", spread=False)
    ] = None
    least_charge: Annotated[Quantity, Measured("fraction", "10 %", "100 %", spread=False)] = (
        left_out("80 %", "fraction")
    )

    def severity_of(self, fault: str) -> Severity:
        """How much a fault weighs; what no list foresaw is for the lead."""
        return self.faults[fault].severity if fault in self.faults else "lead decides"


class Check(Written):
    """Something that is measured on an item, with what passes.

    Attributes:
        words: What is measured and how.
        parts: Codes of the parts on which.
        reads: What passes.
        valid_for: How long a result counts [s].
        severity: What a result that does not pass does to the kit.
        source: Where the rule comes from.
        verified: Whether it was read there.
    """

    words: Annotated[str, Text(160)]
    parts: tuple[Name, ...] = Field(min_length=1, max_length=20)
    reads: Annotated[PassRule, PassRuleKind()]
    valid_for: Annotated[Quantity, _Time]
    severity: Annotated[Severity, Word()] = "grounds"
    source: Annotated[str, Text(200)]
    verified: Annotated[bool, YesNo()]


class Item(Written):
    """One thing with a serial.

    Attributes:
        part: What it is.
        kit: To which kit it belongs; None for a spare.
        until: Last day on which it may be used; None for no such day.
    """

    part: Name
    kit: Name | None = None
    until: Annotated[datetime.date | None, DAY] = None


class Bag(Written):
    """A bag whose small pieces are counted.

    Attributes:
        words: Where it is.
        kit: To which kit it belongs; None for all.
        holds: Piece to how many there are.
    """

    words: Annotated[str, Text(80)]
    kit: Name | None = None
    holds: dict[Name, Annotated[int, Plain(1, 9999, whole=True)]] = Field(min_length=1)


class OneKit(Written):
    """A kit: what one wearer takes out.

    Attributes:
        words: What it is called.
        suit: Code of the suit that it is one of; None when no such file is kept.
    """

    words: Annotated[str, Text(80)]
    suit: Name | None = None


class Repeats(Written):
    """From when on a fault is called a repeated one.

    Attributes:
        same_item: So often on one serial.
        same_part: On so many serials of one part.
        within: Days that are looked back on.
    """

    same_item: Annotated[int, Plain(2, 20, whole=True)] = 2
    same_part: Annotated[int, Plain(2, 20, whole=True)] = 3
    within: Annotated[int, Plain(1, 3660, whole=True)] = 365


def _usual() -> Repeats:
    return Repeats()


class KitItems(Written):
    """The file.

    Attributes:
        parts: By code.
        checks: By code.
        kits: By code.
        items: By serial, letters first: what is engraved, with a letter before it if need be.
        bags: By code.
        repeats: When a fault counts as repeated.
    """

    about: Annotated[str | None, Text()] = None
    parts: dict[Name, Part] = Field(min_length=1, max_length=200)
    checks: dict[Name, Check] = Field(default_factory=dict)
    kits: dict[Name, OneKit] = Field(default_factory=dict)
    items: dict[Name, Item] = Field(default_factory=dict)
    bags: dict[Name, Bag] = Field(default_factory=dict)
    repeats: Repeats = Field(default_factory=_usual)

    def disagreements(self) -> Iterable[Complaint]:
        """Parts, kits and checks that are nowhere; an item and a bag of one code."""
        for key in ("kits", "items", "bags"):
            yield from alike(key, getattr(self, key))
        for code, check in self.checks.items():
            for place, part in enumerate(check.parts):
                at = ("checks", code, "parts", place)
                yield from _unknown(at, part, tuple(self.parts), "parts")
                if part in check.parts[:place]:
                    yield Complaint(at, "each part once")
        for serial, item in self.items.items():
            yield from _unknown(("items", serial, "part"), item.part, tuple(self.parts), "parts")
            if item.kit:
                yield from _unknown(("items", serial, "kit"), item.kit, tuple(self.kits), "kits")
        for code, bag in self.bags.items():
            if code in self.items:
                yield Complaint(("bags", code), "a code that no item has", f'"{code}"')
            if bag.kit:
                yield from _unknown(("bags", code, "kit"), bag.kit, tuple(self.kits), "kits")

    def items_of(self, kit: str) -> tuple[str, ...]:
        """Serials of a kit."""
        return tuple(serial for serial, item in self.items.items() if item.kit == kit)

    def checks_of(self, part: str) -> tuple[str, ...]:
        """Codes of the checks that are made on a part."""
        return tuple(code for code, check in self.checks.items() if part in check.parts)


def _unknown(
    at: tuple[str | int, ...], code: str, known: tuple[str, ...], key: str
) -> Iterator[Complaint]:
    if code not in known:
        said = listed(sorted(known)) or "there are none yet"
        yield Complaint(
            at, f"one of the {key} of this file: {said}", hint=did_you_mean(code, known)
        )


def kit_item_faults(trees: Mapping[str, Mapping[str, Node]]) -> Iterator[Fault]:
    """Kits of a suit that the station does not have.

    Args:
        trees: All files that could be read, by kind and path.
    """
    known = codes(trees.get("suit", {}))
    for sheet in trees.get("kit_items", {}).values():
        kits = sheet.child("kits")
        for code in kits.entries if kits else ():
            suit = sheet.text_of("kits", code, "suit")
            if suit and suit not in known:
                accepted = f"the code of a suit of this station: {listed(known)}"
                at = ("kits", code, "suit")
                yield fault_at(sheet, at, accepted, did_you_mean(suit, known))
