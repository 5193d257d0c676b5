"""What the pages and the interface need of the console: filled by the command that starts it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from neckring.live.consequences import Consequences
from neckring.live.entries import Answer, Deed, Entry, Stamp
from neckring.live.estimated import Estimated
from neckring.live.reading import Reading
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.sensors.channels import Wired
from neckring.web.pairing import Session

if TYPE_CHECKING:
    from neckring.live.fault_catalogue import Breakable


class Clock(Protocol):
    """The desk's clocks."""

    @property
    def speed(self) -> float:
        """How many seconds of the run pass in one."""

    def stamp(self) -> Stamp:
        """Now."""


class Desk(Protocol):
    """The one place that decides on deeds and writes them down; or a finished run, looked at."""

    @property
    def state(self) -> RunState:
        """The run as it stands."""

    @property
    def clock(self) -> Clock:
        """Its clocks."""

    def take(self, deed: Deed) -> Answer:
        """Decide on a deed, write it or its refusal, and return once that is on disk.

        Raises:
            BookError: It could not be written; nothing was.
        """

    def ask(self, step: int, before: int | None = None) -> Consequences | None:
        """What becomes possible when a step is left out or moved; None when it cannot be."""

    def listen(self, listener: Callable[[Entry, RunState], None]) -> Callable[[], None]:
        """Be told of every entry once it is on disk, by the thread that wrote it."""


class Book(Protocol):
    """The log book, to look at."""

    def entries(self, after: int = 0) -> Iterator[Entry]:
        """Entries in order, from the one behind number `after`."""


class Intake(Protocol):
    """Where readings come in."""

    wired: Mapping[str, Wired]

    def wearer_of(self, who: str) -> str | None:
        """The wearer whom a letter, or the code of a suit, means; None for nobody."""

    def take(self, wearer: str, pack: bytes, received: Stamp) -> Sequence[Reading]:
        """Take in a SenML pack.

        Raises:
            MessageError: It is no pack that is understood; nothing of it was taken.
        """

    def latest(self, now: float) -> Mapping[str, Mapping[str, Reading]]:
        """The last reading of each channel, by wearer and channel."""


@dataclass(frozen=True)
class Kept:
    """What a restart must not undo.

    Attributes:
        sessions: Paired devices.
        sources: Sources of readings, each with the digest of its token.
        opened: Whether the local network may ask.
    """

    sessions: tuple[Session, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)
    opened: bool = False


class Keeper(Protocol):
    """Where it is kept who may, so that a restart unpairs nobody."""

    def load(self) -> Kept:
        """What was kept."""

    def save(self, kept: Kept) -> None:
        """Keep this and nothing else."""


class NotKept:
    """For a console that is only looked at."""

    def load(self) -> Kept:
        """Nothing."""
        return Kept()

    def save(self, kept: Kept) -> None:
        """Nothing."""


@dataclass(frozen=True)
class Score:
    """How one fault of a rehearsal was met.

    Attributes:
        wearer: A or B.
        fault: In words.
        begun: Run time [s].
        noticed_by: Code of the person, or what noticed it first; empty for nobody yet.
        noticed: After how long [s]; None for not yet.
        acted: First action, after how long [s]; None for not yet.
        relieved: Fresh air or relief, after how long [s]; None for not yet.
        help: What the help clock had [s]; None where it says nothing.
    """

    wearer: str
    fault: str
    begun: float
    noticed_by: str = ""
    noticed: float | None = None
    acted: float | None = None
    relieved: float | None = None
    help: float | None = None


@dataclass(frozen=True)
class Trainer:
    """What only the trainer sees, in a rehearsal.

    Attributes:
        faults: What may be broken now.
        scores: How what was broken so far was met.
    """

    faults: Callable[[], Sequence[Breakable]]
    scores: Callable[[], Sequence[Score]] = tuple


def _no_estimates() -> Mapping[str, Estimated]:
    return {}


def _no_history(wearer: str, channel: str) -> Sequence[tuple[float, float | None]]:
    return ()


@dataclass
class ConsoleParts:
    """The console behind the pages.

    Attributes:
        desk: Decides and writes.
        book: What was written.
        sheet: What is carried out today.
        intake: Where readings come in; None for a console without sensors.
        estimates: The last live estimate by wearer.
        history: Readings of a channel so far: run time [s] and value [SI], None at a gap.
        keep_readings: Called with what came in by HTTP, to be kept with all others.
        heard: Told of each device whenever it says something: code, monotonic time [s].
        troubles: What is wrong with the console itself that no entry can say, in sentences.
        trainer: In a rehearsal.
        keeper: Where it is kept who may.
        cautions: That every page on which people act carries.
        version: Of neckring.
    """

    desk: Desk
    book: Book
    sheet: RunSheet
    intake: Intake | None = None
    estimates: Callable[[], Mapping[str, Estimated]] = _no_estimates
    history: Callable[[str, str], Sequence[tuple[float, float | None]]] = _no_history
    keep_readings: Callable[[Sequence[Reading]], None] = lambda readings: None
    heard: Callable[[str, float], None] = lambda device, now: None
    troubles: Callable[[], tuple[str, ...]] = tuple
    trainer: Trainer | None = None
    keeper: Keeper = field(default_factory=NotKept)
    cautions: tuple[str, ...] = ()
    version: str = ""

    @property
    def clock(self) -> Clock:
        """The desk's clocks."""
        return self.desk.clock
