"""What the list of kit and its ledger say is counted for a run: serials, and bags of pieces."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass, field

from neckring.ledger.ledger_state import ItemState, Ledger
from neckring.station.kit_items import Bag, KitItems


@dataclass(frozen=True)
class Serial:
    """One thing with a serial, or the pieces of one kind in one bag.

    Attributes:
        words: What it is called.
        pieces: How many there are; "1" of a serial.
        serial: What is engraved, or the code of the bag.
        note: What the ledger says against it; "" when nothing.
    """

    words: str
    pieces: str
    serial: str
    note: str = ""


@dataclass(frozen=True)
class KitSerials:
    """What is counted of one kit by serial.

    Attributes:
        title: What stands above.
        rows: Serials first, then bags.
    """

    title: str
    rows: tuple[Serial, ...]


@dataclass(frozen=True)
class Serials:
    """What is counted by serial.

    Attributes:
        kits: Those that may go on the run; more than one where nothing yet says which.
        covered: Codes of the parts of which each of these kits has serials.
        besides: What belongs to no kit: bags for all, spares that are out for the run.
        stands_on: Up to which entry of the ledger this was so; "" where there is no such kit.
    """

    kits: tuple[KitSerials, ...] = field(default=())
    covered: tuple[str, ...] = field(default=())
    besides: tuple[Serial, ...] = field(default=())
    stands_on: str = ""


def serials_for(
    sheet: KitItems, ledger: Ledger, suits: tuple[str, ...], run: str, day: datetime.date
) -> Serials:
    """What is counted by serial for a run, or for some suits when no run is named.

    Args:
        sheet: The station's items.
        ledger: What was done with them.
        suits: Codes of the suits.
        run: Code of the run; "" for none.
        day: On which they go.
    """
    kits = tuple(code for code, kit in sheet.kits.items() if kit.suit in suits)
    begun = tuple(code for code in kits if _is_out_for(sheet, ledger, code, run))
    chosen = begun or kits
    if not chosen:
        return Serials()
    last = ledger.last
    return Serials(
        tuple(_of_kit(sheet, ledger, code, run, day) for code in chosen),
        _covered(sheet, chosen),
        tuple(_besides(sheet, ledger, run, day)),
        f"as they were after entry {last.number} of the ledger" if last else "before any entry",
    )


def _covered(sheet: KitItems, kits: tuple[str, ...]) -> tuple[str, ...]:
    """Parts that each of some kits has."""
    parts = [{sheet.items[serial].part for serial in sheet.items_of(kit)} for kit in kits]
    return tuple(sorted(set.intersection(*parts)))


def _is_out_for(sheet: KitItems, ledger: Ledger, kit: str, run: str) -> bool:
    outs = (ledger.item(serial).out for serial in sheet.items_of(kit))
    return bool(run) and any(out is not None and out.text("run") == run for out in outs)


def _of_kit(sheet: KitItems, ledger: Ledger, kit: str, run: str, day: datetime.date) -> KitSerials:
    serials = (_serial(sheet, ledger, code, run, day) for code in sheet.items_of(kit))
    bags = (
        row
        for code, bag in sheet.bags.items()
        if bag.kit == kit
        for row in _bag(ledger, code, bag, run)
    )
    return KitSerials(f"{kit}: {sheet.kits[kit].words}", (*serials, *bags))


def _besides(sheet: KitItems, ledger: Ledger, run: str, day: datetime.date) -> Iterator[Serial]:
    for code, item in sheet.items.items():
        out = ledger.item(code).out
        if item.kit is None and run and out is not None and out.text("run") == run:
            yield _serial(sheet, ledger, code, run, day)
    for code, bag in sheet.bags.items():
        if bag.kit is None:
            yield from _bag(ledger, code, bag, run)


def _serial(sheet: KitItems, ledger: Ledger, code: str, run: str, day: datetime.date) -> Serial:
    item, known = sheet.items[code], ledger.item(code)
    part = sheet.parts[item.part]
    notes = list(_notes(known, run))
    if part.single_use and known.times_in:
        notes.append("for a single use, and used")
    if item.until is not None and day > item.until:
        notes.append(f"only until {item.until.isoformat()}")
    return Serial(_capital(part.words), "1", code, "; ".join(notes))


def _notes(known: ItemState, run: str) -> Iterator[str]:
    if known.lost is not None:
        yield f"given up as lost, entry {known.lost.number}"
    if known.out is not None:
        whatfor = known.out.text("run")
        if run and whatfor == run:
            yield f"counted out already, entry {known.out.number}"
        else:
            yield f"STILL OUT{f' for {whatfor}' if whatfor else ''}, entry {known.out.number}"


def _bag(ledger: Ledger, code: str, bag: Bag, run: str) -> Iterator[Serial]:
    for piece, first in bag.holds.items():
        count = ledger.count(code, piece)
        inside, out = count.inside(first), dict(count.out)
        for_run = out.pop(run, 0) if run else 0
        notes = [f"{for_run} counted out already"] if for_run else []
        notes += [f"{n} STILL OUT{f' for {other}' if other else ''}" for other, n in out.items()]
        if inside + for_run != first:
            notes.append(f"{first} belong in the bag")
        yield Serial(_capital(piece), str(inside + for_run), code, "; ".join(notes))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
