"""The state of the kit on a terminal, and as JSON."""

from __future__ import annotations

import datetime
import json
import textwrap
from collections.abc import Iterator, Sequence

from neckring.ledger.battery_fade import fade
from neckring.ledger.going import KitState
from neckring.ledger.ledger_state import Ledger
from neckring.ledger.repeats import repeats, rule_words
from neckring.records import ledger_words as words
from neckring.records.ledger_standing import Standing
from neckring.records.presentation import plain_ascii
from neckring.station.kit_items import KitItems

WIDTH = 80
MARKS = {"go": "GO", "lead decides": "LEAD DECIDES", "no-go": "NO-GO"}


def ledger_lines(
    standing: Standing,
    sheet: KitItems,
    states: Sequence[KitState],
    now: float,
    zone: datetime.tzinfo,
    ascii_only: bool,
) -> list[str]:
    """The state of some kits, at most 80 columns wide.

    Args:
        standing: The present state, and what it stands on.
        sheet: The station's items.
        states: Of the kits to tell of.
        now: Seconds since 1970.
        zone: The station's.
        ascii_only: Whether nothing but ASCII can be shown.
    """
    told = _lines(standing, sheet, states, now, zone)
    lines = [part for line in told for part in _wrapped(line)]
    return [plain_ascii(line) for line in lines] if ascii_only else lines


def _wrapped(line: str) -> list[str]:
    return textwrap.wrap(line, WIDTH, subsequent_indent="    ", break_on_hyphens=False) or [""]


def _lines(
    standing: Standing,
    sheet: KitItems,
    states: Sequence[KitState],
    now: float,
    zone: datetime.tzinfo,
) -> Iterator[str]:
    ledger, kits = standing.ledger, [state.kit for state in states]
    for state in states:
        yield from _kit_lines(state, sheet, zone)
    yield from _batteries(ledger, sheet, kits)
    serials = {serial for kit in kits for serial in sheet.items_of(kit)}
    whole = set(kits) == set(sheet.kits)
    still = [
        words.fault_words(fault, sheet, now)
        for fault in ledger.faults.values()
        if fault.open and (whole or fault.record.text("item") in serials)
    ]
    yield from _listed("open faults", still)
    if whole:
        yield from _listed("out", words.outstanding(ledger))
        again = [words.repeat_words(one) for one in repeats(ledger, sheet, now)]
        yield from _listed("repeated", again)
        if again:
            yield f"rule: {rule_words(sheet)}"
    yield ""
    yield words.ground_words(standing, zone)
    yield words.CAUTION


def _kit_lines(state: KitState, sheet: KitItems, zone: datetime.tzinfo) -> Iterator[str]:
    ready = f", ready {words.clock_words(state.ready_at, zone)}" if state.ready_at else ""
    yield f"{state.kit} ({sheet.kits[state.kit].words}): {MARKS[state.verdict]}{ready}"
    for reason in state.reasons:
        until = f", until {words.clock_words(reason.until, zone)}" if reason.until else ""
        mark = "  note:" if reason.weight == "go" else f"  {reason.weight}:"
        yield f"{mark} {reason.item}, {reason.words}{until}"


def _batteries(ledger: Ledger, sheet: KitItems, kits: Sequence[str]) -> Iterator[str]:
    for kit in kits:
        for serial in sheet.items_of(kit):
            found = fade(ledger.item(serial).cycles)
            if found is not None:
                yield f"battery {serial}: {words.fade_words(found)}"


def _listed(head: str, lines: list[str]) -> Iterator[str]:
    if lines:
        yield f"{head}:"
        yield from (f"  {line}" for line in lines)


def ledger_as_json_text(
    standing: Standing, sheet: KitItems, states: Sequence[KitState], now: float
) -> str:
    """The state of some kits as JSON, in SI and seconds since 1970."""
    ledger = standing.ledger
    told = {
        "now": now,
        "records": ledger.last.number if ledger.last else 0,
        "verified": {
            "whole_chain": standing.whole,
            "earlier_up_to": standing.before,
            "at": standing.verified_at,
            "head": standing.head.digest,
            "doubt": standing.doubt,
        },
        "kits": [_kit_record(state) for state in states],
        "open_faults": [
            {"number": number, "at": one.record.at, "by": one.record.by, **one.record.body}
            for number, one in ledger.faults.items()
            if one.open
        ],
        "out": words.outstanding(ledger),
        "repeats": [vars(one) for one in repeats(ledger, sheet, now)],
        "rule": rule_words(sheet),
    }
    return json.dumps(told, indent=2, ensure_ascii=False)


def _kit_record(state: KitState) -> dict[str, object]:
    return {**vars(state), "reasons": [vars(reason) for reason in state.reasons]}
