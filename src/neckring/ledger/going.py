"""Go or no-go of a kit, with every reason."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from neckring.ledger.battery_fade import fade
from neckring.ledger.drying import ready_at
from neckring.ledger.ledger_state import Fault, ItemState, Ledger
from neckring.ledger.records import Act, Record
from neckring.ledger.repeats import repeats_of
from neckring.station.kit_items import Item, KitItems, Part

Verdict = Literal["go", "lead decides", "no-go"]
DAY = 24 * 3600.0
_WEIGHT: dict[str, Verdict] = {
    "grounds": "no-go",
    "lead decides": "lead decides",
    "note": "go",
}
_ORDER: tuple[Verdict, ...] = ("no-go", "lead decides", "go")


@dataclass(frozen=True)
class Reason:
    """One thing to know of a kit.

    Attributes:
        weight: What it comes to by itself.
        item: Serial, or bag.
        words: What.
        until: When it is over by itself, seconds since 1970; None for never.
        out: Whether it is that the item is out.
    """

    weight: Verdict
    item: str
    words: str
    until: float | None = None
    out: bool = False


@dataclass(frozen=True)
class KitState:
    """Whether a kit may go.

    Attributes:
        kit: Code.
        verdict: The worst of its reasons.
        reasons: The worst first.
        ready_at: From when on it may go if nothing but waiting is missing, seconds since 1970;
            None when it may go now, or when waiting is not enough.
    """

    kit: str
    verdict: Verdict
    reasons: tuple[Reason, ...]
    ready_at: float | None


def kit_state(ledger: Ledger, sheet: KitItems, kit: str, now: float, run: str = "") -> KitState:
    """Whether a kit may go.

    Args:
        ledger: The present state.
        sheet: The station's items.
        kit: Code of a kit in it.
        now: Seconds since 1970.
        run: Code of the run that it shall go on: what is out for this one is where it belongs.
    """
    reasons = list(_reasons(ledger, sheet, kit, now, run))
    reasons.sort(key=lambda one: (_ORDER.index(one.weight), one.item))
    verdict = reasons[0].weight if reasons else "go"
    stopping = [one for one in reasons if one.weight == "no-go"]
    waits = [one.until for one in stopping if one.until is not None]
    ready = max(waits) if stopping and len(waits) == len(stopping) else None
    return KitState(kit, verdict, tuple(reasons), ready)


def _reasons(ledger: Ledger, sheet: KitItems, kit: str, now: float, run: str) -> Iterator[Reason]:
    serials = sheet.items_of(kit)
    if not serials:
        yield Reason("no-go", kit, "no item of the file belongs to this kit")
    for serial in serials:
        out = ledger.item(serial).out
        belongs = bool(run) and out is not None and out.text("run") == run
        reasons = item_reasons(ledger, sheet, serial, now)
        yield from (one for one in reasons if not (one.out and belongs))
    for code, bag in sheet.bags.items():
        if bag.kit == kit:
            yield from _bag_reasons(ledger, code, bag.holds, run)


def item_reasons(ledger: Ledger, sheet: KitItems, serial: str, now: float) -> Iterator[Reason]:
    """Everything to know of one item, in no order.

    Args:
        ledger: The present state.
        sheet: The station's items.
        serial: Of an item in it.
        now: Seconds since 1970.
    """
    item, known = sheet.items[serial], ledger.item(serial)
    part = sheet.parts[item.part]
    yield from _whereabouts(serial, known, part)
    yield from _ages(serial, item, known, part, now)
    ready = ready_at(known, part)
    if ready is not None and ready > now:
        yield Reason("no-go", serial, f"{part.words}: not dry and clean yet", ready)
    for fault in known.faults:
        if fault.open and fault.record.act is not Act.CHECK:
            yield _fault_reason(serial, part, fault, now)
    for code in sheet.checks_of(item.part):
        yield from _check_reasons(sheet, serial, code, known.checks.get(code), now)
    if part.rated_charge is not None:
        yield from _battery_reasons(serial, known, part)
    for one in repeats_of(known.faults, sheet, now):
        words = f"{part.words}: {one.fault} {one.count} times on this serial"
        yield Reason("lead decides", serial, f"{words}, last entry {one.numbers[-1]}")


def _whereabouts(serial: str, known: ItemState, part: Part) -> Iterator[Reason]:
    if known.lost is not None:
        yield Reason("no-go", serial, f"{part.words}: given up as lost")
    if known.out is not None:
        run = known.out.text("run")
        whatfor = f" for run {run}" if run else ""
        yield Reason("no-go", serial, f"{part.words}: still out{whatfor}", out=True)
    if part.single_use and known.times_in:
        yield Reason("no-go", serial, f"{part.words}: for a single use, and used")


def _ages(serial: str, item: Item, known: ItemState, part: Part, now: float) -> Iterator[Reason]:
    today = datetime.datetime.fromtimestamp(now, datetime.UTC).date()
    if item.until is not None and today > item.until:
        yield Reason("no-go", serial, f"{part.words}: only until {item.until.isoformat()}")
    used = used_cycles(known, part)
    if part.most_cycles is not None and used >= part.most_cycles:
        words = f"{part.words}: used {used} times, at most {part.most_cycles}"
        yield Reason("no-go", serial, words)


def used_cycles(known: ItemState, part: Part) -> int:
    """How often an item was used: full cycles of a battery, else how often it came back."""
    return len(known.cycles) if part.rated_charge is not None else known.times_in


def age_words(seconds: float) -> str:
    """An age in whole days, less than one in whole hours."""
    days, hours = int(max(0.0, seconds) // DAY), int(max(0.0, seconds) // 3600)
    if days:
        return "1 day ago" if days == 1 else f"{days} days ago"
    return f"{hours} h ago" if hours else "just now"


def _fault_reason(serial: str, part: Part, fault: Fault, now: float) -> Reason:
    record = fault.record
    code = record.text("fault")
    words = part.faults[code].words if code in part.faults else record.text("words")
    said = f"{part.words}: {words}, fault {record.number}, told {age_words(now - record.at)}"
    severity = record.text("severity")
    weight = _WEIGHT.get(severity, "no-go")
    if weight == "lead decides" and fault.accepted is not None:
        return Reason("go", serial, f"{said}, accepted by {fault.accepted.by}")
    return Reason(weight, serial, said)


def _check_reasons(
    sheet: KitItems, serial: str, code: str, last: Record | None, now: float
) -> Iterator[Reason]:
    check = sheet.checks[code]
    weight = _WEIGHT[check.severity]
    value = last.figure("value") if last else None
    if last is None or value is None:
        yield Reason(weight, serial, f"{check.words}: never measured")
    elif not check.reads.passes(value):
        words = f"{check.words}: read {last.text('text')}, passes {check.reads.text}"
        yield Reason(weight, serial, words)
    elif now - last.at > check.valid_for.nominal:
        ago = age_words(now - last.at)
        yield Reason(weight, serial, f"{check.words}: measured {ago}, measure again")


def _battery_reasons(serial: str, known: ItemState, part: Part) -> Iterator[Reason]:
    rated = part.rated_charge
    found = fade(known.cycles)
    if rated is None or found is None:
        yield Reason("lead decides", serial, f"{part.words}: its charge was never measured")
        return
    least, share = part.least_charge, found.charge / rated.nominal
    said = f"{part.words}: holds {100 * share:.0f} % of {rated.text}"
    if share < least.nominal:
        yield Reason("no-go", serial, f"{said}, at least {least.text}")
    elif found.low is not None and found.low / rated.nominal < least.nominal:
        low = 100 * found.low / rated.nominal
        yield Reason("lead decides", serial, f"{said}, perhaps only {low:.0f} %")


def _bag_reasons(ledger: Ledger, bag: str, holds: dict[str, int], run: str) -> Iterator[Reason]:
    for piece, first in holds.items():
        count = ledger.count(bag, piece)
        belongs = count.out.get(run, 0) if run else 0
        inside, away = count.inside(first) + belongs, count.all_out - belongs
        if inside < first:
            out = f", {away} out" if away else ""
            lost = f", {count.lost} lost" if count.lost else ""
            yield Reason("no-go", bag, f"{inside} of {first} {piece}{out}{lost}")
