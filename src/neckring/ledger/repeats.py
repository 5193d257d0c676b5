"""The same fault again: on one serial, or on several serials of one part."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from neckring.ledger.ledger_state import Fault, Ledger
from neckring.ledger.records import Act, Record
from neckring.station.kit_items import OTHER, KitItems

DAY = 24 * 3600.0


@dataclass(frozen=True)
class Repeat:
    """A fault that came again.

    Attributes:
        over: On the same serial, or over serials of one part.
        part: Code.
        fault: Code of the fault; of the check, where one did not pass.
        items: Serials.
        count: How often, in the time looked back on.
        first: When first, seconds since 1970.
        last: When last.
        numbers: Of the records.
    """

    over: Literal["item", "part"]
    part: str
    fault: str
    items: tuple[str, ...]
    count: int
    first: float
    last: float
    numbers: tuple[int, ...]


def rule_words(sheet: KitItems) -> str:
    """The rule, as it stands in the file."""
    rule = sheet.repeats
    return (
        f"the same fault {rule.same_item} times on one serial, or on {rule.same_part} serials of "
        f"one part, within {rule.within} days; a check that did not pass counts as a fault; "
        f"faults called {OTHER} are not compared"
    )


def repeats(ledger: Ledger, sheet: KitItems, now: float) -> tuple[Repeat, ...]:
    """Every repeated fault, the most frequent first.

    Args:
        ledger: The present state.
        sheet: With the rule.
        now: Seconds since 1970.
    """
    since = now - sheet.repeats.within * DAY
    found: list[Repeat] = []
    for part, records in ledger.by_part.items():
        fresh = [one for one in records if one.at >= since and _code(one) != OTHER]
        found += _of_part(part, fresh, sheet)
    return tuple(sorted(found, key=lambda one: (-one.count, one.part, one.fault, one.items)))


def repeats_of(faults: Sequence[Fault], sheet: KitItems, now: float) -> Iterator[Repeat]:
    """Repeated faults of one serial that nobody has accepted since they last came.

    Args:
        faults: Of one serial.
        sheet: With the rule.
        now: Seconds since 1970.
    """
    since = now - sheet.repeats.within * DAY
    by_code: dict[str, list[Fault]] = defaultdict(list)
    for fault in faults:
        if fault.record.at >= since and _code(fault.record) != OTHER:
            by_code[_code(fault.record)].append(fault)
    for code, same in by_code.items():
        if len(same) >= sheet.repeats.same_item and same[-1].accepted is None:
            first = same[0].record
            records = [fault.record for fault in same]
            yield _repeat("item", first.text("part"), code, (first.text("item"),), records)


def _code(record: Record) -> str:
    return record.text("check") if record.act is Act.CHECK else record.text("fault")


def _of_part(part: str, records: Sequence[Record], sheet: KitItems) -> Iterator[Repeat]:
    by_fault: dict[str, list[Record]] = defaultdict(list)
    for record in records:
        by_fault[_code(record)].append(record)
    for fault, same in by_fault.items():
        by_item: dict[str, list[Record]] = defaultdict(list)
        for record in same:
            by_item[record.text("item")].append(record)
        for serial, own in by_item.items():
            if len(own) >= sheet.repeats.same_item:
                yield _repeat("item", part, fault, (serial,), own)
        if len(by_item) >= sheet.repeats.same_part:
            yield _repeat("part", part, fault, tuple(sorted(by_item)), same)


def _repeat(
    over: Literal["item", "part"],
    part: str,
    fault: str,
    items: tuple[str, ...],
    records: Sequence[Record],
) -> Repeat:
    times = [record.at for record in records]
    numbers = tuple(record.number for record in records)
    return Repeat(over, part, fault, items, len(records), min(times), max(times), numbers)
