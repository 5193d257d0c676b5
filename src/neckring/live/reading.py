"""One reading of one sensor, and what may be wrong with it: frozen records, data only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Flaw(StrEnum):
    """Why a reading is shown as such and never used silently."""

    STALE = "stale"
    FROZEN = "frozen"
    IMPOSSIBLE = "impossible"
    JUMPED = "jumped"
    UNIT = "unit mistaken"
    CLOCK = "clock off"


@dataclass(frozen=True)
class Reading:
    """One value of one channel.

    Attributes:
        wearer: A or B.
        channel: Its name in the suit's file.
        value: In SI as the quantity demands (degC for temperatures, 1/s for heart rate).
        source_time: The sensor's own clock, seconds since 1970; None when it sends none.
        received: The desk's monotonic clock at arrival [s].
        run_time: Since the run was opened [s], at arrival.
        flaws: What is wrong with it; empty for a good one.
    """

    wearer: str
    channel: str
    value: float
    source_time: float | None
    received: float
    run_time: float
    flaws: frozenset[Flaw] = frozenset()

    @property
    def good(self) -> bool:
        """Whether it may be used."""
        return not self.flaws
