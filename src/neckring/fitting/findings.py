"""What is found when a wearer is held against a suit, and suits against one another."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from neckring.fitting.burden import Burden
from neckring.fitting.clearance import Clearance
from neckring.fitting.plausible import Unlikely
from neckring.fitting.population import Accepted

Outcome = Literal["try it on", "sore", "measure first", "too heavy", "does not fit"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
"""From best to worst; none of them is "fits", since only a trial with a fitter can say that."""


@dataclass(frozen=True)
class Setting:
    """One adjuster: what to begin with, and what was kept.

    Attributes:
        adjuster: Its code.
        words: What people call it.
        kind: "pad", "strap" or "size".
        position: Number of the suggested position, from 0.
        last: Number of its last position.
        value: Suggested setting [m].
        kept: Setting kept from the last trial [m]; None when there is none.
    """

    adjuster: str
    words: str
    kind: str
    position: int
    last: int
    value: float
    kept: float | None


@dataclass(frozen=True)
class Kept:
    """When settings were kept, and by whom.

    Attributes:
        noted: The day.
        by: Code.
        note: Words; may be empty.
        complete: Whether every adjuster has a kept setting.
        clearances: With those settings; by place, in the order of the suit's file.
    """

    noted: datetime.date
    by: str
    note: str
    complete: bool
    clearances: tuple[Clearance, ...]


@dataclass(frozen=True)
class SuitFit:
    """One wearer against one suit.

    Attributes:
        suit: Its code.
        name: Its name.
        torso: "rigid" or "soft".
        outcome: One of `OUTCOMES`.
        because: Why, in one sentence.
        clearances: With the suggested settings; the worst first.
        unmeasured: Places of which nothing is known, by their words.
        settings: What to begin with.
        kept: What was kept from the last trial; None when nothing was.
        burden: The load.
        reach: What the wearer must be able to reach in the closed suit.
        chance: That no place bars, as far as measures tell [1].
    """

    suit: str
    name: str
    torso: str
    outcome: Outcome
    because: str
    clearances: tuple[Clearance, ...]
    unmeasured: tuple[str, ...]
    settings: tuple[Setting, ...]
    kept: Kept | None
    burden: Burden
    reach: tuple[str, ...]
    chance: float


@dataclass(frozen=True)
class WearerFit:
    """One wearer against the suits of a station.

    Attributes:
        station: Its name.
        invented: Whether the data are made up.
        wearer: Code.
        suits: The best first.
        undescribed: Codes of suits that say nothing of their fit.
        unlikely: Measures that do not go with the others.
        accepted: By suit: shares of women and of men.
    """

    station: str
    invented: bool
    wearer: str
    suits: tuple[SuitFit, ...]
    undescribed: tuple[str, ...]
    unlikely: tuple[Unlikely, ...]
    accepted: Mapping[str, tuple[Accepted, ...]]
