"""An alarm, and how urgent it is: frozen records, data only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Rank(IntEnum):
    """How urgent; a limit's action gives it: stop now, turn back, caution."""

    KNOW = 1
    ACT_SOON = 2
    ACT_AT_ONCE = 3

    @property
    def words(self) -> str:
        """As shown and spoken."""
        return {1: "Know", 2: "Act soon", 3: "Act at once"}[self.value]


@dataclass(frozen=True)
class Alarm:
    """Something that somebody must know.

    Attributes:
        key: Of its cause and wearer: the same cause raises no second one while it lasts.
        rank: How urgent.
        cause: Code in the list of alarms (docs/alarms.md).
        wearer: A, B, or empty.
        words: What is wrong, in one sentence.
        first_action: What to do first.
        also: What else the same cause shows, in words: no alarm of its own, and not hidden.
    """

    key: str
    rank: Rank
    cause: str
    wearer: str
    words: str
    first_action: str
    also: tuple[str, ...] = ()
