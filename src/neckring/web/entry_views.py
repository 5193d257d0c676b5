"""Entries of the log book as others may see them."""

from __future__ import annotations

from neckring.live.entries import HIDDEN, Entry, Kind, Role
from neckring.live.run_records import RunState

_HIDDEN_WORDS = frozenset(kind.value for kind in HIDDEN)


def is_shown(entry: Entry, role: Role, state: RunState) -> bool:
    """Whether somebody may see an entry: a trainer's faults are hidden until the run is closed."""
    if role is Role.TRAINER or state.closed is not None:
        return True
    deed = entry.deed
    refused = deed.kind is Kind.REFUSED and deed.body.get("kind") in _HIDDEN_WORDS
    return deed.kind not in HIDDEN and not refused


def entry_as_json(entry: Entry) -> dict[str, object]:
    """An entry for programs; what it proves of the chain is in the export, not here."""
    deed, stamp = entry.deed, entry.stamp
    return {
        "number": entry.number,
        "kind": deed.kind.value,
        "actor": deed.actor,
        "role": deed.role.value,
        "device": deed.device,
        "key": deed.key,
        "body": dict(deed.body),
        "tapped_at": deed.tapped_at,
        "offset": deed.offset,
        "wall": stamp.wall,
        "run_time": stamp.run_time,
        "digest": entry.digest,
    }
