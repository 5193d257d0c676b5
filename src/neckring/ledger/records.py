"""What is done with the kit: one frozen record for each deed, in the order in which they came."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

Value = str | float | int | bool
Body = Mapping[str, Value]


class Act(StrEnum):
    """What was done, with the keys of its body; `run` and `to` may be left out."""

    OUT = "out"
    """item, or bag, piece and count; run, to: code of who has it"""
    IN = "in"
    """the same; run"""
    LOST = "lost"
    """the same as what was out; words: it will not come back"""
    STOCKED = "stocked"
    """bag, piece, count; words: put into a bag, as a found or a new piece"""
    FAULT = "fault"
    """item, part, fault, severity, words"""
    MENDED = "mended"
    """fault: number of its record; words"""
    ACCEPTED = "accepted"
    """fault: number of its record; words: the lead flies with it"""
    CHECK = "check"
    """item, part, check; value [SI], text: as read; rule: as it stood"""
    CYCLE = "cycle"
    """item; charge [C] and voltage [V], which a battery gave from full to empty"""
    DRIED = "dried"
    """item"""
    CLEANED = "cleaned"
    """item"""


@dataclass(frozen=True)
class Record:
    """One deed.

    Attributes:
        number: From 1, without a gap.
        at: When it was done, seconds since 1970.
        by: Code of who did it.
        act: What.
        body: As its act demands.
    """

    number: int
    at: float
    by: str
    act: Act
    body: Body

    def text(self, key: str) -> str:
        """A text of the body; "" when it is not there."""
        value = self.body.get(key, "")
        return value if isinstance(value, str) else ""

    def whole(self, key: str) -> int:
        """A whole number of the body; 0 when it is not there."""
        value = self.body.get(key, 0)
        return int(value) if isinstance(value, int | float) else 0

    def figure(self, key: str) -> float | None:
        """A number of the body; None when it is not there."""
        value = self.body.get(key)
        return float(value) if isinstance(value, int | float) else None
