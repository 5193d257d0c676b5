"""The state of the kit: nothing but a fold over the records, in their order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from neckring.ledger.records import Act, Record

Pieces = tuple[str, str]
"""Bag and piece."""


@dataclass
class Fault:
    """A fault of an item.

    Attributes:
        record: In which it was told.
        mended: The record that mended it; None while it is open.
        accepted: The last record by which the lead accepted it.
    """

    record: Record
    mended: Record | None = None
    accepted: Record | None = None

    @property
    def open(self) -> bool:
        """Whether nobody has mended it."""
        return self.mended is None


@dataclass
class ItemState:
    """What is known of one serial.

    Attributes:
        out: The record by which it is out; None while it is here.
        back: The last record by which it came back.
        lost: The record by which it was given up.
        times_in: How often it came back.
        dried: Last record of drying.
        cleaned: Last record of cleaning.
        checks: Code of a check to its last record.
        cycles: Records of full battery cycles.
        faults: All, the oldest first; a check that did not pass is one until it is passed.
        history: Number of every record about it.
    """

    out: Record | None = None
    back: Record | None = None
    lost: Record | None = None
    times_in: int = 0
    dried: Record | None = None
    cleaned: Record | None = None
    checks: dict[str, Record] = field(default_factory=dict)
    cycles: list[Record] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    history: list[int] = field(default_factory=list)


@dataclass
class Count:
    """The pieces of one kind in one bag.

    Attributes:
        out: Run ("" for none) to how many are out for it.
        lost: Given up.
        stocked: Put in beside what the bag held at first.
        history: Number of every record about them.
    """

    out: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    lost: int = 0
    stocked: int = 0
    history: list[int] = field(default_factory=list)

    @property
    def all_out(self) -> int:
        """How many are out, whatever for."""
        return sum(self.out.values())

    def inside(self, first: int) -> int:
        """How many are in the bag.

        Args:
            first: How many it held at first.
        """
        return first + self.stocked - self.lost - self.all_out


@dataclass
class Ledger:
    """The state of all kit.

    Attributes:
        last: The last record; None for an empty ledger.
        items: Serial to its state.
        pieces: Bag and piece to their count.
        faults: Number of the record to the fault.
        by_part: Part to the records of all faults of all its serials.
        by_run: Run to the numbers of its records.
    """

    last: Record | None = None
    items: dict[str, ItemState] = field(default_factory=lambda: defaultdict(ItemState))
    pieces: dict[Pieces, Count] = field(default_factory=lambda: defaultdict(Count))
    faults: dict[int, Fault] = field(default_factory=dict)
    by_part: dict[str, list[Record]] = field(default_factory=lambda: defaultdict(list))
    by_run: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))

    def item(self, serial: str) -> ItemState:
        """State of a serial; a fresh one where nothing was ever recorded, which is not kept."""
        return self.items[serial] if serial in self.items else ItemState()

    def count(self, bag: str, piece: str) -> Count:
        """Count of the pieces of a bag; an empty one where nothing was ever recorded."""
        return self.pieces[bag, piece] if (bag, piece) in self.pieces else Count()

    def take(self, record: Record) -> None:
        """Fold one more record in.

        Raises:
            ValueError: It does not follow the last one.
        """
        expected = self.last.number + 1 if self.last else 1
        if record.number != expected:
            raise ValueError(f"record {record.number} stands where {expected} should")
        self.last = record
        run = record.text("run")
        if run:
            self.by_run[run].append(record.number)
        if record.text("item"):
            self.items[record.text("item")].history.append(record.number)
        _FOLDS[record.act](self, record)


def fold(records: Iterable[Record]) -> Ledger:
    """The state after records.

    Args:
        records: From the first, in order.

    Raises:
        ValueError: One is missing.
    """
    ledger = Ledger()
    for record in records:
        ledger.take(record)
    return ledger


def _moved(ledger: Ledger, record: Record) -> None:
    if record.text("item"):
        _item_moved(ledger.items[record.text("item")], record)
        return
    count = ledger.pieces[record.text("bag"), record.text("piece")]
    count.history.append(record.number)
    step = record.whole("count")
    run = record.text("run")
    count.out[run] += step if record.act is Act.OUT else -step
    count.lost += step if record.act is Act.LOST else 0
    if not count.out[run]:
        del count.out[run]


def _item_moved(item: ItemState, record: Record) -> None:
    if record.act is Act.OUT:
        item.out, item.lost = record, None
    elif record.act is Act.IN:
        item.out, item.back = None, record
        item.times_in += 1
    else:
        item.out, item.lost = None, record


def _stocked(ledger: Ledger, record: Record) -> None:
    count = ledger.pieces[record.text("bag"), record.text("piece")]
    count.history.append(record.number)
    count.stocked += record.whole("count")


def _fault(ledger: Ledger, record: Record) -> None:
    fault = Fault(record)
    ledger.faults[record.number] = fault
    ledger.items[record.text("item")].faults.append(fault)
    ledger.by_part[record.text("part")].append(record)


def _mended(ledger: Ledger, record: Record) -> None:
    fault = ledger.faults[record.whole("fault")]
    fault.mended = record
    ledger.items[fault.record.text("item")].history.append(record.number)


def _accepted(ledger: Ledger, record: Record) -> None:
    fault = ledger.faults[record.whole("fault")]
    fault.accepted = record
    ledger.items[fault.record.text("item")].history.append(record.number)


def _check(ledger: Ledger, record: Record) -> None:
    item, code = ledger.items[record.text("item")], record.text("check")
    item.checks[code] = record
    if not record.body.get("passed", True):
        _fault(ledger, record)
        return
    for fault in item.faults:
        if fault.open and fault.record.text("check") == code:
            fault.mended = record


def _cycle(ledger: Ledger, record: Record) -> None:
    ledger.items[record.text("item")].cycles.append(record)


def _dried(ledger: Ledger, record: Record) -> None:
    ledger.items[record.text("item")].dried = record


def _cleaned(ledger: Ledger, record: Record) -> None:
    ledger.items[record.text("item")].cleaned = record


_FOLDS: dict[Act, Callable[[Ledger, Record], None]] = {
    Act.OUT: _moved,
    Act.IN: _moved,
    Act.LOST: _moved,
    Act.STOCKED: _stocked,
    Act.FAULT: _fault,
    Act.MENDED: _mended,
    Act.ACCEPTED: _accepted,
    Act.CHECK: _check,
    Act.CYCLE: _cycle,
    Act.DRIED: _dried,
    Act.CLEANED: _cleaned,
}
