"""How the state of the kit is said."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from neckring.ledger.battery_fade import Fade
from neckring.ledger.going import age_words
from neckring.ledger.ledger_state import Fault, Ledger
from neckring.ledger.records import Act, Record
from neckring.ledger.repeats import Repeat
from neckring.live.book_head import words_of
from neckring.records.ledger_standing import ACCEPT, Standing
from neckring.station.kit_items import KitItems
from neckring.units import format_quantity

CAUTION = (
    "A go here means only that nothing written down speaks against it: the technician and the "
    "lead look at the kit itself."
)
WATT_HOUR = 3600.0


def clock_words(at: float, zone: datetime.tzinfo) -> str:
    """A time of the day in the station's time zone."""
    return datetime.datetime.fromtimestamp(at, zone).strftime("%Y-%m-%d %H:%M")


def ground_words(standing: Standing, zone: datetime.tzinfo) -> str:
    """What an answer stands on: all entries verified now, or earlier and what came since."""
    count = standing.head.count
    if standing.whole:
        return f"Stands on all {count} entries, each verified now."
    since = count - standing.before
    new = f", and {since} since then, verified now" if since else ""
    when = clock_words(standing.verified_at, zone)
    return (
        f"Stands on {standing.before} entries, all verified {when}{new}. "
        "To verify all now: neckring kit verify"
    )


def verified_words(standing: Standing, accepted: bool) -> Iterator[str]:
    """What came of verifying the whole ledger.

    Args:
        standing: As it was found.
        accepted: Whether what is missing was accepted.
    """
    count = standing.head.count
    if count:
        yield f"{count} entries, each follows the one before: {words_of(standing.head)}"
    else:
        yield "nothing is recorded"
    if standing.changed:
        yield (
            "ledger_snapshot.json had been changed: it fitted the ledger and said something else. "
            "Answers given since may have been wrong; it is made anew from the entries"
        )
    if standing.doubt and accepted:
        yield f"accepted from now on: {standing.doubt}"
    elif standing.doubt:
        yield f"MISSING OR EXCHANGED: {standing.doubt}. If that is known and meant: {ACCEPT}"


def fault_words(fault: Fault, sheet: KitItems, now: float) -> str:
    """An open fault: number, serial, what, severity, age."""
    record = fault.record
    what = record.text("fault") or record.text("check")
    part = sheet.parts.get(record.text("part"))
    if record.act is Act.CHECK:
        check = sheet.checks.get(what)
        words = f"{check.words if check else what}: read {record.text('text')}"
    else:
        known = part.faults.get(what) if part else None
        words = known.words if known else record.text("words")
    accepted = f", accepted by {fault.accepted.by}" if fault.accepted else ""
    age = age_words(now - record.at)
    return (
        f"{record.number}: {record.text('item')}, {words} "
        f"[{record.text('severity')}, {age}{accepted}]"
    )


def repeat_words(one: Repeat) -> str:
    """A repeated fault."""
    numbers = ", ".join(map(str, one.numbers[-6:]))
    if one.over == "item":
        return f"{one.fault} on {one.items[0]} ({one.part}): {one.count} times, entries {numbers}"
    serials = ", ".join(one.items[:6])
    return f"{one.fault} on {len(one.items)} serials of {one.part} ({serials}): {one.count} times"


def record_words(record: Record) -> str:
    """What a record says, for whoever has just written it."""
    what = record.text("item") or f"{record.whole('count')} {record.text('piece')}"
    place = f" of {record.text('bag')}" if record.text("bag") else ""
    run = f" for run {record.text('run')}" if record.text("run") else ""
    return f"entry {record.number}: {_DONE[record.act].format(what=what + place)}{run}"


_DONE: dict[Act, str] = {
    Act.OUT: "{what} out",
    Act.IN: "{what} back in",
    Act.LOST: "{what} given up as lost",
    Act.STOCKED: "{what} put in",
    Act.FAULT: "fault of {what}",
    Act.MENDED: "fault mended",
    Act.ACCEPTED: "fault accepted",
    Act.CHECK: "{what} measured",
    Act.CYCLE: "cycle of {what}",
    Act.DRIED: "{what} is dry",
    Act.CLEANED: "{what} is clean",
}


def fade_words(found: Fade) -> str:
    """What the cycles of a battery say."""
    now = format_quantity(found.charge, "charge", "Ah")
    energy = f"; last cycle gave {found.energy / WATT_HOUR:.0f} Wh" if found.energy else ""
    if found.low is None or found.high is None or found.per_cycle is None:
        return f"{now} in the last of {found.cycles} cycles{energy}; too few for a line"
    low, high = (format_quantity(end, "charge", "Ah") for end in (found.low, found.high))
    per = 1000.0 * found.per_cycle / 3600.0
    return (
        f"{now} after {found.cycles} cycles, 90 % sure from {low} to {high}; "
        f"{per:+.0f} mAh a cycle{energy}"
    )


def outstanding(ledger: Ledger) -> list[str]:
    """Everything that is out, item by item and piece by piece."""
    found = []
    for serial, item in sorted(ledger.items.items()):
        if item.out is not None:
            run = item.out.text("run")
            found.append(f"{serial}{f' for run {run}' if run else ''}, by {item.out.by}")
    for (bag, piece), count in sorted(ledger.pieces.items()):
        for run, number in sorted(count.out.items()):
            found.append(f"{number} {piece} of {bag}{f' for run {run}' if run else ''}")
    return found
