"""Which alarms stand in the log book, who acknowledged them, and which sound: a pure fold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from neckring.live.alarm import Rank
from neckring.live.entries import Entry, Kind


@dataclass(frozen=True)
class Standing:
    """One alarm as the log book has it.

    Attributes:
        key: Of the alarm.
        rank: The gravest since it was raised.
        cause: Code in the list of alarms.
        wearer: A, B, or empty.
        words: When it was raised, or got worse.
        raised: Run time [s].
        acknowledged_by: Code of the person; empty while nobody has.
        acknowledged: Run time [s]; None while nobody has.
        ended: Run time [s]; None while it lasts.
    """

    key: str
    rank: Rank
    cause: str
    wearer: str
    words: str
    raised: float
    acknowledged_by: str = ""
    acknowledged: float | None = None
    ended: float | None = None

    @property
    def sounds(self) -> bool:
        """Whether it makes itself heard: present and not acknowledged."""
        return self.ended is None and not self.acknowledged_by


def fold_alarm(standing: Mapping[str, Standing], entry: Entry) -> Mapping[str, Standing]:
    """The alarms after one entry; entries of other kinds change nothing.

    An alarm raised again, because it got worse or came back, is not acknowledged any more.

    Args:
        standing: By key.
        entry: Of the log book.
    """
    deed, body, now = entry.deed, entry.deed.body, entry.stamp.run_time
    key = str(body.get("alarm", ""))
    if deed.kind is Kind.ALARM_RAISED:
        return {**standing, key: _raised(key, entry)}
    if key not in standing:
        return standing
    if deed.kind is Kind.ALARM_ACKNOWLEDGED and not standing[key].acknowledged_by:
        heard = replace(standing[key], acknowledged_by=deed.actor, acknowledged=now)
        return {**standing, key: heard}
    if deed.kind is Kind.ALARM_ENDED:
        return {**standing, key: replace(standing[key], ended=now)}
    return standing


def _raised(key: str, entry: Entry) -> Standing:
    body = entry.deed.body
    rank = body.get("rank", Rank.ACT_AT_ONCE.value)
    return Standing(
        key,
        # A rank that cannot be read counts as the gravest.
        Rank(rank) if rank in (1, 2, 3) and isinstance(rank, int) else Rank.ACT_AT_ONCE,
        str(body.get("cause", "")),
        str(body.get("wearer", "")),
        str(body.get("words", "")),
        entry.stamp.run_time,
    )
