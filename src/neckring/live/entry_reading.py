"""What one entry says of whom and when: shared by everything that folds entries."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from neckring.live.bodies import text_in
from neckring.live.entries import Deed, Entry
from neckring.live.run_records import Held
from neckring.live.run_sheet import RunSheet

Key = TypeVar("Key")
Value = TypeVar("Value")


def lateness(deed: Deed, wall: float) -> float | None:
    """How long ago a deed was tapped [s]; None when nobody tapped it.

    Less than nothing where the clocks of tablet and desk do not agree.

    Args:
        deed: As sent.
        wall: The desk's clock now.
    """
    if deed.tapped_at is None:
        return None
    return wall - (deed.tapped_at + (deed.offset or 0.0))


def held_by(entry: Entry) -> Held:
    """Who asked for it, why and when."""
    deed, stamp = entry.deed, entry.stamp
    return Held(
        deed.actor,
        text_in(deed.body, "reason"),
        stamp.run_time,
        stamp.monotonic,
        lateness(deed, stamp.wall),
        entry.number,
    )


def with_item(some: Mapping[Key, Value], key: Key, value: Value) -> dict[Key, Value]:
    """The same with one item more, or another in its place."""
    return {**some, key: value}


def without_item(some: Mapping[Key, Value], key: Key) -> dict[Key, Value]:
    """The same without one item."""
    return {each: value for each, value in some.items() if each != key}


def letter_of(entry: Entry, sheet: RunSheet) -> str:
    """The wearer an entry names; empty for nobody of the day."""
    letter = text_in(entry.deed.body, "wearer")
    return letter if letter in sheet.wearers else ""


def lasting_words(seconds: float) -> str:
    """A time in words: "45 s", "4 min 20 s", "1 h 5 min"."""
    whole = round(abs(seconds))
    minutes, rest = divmod(whole, 60)
    hours, left = divmod(minutes, 60)
    if hours:
        return f"{hours} h {left} min" if left else f"{hours} h"
    if minutes:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    return f"{rest} s"
