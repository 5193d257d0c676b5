"""The state of the kit as plain data and back: each record once, then by its number."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from neckring.ledger.ledger_state import Fault, ItemState, Ledger
from neckring.ledger.records import Act, Record

FORMAT = 1
"""Of this data; raised whenever it, or what a fold makes of a record, changes."""


def data_of(ledger: Ledger) -> dict[str, Any]:
    """A state as data that JSON can hold, with nothing lost.

    Args:
        ledger: The state.
    """
    spoken_of = {record.number: record for record in _records_of(ledger)}
    return {
        "records": [_record_data(spoken_of[number]) for number in sorted(spoken_of)],
        "last": _number(ledger.last),
        "faults": [
            [number, _number(fault.mended), _number(fault.accepted)]
            for number, fault in ledger.faults.items()
        ],
        "items": {serial: _item_data(item) for serial, item in ledger.items.items()},
        "pieces": [
            [*key, dict(count.out), count.lost, count.stocked, count.history]
            for key, count in ledger.pieces.items()
        ],
        "by_part": {part: [one.number for one in some] for part, some in ledger.by_part.items()},
        "by_run": dict(ledger.by_run),
    }


def ledger_from(data: Mapping[str, Any]) -> Ledger:
    """The state again.

    Args:
        data: As `data_of` makes it.

    Raises:
        ValueError, KeyError, TypeError, AttributeError: It is something else.
    """
    known = {record.number: record for record in map(_record_from, data["records"])}
    ledger = Ledger(last=_known(known, data["last"]))
    for number, mended, accepted in data["faults"]:
        ledger.faults[number] = Fault(known[number], _known(known, mended), _known(known, accepted))
    for serial, item in data["items"].items():
        ledger.items[serial] = _item_from(item, known, ledger.faults)
    for bag, piece, out, lost, stocked, history in data["pieces"]:
        count = ledger.pieces[bag, piece]
        count.out.update(out)
        count.lost, count.stocked, count.history = lost, stocked, history
    for part, numbers in data["by_part"].items():
        ledger.by_part[part] = [known[number] for number in numbers]
    ledger.by_run.update(data["by_run"])
    return ledger


def _records_of(ledger: Ledger) -> Iterable[Record]:
    """Every record that the state itself holds, some of them more than once."""
    if ledger.last:
        yield ledger.last
    for fault in ledger.faults.values():
        yield from _there(fault.record, fault.mended, fault.accepted)
    for item in ledger.items.values():
        yield from _there(item.out, item.back, item.lost, item.dried, item.cleaned)
        yield from (*item.checks.values(), *item.cycles)


def _there(*records: Record | None) -> Iterable[Record]:
    return (record for record in records if record is not None)


def _item_data(item: ItemState) -> list[Any]:
    return [
        [_number(one) for one in (item.out, item.back, item.lost, item.dried, item.cleaned)],
        item.times_in,
        {code: record.number for code, record in item.checks.items()},
        [record.number for record in item.cycles],
        [fault.record.number for fault in item.faults],
        item.history,
    ]


def _item_from(data: Any, known: Mapping[int, Record], faults: Mapping[int, Fault]) -> ItemState:  # noqa: ANN401 - whatever JSON a file holds
    last, times_in, checks, cycles, own, history = data
    out, back, lost, dried, cleaned = (_known(known, number) for number in last)
    return ItemState(
        out=out,
        back=back,
        lost=lost,
        times_in=times_in,
        dried=dried,
        cleaned=cleaned,
        checks={code: known[number] for code, number in checks.items()},
        cycles=[known[number] for number in cycles],
        faults=[faults[number] for number in own],
        history=history,
    )


def _record_data(record: Record) -> list[Any]:
    return [record.number, record.at, record.by, record.act.value, dict(record.body)]


def _record_from(data: Any) -> Record:  # noqa: ANN401 - whatever JSON a file holds
    number, at, by, act, body = data
    return Record(number, at, by, Act(act), body)


def _number(record: Record | None) -> int | None:
    return record.number if record else None


def _known(known: Mapping[int, Record], number: int | None) -> Record | None:
    return None if number is None else known[number]
