"""What the closed list says of one alarm."""

from __future__ import annotations

from dataclasses import dataclass

from neckring.live.alarm import Rank

PRACTICE = "practice"
SHEET = "the signed limit sheet"
POLICY = "policy of the station"


@dataclass(frozen=True)
class Listed:
    """One alarm that can be.

    Attributes:
        code: Of its cause.
        family: Causes of one family and one subject share one alarm: it goes from one stage to the
            next without being raised anew.
        rank: How urgent; None when the action of the limit that is crossed says so.
        means: When it is raised, in words.
        first_action: What to do first.
        clears: What ends it.
        source: Where it comes from.
        waits: How long its cause must hold before it is raised [s]; a limit's own time where the
            sheet gives one.
        lingers: How long its cause must be gone before it ends [s].
    """

    code: str
    family: str
    rank: Rank | None
    means: str
    first_action: str
    clears: str
    source: str
    waits: float = 0.0
    lingers: float = 30.0


KNOW, SOON, AT_ONCE = Rank.KNOW, Rank.ACT_SOON, Rank.ACT_AT_ONCE
