"""From when on an item may go out again: dry first, then clean."""

from __future__ import annotations

from neckring.ledger.ledger_state import ItemState
from neckring.ledger.records import Record
from neckring.station.kit_items import Part


def ready_at(item: ItemState, part: Part) -> float | None:
    """Earliest time at which an item is dry and clean; None where nothing has to be waited for.

    Somebody's word that it is dry, or clean, counts more than the hours of the list.

    Args:
        item: What is known of it.
        part: What it is.

    Returns:
        Seconds since 1970.
    """
    if item.back is None or item.out is not None:
        return None
    dried, cleaned = _since(item.dried, item.back), _since(item.cleaned, item.back)
    if cleaned is not None:
        return None
    if part.dries_in is None and part.cleans_in is None:
        return None
    dry_at = item.back.at + (part.dries_in.nominal if part.dries_in else 0.0)
    if dried is not None:
        if part.cleans_in is None:
            return None
        dry_at = min(dry_at, dried.at)
    return dry_at + (part.cleans_in.nominal if part.cleans_in else 0.0)


def _since(record: Record | None, back: Record) -> Record | None:
    return record if record is not None and record.number > back.number else None
