"""What is remembered of a condition so that its alarm does not chatter.

It is raised once it has held for its time, and ends once it has been gone for its time. One that
came three times within ten minutes is unsteady: it then stays for five quiet minutes, so that even
an input that flaps for ever makes a bounded number of entries.

Source: delays before an alarm is raised and before it ends, and dead bands, as OPC UA part 9
(1.05), annex B.1.5, shows them by example; the times are practice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from neckring.live.alarm_holding import Condition, Holds
from neckring.live.alarm_list import LISTED

WINDOW = 600.0
TIMES = 3
QUIET = 300.0


@dataclass(frozen=True)
class Kept:
    """One condition through time.

    Attributes:
        condition: As it last stood; its words are those of when it last held.
        since: When it began to hold, while it may not count yet [s]; None while it does not hold.
        counts: Whether it counts: it is present for people.
        gone: Since when it has been gone while it still counts [s]; None otherwise.
        began: When it began to count, within the last ten minutes [s].
    """

    condition: Condition
    since: float | None = None
    counts: bool = False
    gone: float | None = None
    began: tuple[float, ...] = ()

    @property
    def unsteady(self) -> bool:
        """Whether it comes and goes."""
        return len(self.began) >= TIMES

    @property
    def lingers(self) -> float:
        """How long it must be gone before it ends [s]; what people do ends at once."""
        usual = LISTED[self.condition.code].lingers
        return QUIET if self.unsteady and usual > 0.0 else usual


def stepped(kept: Kept | None, condition: Condition, now: float) -> Kept:
    """What is remembered after one more look.

    Args:
        kept: Until now; None when it is new.
        condition: As it stands now.
        now: Run time [s], not less than at the look before.
    """
    before = kept or Kept(condition)
    began = tuple(time for time in before.began if now - time <= WINDOW)
    if condition.holds is Holds.YES:
        return _held(replace(before, condition=condition, began=began), now)
    if condition.holds is Holds.UNKNOWN:
        return replace(before, began=began, gone=None)
    if condition.holds is Holds.NEAR:
        return replace(before, began=began, gone=None, since=None)
    return _not_held(replace(before, began=began, since=None), now)


def _held(kept: Kept, now: float) -> Kept:
    since = now if kept.since is None else kept.since
    if kept.counts:
        return replace(kept, since=since, gone=None)
    if now - since < kept.condition.waits:
        return replace(kept, since=since)
    return replace(kept, since=since, counts=True, gone=None, began=(*kept.began, now))


def _not_held(kept: Kept, now: float) -> Kept:
    if not kept.counts:
        return kept
    gone = now if kept.gone is None else kept.gone
    if now - gone >= kept.lingers:
        return replace(kept, counts=False, gone=None)
    return replace(kept, gone=gone)
