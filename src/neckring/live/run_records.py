"""What a run's state is made of: frozen records, data only, SI inside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from neckring.live.entries import Body
from neckring.procedure.model import State


class Done(StrEnum):
    """How far a step has come."""

    OPEN = "open"
    FAILED = "failed"
    TO_CONFIRM = "to be confirmed"
    DONE = "done"
    LEFT_OUT = "left out"


@dataclass(frozen=True)
class StepRecord:
    """What is known of one step.

    Attributes:
        status: How far it has come.
        by: Who recorded it last, as done, failed or left out.
        run_time: When [s].
        confirmed_by: Who checked it as well.
        measured: What was read, in words; empty when nothing was.
        failures: How often the sign was not there.
        what: What was not right, or why it was left out.
    """

    status: Done = Done.OPEN
    by: str = ""
    run_time: float = 0.0
    confirmed_by: tuple[str, ...] = ()
    measured: str = ""
    failures: int = 0
    what: str = ""

    @property
    def past(self) -> bool:
        """Whether the lane has gone on from it."""
        return self.status in (Done.DONE, Done.LEFT_OUT)


NOTHING_YET = StepRecord()


@dataclass(frozen=True)
class Progress:
    """How far one procedure has come.

    Attributes:
        order: Numbers of its steps in the order that now counts.
        steps: What is known of those that were touched.
        begun: When [s].
        ended: When [s]; None while it runs.
    """

    order: tuple[int, ...]
    begun: float
    steps: Mapping[int, StepRecord] = field(default_factory=dict)
    ended: float | None = None

    def of(self, number: int) -> StepRecord:
        """What is known of a step."""
        return self.steps.get(number, NOTHING_YET)


@dataclass(frozen=True)
class Held:
    """A hold, a stop, a turn back, a release: who called it, and when.

    Attributes:
        by: Code of the person.
        reason: In their words; may be empty.
        run_time: When it was recorded [s].
        monotonic: The same on the machine's clock [s].
        late: How long before it had been tapped [s]; None when that is not known.
        entry: Number of the entry.
    """

    by: str
    reason: str
    run_time: float
    monotonic: float
    late: float | None
    entry: int


@dataclass(frozen=True)
class Stopped(Held):
    """A stop.

    Attributes:
        wearers: Whom it stops.
    """

    wearers: frozenset[str] = frozenset()


@dataclass(frozen=True)
class SpellNow:
    """Which spell of the outing a wearer is in.

    Attributes:
        number: From 0.
        begun: When [s].
    """

    number: int
    begun: float


@dataclass(frozen=True)
class CallNow:
    """Symptom calls of one wearer.

    Attributes:
        number: Of the call that comes next, or is due.
        due: When [s].
        answered: How many were.
        missed: How many in a row were not, until now.
        missed_ever: How many were not.
        last_answered: When one was [s]; None for never.
        answers: The last ones, by question.
    """

    number: int
    due: float
    answered: int = 0
    missed: int = 0
    missed_ever: int = 0
    last_answered: float | None = None
    answers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class SymptomTold:
    """A symptom.

    Attributes:
        wearer: A or B.
        words: As told.
        by: Who recorded it.
        run_time: When [s].
        entry: Number of the entry.
    """

    wearer: str
    words: str
    by: str
    run_time: float
    entry: int


@dataclass(frozen=True)
class OpenCard:
    """An emergency card that is open.

    Attributes:
        card: Its code.
        wearer: Who is in trouble.
        by: Who opened it.
        opened: When [s].
        done: Number of each step done, and when [s].
    """

    card: str
    wearer: str
    by: str
    opened: float
    done: Mapping[int, float] = field(default_factory=dict)


@dataclass(frozen=True)
class AlarmNow:
    """An alarm that lasts.

    Attributes:
        key: Of its cause and wearer.
        rank: 1 know, 2 act soon, 3 act at once.
        cause: Code in the list of alarms.
        wearer: A, B or empty.
        words: What is wrong.
        first_action: What to do first.
        also: What else the same cause shows.
        raised: When [s].
        monotonic: The same on the machine's clock [s].
        acknowledged_by: Code of the person; empty while nobody did.
        acknowledged: When [s]; None while nobody did.
    """

    key: str
    rank: int
    cause: str
    wearer: str
    words: str
    first_action: str
    also: tuple[str, ...]
    raised: float
    monotonic: float
    acknowledged_by: str = ""
    acknowledged: float | None = None


@dataclass(frozen=True)
class Pairing:
    """A device that may write.

    Attributes:
        role: In which part.
        person: Code; empty for a wall.
        run_time: Since when [s].
    """

    role: str
    person: str
    run_time: float


@dataclass(frozen=True)
class ClockNow:
    """A reserve clock.

    Attributes:
        started: When it started last [s].
        ended: When it ended [s]; None while it runs.
    """

    started: float
    ended: float | None = None


@dataclass(frozen=True)
class EstimateNow:
    """The last live estimate of one wearer.

    Attributes:
        body: As written.
        run_time: When [s].
    """

    body: Body
    run_time: float


@dataclass(frozen=True)
class FaultNow:
    """A fault that the trainer has put in; hidden from all others.

    Attributes:
        share: How much of it.
        run_time: Since when [s].
    """

    share: float
    run_time: float


@dataclass(frozen=True)
class RunState:
    """A run as it stands: what the entries of its log book add up to.

    Attributes:
        number: Of the last entry; 0 for none.
        run_time: Of the last entry [s].
        kit: State of the day's kit, as the steps recorded have it.
        opened: When, on the desk's clock; None while it is not.
        closed: When [s]; None while it is open.
        sheet: Digest of what is carried out, as noted last.
        parts: Its files and their digests, as noted last.
        changed: Files that were changed while the run was open.
        boot: Of the machine on which the last opening or restart was.
        restarts: How often the console came back.
        procedure: Code of the one that runs; empty for none.
        progress: Of those that have begun.
        hold: None when nothing is held.
        stops: Those that count, the first first; none when nothing is stopped.
        turned_back: By wearer.
        spells: By wearer.
        calls: By wearer.
        symptoms: The last ones.
        symptoms_told: How many in all.
        cards: Those open, by card and wearer.
        alarms: Those that last, by key.
        paired: Devices that may write.
        clocks: Reserve clocks that have started, by code and wearer.
        released: By wearer.
        estimates: The last one of each wearer.
        faults: Rehearsal only, by wearer and fault.
        refused: How many deeds were not taken.
    """

    kit: State
    number: int = 0
    run_time: float = 0.0
    opened: float | None = None
    closed: float | None = None
    sheet: str = ""
    parts: Mapping[str, str] = field(default_factory=dict)
    changed: tuple[str, ...] = ()
    boot: str = ""
    restarts: int = 0
    procedure: str = ""
    progress: Mapping[str, Progress] = field(default_factory=dict)
    hold: Held | None = None
    stops: tuple[Stopped, ...] = ()
    turned_back: Mapping[str, Held] = field(default_factory=dict)
    spells: Mapping[str, SpellNow] = field(default_factory=dict)
    calls: Mapping[str, CallNow] = field(default_factory=dict)
    symptoms: tuple[SymptomTold, ...] = ()
    symptoms_told: int = 0
    cards: Mapping[tuple[str, str], OpenCard] = field(default_factory=dict)
    alarms: Mapping[str, AlarmNow] = field(default_factory=dict)
    paired: Mapping[str, Pairing] = field(default_factory=dict)
    clocks: Mapping[tuple[str, str], ClockNow] = field(default_factory=dict)
    released: Mapping[str, Held] = field(default_factory=dict)
    estimates: Mapping[str, EstimateNow] = field(default_factory=dict)
    faults: Mapping[tuple[str, str], FaultNow] = field(default_factory=dict)
    refused: int = 0

    def counted(self, number: int, run_time: float) -> RunState:
        """The same after one more entry.

        Every entry of a long book comes by here, and `replace` would take most of the time.
        """
        after = object.__new__(RunState)
        after.__dict__.update(self.__dict__, number=number, run_time=run_time)
        return after

    @property
    def stopped(self) -> frozenset[str]:
        """Wearers who are stopped."""
        return frozenset().union(*(stop.wearers for stop in self.stops))
