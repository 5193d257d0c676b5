"""Whether a deed may be written into the ledger, and if not why not, in words for who asks."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping

from neckring.ledger.ledger_state import Ledger
from neckring.ledger.records import Act, Body, Record
from neckring.station.fields import did_you_mean
from neckring.station.kit_items import OTHER, KitItems
from neckring.units import format_quantity

AHEAD = 60.0
"""[s]; two clocks may differ by so much."""


def refusal(ledger: Ledger, sheet: KitItems, act: Act, body: Body, at: float, now: float) -> str:
    """Why a deed is refused; "" when it is taken.

    Args:
        ledger: The present state.
        sheet: The station's items.
        act: What was done.
        body: As the act demands.
        at: When it was done, seconds since 1970.
        now: The present time.
    """
    if at > now + AHEAD:
        return f"{_clock(at)} is still to come"
    return _JUDGES[act](ledger, sheet, Record(0, at, "", act, body))


def _unknown(kind: str, code: str, known: Mapping[str, object] | tuple[str, ...]) -> str:
    codes = tuple(sorted(known))
    hint = did_you_mean(code, codes)
    accepted = ", ".join(codes) if len(codes) <= 12 else f"{', '.join(codes[:12])} and others"
    said = f'no {kind} has the code "{code}"; accepted: {accepted or "there are none yet"}'
    return f"{said}; {hint}" if hint else said


def _clock(at: float) -> str:
    return datetime.datetime.fromtimestamp(at, datetime.UTC).strftime("%Y-%m-%d %H:%M UTC")


def _said(record: Record) -> str:
    """Which record, by whom, when and for which run."""
    run = f", for run {record.text('run')}" if record.text("run") else ""
    return f"entry {record.number}, {_clock(record.at)}, by {record.by}{run}"


def _moved(ledger: Ledger, sheet: KitItems, asked: Record) -> str:
    if not asked.text("item"):
        return _pieces_moved(ledger, sheet, asked)
    serial = asked.text("item")
    if serial not in sheet.items:
        return _unknown("item", serial, {**sheet.items, **sheet.bags})
    item = ledger.item(serial)
    if asked.act is not Act.OUT:
        return _not_out(serial, item.out, item.back, asked)
    if item.out is not None:
        return f"{serial} is out already: {_said(item.out)}; count it in first"
    if sheet.parts[sheet.items[serial].part].single_use and item.times_in:
        back = _said(item.back) if item.back else ""
        return f"{serial} is for a single use and was used: {back}"
    return _before_last(serial, item.back, asked)


def _not_out(serial: str, out: Record | None, back: Record | None, asked: Record) -> str:
    if out is None:
        last = f"; it came back: {_said(back)}" if back else ""
        return f"{serial} is not out{last}"
    return _before_last(serial, out, asked)


def _before_last(what: str, last: Record | None, asked: Record) -> str:
    if last is not None and asked.at < last.at:
        return f"{what}: {_clock(asked.at)} lies before its last record: {_said(last)}"
    return ""


def _bag_fault(sheet: KitItems, bag: str, piece: str) -> str:
    if bag not in sheet.bags:
        return _unknown("item or bag", bag, {**sheet.items, **sheet.bags})
    if piece not in sheet.bags[bag].holds:
        return _unknown(f"piece of bag {bag}", piece, sheet.bags[bag].holds)
    return ""


def _pieces_moved(ledger: Ledger, sheet: KitItems, asked: Record) -> str:
    bag, piece, wanted = asked.text("bag"), asked.text("piece"), asked.whole("count")
    wrong = _bag_fault(sheet, bag, piece) or _no_count(wanted)
    if wrong:
        return wrong
    count = ledger.count(bag, piece)
    if asked.act is Act.OUT:
        inside = count.inside(sheet.bags[bag].holds[piece])
        if wanted > inside:
            return f"{bag} holds {inside} {piece}, not {wanted}{_where(count.out)}"
        return ""
    run = asked.text("run")
    out = count.out.get(run, 0)
    if wanted > out:
        whatfor = f"for run {run}" if run else "for no run"
        return f"{out} {piece} of {bag} are out {whatfor}, not {wanted}{_where(count.out)}"
    return ""


def _where(out: Mapping[str, int]) -> str:
    parts = [f"{n} for {f'run {run}' if run else 'no run'}" for run, n in sorted(out.items()) if n]
    return f"; out: {', '.join(parts)}" if parts else ""


def _no_count(wanted: int) -> str:
    return "" if wanted >= 1 else "how many? accepted: a whole number from 1"


def _stocked(ledger: Ledger, sheet: KitItems, asked: Record) -> str:
    wrong = _bag_fault(sheet, asked.text("bag"), asked.text("piece"))
    return wrong or _no_count(asked.whole("count"))


def _item(sheet: KitItems, asked: Record) -> str:
    serial = asked.text("item")
    return "" if serial in sheet.items else _unknown("item", serial, sheet.items)


def _fault(ledger: Ledger, sheet: KitItems, asked: Record) -> str:
    wrong = _item(sheet, asked)
    if wrong:
        return wrong
    part = sheet.items[asked.text("item")].part
    code, known = asked.text("fault"), sheet.parts[part].faults
    if code == OTHER:
        return "" if asked.text("words") else "a fault called other needs words: what is wrong?"
    return "" if code in known else _unknown(f"fault of a {part}", code, (*known, OTHER))


def _about_fault(ledger: Ledger, sheet: KitItems, asked: Record) -> str:
    number = asked.whole("fault")
    fault = ledger.faults.get(number)
    if fault is None:
        still = ", ".join(str(n) for n, one in sorted(ledger.faults.items()) if one.open)
        return f"no fault has the number {number}; open: {still or 'none'}"
    if asked.act is Act.MENDED and fault.mended is not None:
        return f"fault {number} is mended already: {_said(fault.mended)}"
    if asked.act is Act.MENDED and fault.record.act is Act.CHECK:
        return f"entry {number} is a check that did not pass: measure again"
    if not asked.text("words"):
        return "say in words what was done, or why it is accepted"
    grounds = fault.open and fault.record.text("severity") == "grounds"
    if asked.act is Act.ACCEPTED and grounds:
        return f"fault {number} grounds the kit: it can only be mended"
    return ""


def _check(ledger: Ledger, sheet: KitItems, asked: Record) -> str:
    wrong = _item(sheet, asked)
    if wrong:
        return wrong
    part, code = sheet.items[asked.text("item")].part, asked.text("check")
    if code not in sheet.checks_of(part):
        return _unknown(f"check of a {part}", code, sheet.checks_of(part))
    return "" if asked.figure("value") is not None else "what was read?"


def _cycle(ledger: Ledger, sheet: KitItems, asked: Record) -> str:
    wrong = _item(sheet, asked)
    if wrong:
        return wrong
    serial = asked.text("item")
    rated = sheet.parts[sheet.items[serial].part].rated_charge
    charge = asked.figure("charge")
    if rated is None:
        return f"{serial} is no battery: its part has no rated_charge" if charge else ""
    if charge is None:
        return "which charge did it give, from full to empty? as in 4.6 Ah"
    if charge > 1.5 * rated.nominal:
        shown = format_quantity(charge, "charge", "Ah")
        return f"{shown} is more than one and a half times the rated {rated.text}"
    return ""


def _tended(ledger: Ledger, sheet: KitItems, asked: Record) -> str:
    wrong = _item(sheet, asked)
    if wrong:
        return wrong
    item = ledger.item(asked.text("item"))
    if item.out is not None:
        return f"{asked.text('item')} is out: {_said(item.out)}; count it in first"
    return _before_last(asked.text("item"), item.back, asked)


_JUDGES: dict[Act, Callable[[Ledger, KitItems, Record], str]] = {
    Act.OUT: _moved,
    Act.IN: _moved,
    Act.LOST: _moved,
    Act.STOCKED: _stocked,
    Act.FAULT: _fault,
    Act.MENDED: _about_fault,
    Act.ACCEPTED: _about_fault,
    Act.CHECK: _check,
    Act.CYCLE: _cycle,
    Act.DRIED: _tended,
    Act.CLEANED: _tended,
}
