"""What happened in a run that is over: alarms, calls, clocks, cards, holds, things told.

Times without another word are run time: seconds since the run was opened.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Interruption:
    """A hold, a stop or a turn back.

    Attributes:
        kind: "hold", "stop" or "turn back".
        wearers: Whom it is about.
        by: Code of who called it.
        reason: In their words.
        at: When it was recorded.
        late: How long before that it was tapped [s]; None when not known.
        ended: When the run went on; None where it did not, and for a turn back.
        resumed_by: Code of who let it go on.
        resumed_why: In their words.
    """

    kind: str
    wearers: tuple[str, ...]
    by: str
    reason: str
    at: float
    late: float | None
    ended: float | None = None
    resumed_by: str = ""
    resumed_why: str = ""


@dataclass(frozen=True)
class Happening:
    """Something that somebody recorded: a failed step, a symptom, a note, a refused deed.

    Attributes:
        kind: Of the entry.
        wearer: A, B or nobody.
        by: Code.
        role: In which part.
        what: What it is about, in the house's words.
        words: In theirs.
        at: When.
        entry: Number.
    """

    kind: str
    wearer: str
    by: str
    role: str
    what: str
    words: str
    at: float
    entry: int


@dataclass(frozen=True)
class AlarmFact:
    """An alarm.

    Attributes:
        key: As in the log book.
        rank: 1 to know, 2 to act soon, 3 to act at once.
        cause: Code of the closed list.
        wearer: A, B or nobody.
        words: What was wrong.
        raised: When.
        acknowledged_by: Code; empty for nobody.
        acknowledged: When; None for never.
        ended: When its cause was gone; None for never.
    """

    key: str
    rank: int
    cause: str
    wearer: str
    words: str
    raised: float
    acknowledged_by: str = ""
    acknowledged: float | None = None
    ended: float | None = None


@dataclass(frozen=True)
class CallFact:
    """Symptom calls of one wearer.

    Attributes:
        wearer: A or B.
        answered: When each was.
        missed: When each was counted as missed.
    """

    wearer: str
    answered: tuple[float, ...]
    missed: tuple[float, ...]


@dataclass(frozen=True)
class ClockFact:
    """One running of a reserve clock.

    Attributes:
        code: As in station.yaml.
        wearer: A or B.
        words: What it counts.
        started: When.
        ended: When; None while the run was open.
        lasts: How long it may [s]; None where only plan or estimate say so.
        over: When it ran out, as its alarm has it or `lasts` says; None when it did not.
    """

    code: str
    wearer: str
    words: str
    started: float
    ended: float | None
    lasts: float | None
    over: float | None


@dataclass(frozen=True)
class CardFact:
    """An emergency card.

    Attributes:
        card: Its code.
        wearer: Who was in trouble.
        by: Code of who opened it.
        opened: When.
        steps: When each step was done, by number.
        closed: When; None for never.
    """

    card: str
    wearer: str
    by: str
    opened: float
    steps: Mapping[int, float]
    closed: float | None
