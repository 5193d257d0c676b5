"""What somebody asks to have recorded, and what stands in the log book: frozen records, data only.

A `Deed` is what a person, or the desk itself, asks for: a tap. The desk decides; then an `Entry`
stands in the book, the deed itself or its refusal. A run's state is a pure fold over entries.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal, Protocol, TypeAlias

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"
Body: TypeAlias = Mapping[str, Json]

SCHEMA = 1
"""Version of the bodies below; a reader refuses an entry with a newer one."""


class Role(StrEnum):
    """In which part somebody acts."""

    LEAD = "lead"
    TENDER = "tender"
    MEDIC = "medic"
    TRAINER = "trainer"
    WALL = "wall"
    DESK = "desk"
    """The console itself: estimates, alarms, calls that were missed."""


class Kind(StrEnum):
    """What is recorded, with the keys of its body.

    A wearer is named by letter, A or B; a step by its procedure's code and its printed number. With
    accepts, true, and a reason the lead lets count what the console otherwise refuses. What the
    keys may hold is in `bodies.FORMS`.
    """

    RUN_OPENED = "run opened"
    """runs: [code for A, code for B]; sheet: digest of what is carried out; people: {code: role};
    parts: {file: digest}, to say later which was changed; boot: names the start of the machine"""
    RUN_CLOSED = "run closed"
    """reason; accepts"""
    PROCEDURE_BEGUN = "procedure begun"
    """procedure; reason, accepts"""
    PROCEDURE_ENDED = "procedure ended"
    """procedure; reason, accepts"""
    STEP_DONE = "step done"
    """procedure, step; measured: {value, unit} where the step measures; answer: as heard; reason,
    accepts"""
    STEP_CONFIRMED = "step confirmed"
    """procedure, step: the second person's check; never by who did it"""
    STEP_FAILED = "step failed"
    """procedure, step, what: the expected sign was not there"""
    STEP_LEFT_OUT = "step left out"
    """procedure, step, reason; shown: what the prover said would become possible; accepts"""
    STEP_MOVED = "step moved"
    """procedure, step, before: number of the step that it now precedes; reason, shown, accepts"""
    SPELL_BEGUN = "spell begun"
    """wearer, spell: number in the run's outing, from 0"""
    HOLD = "hold"
    """reason"""
    STOP = "stop"
    """reason, wearer: A, B or both"""
    RESUME = "resume"
    """reason: by the lead only"""
    TURN_BACK = "turn back"
    """wearer, reason"""
    CALL_ANSWERED = "call answered"
    """wearer, call: its number; answers: {question: answer}"""
    CALL_MISSED = "call missed"
    """wearer, call: by the desk"""
    SYMPTOM = "symptom"
    """wearer, words"""
    CARD_OPENED = "card opened"
    """card: code of an emergency procedure; wearer"""
    CARD_STEP_DONE = "card step done"
    """card, wearer, step"""
    CARD_CLOSED = "card closed"
    """card, wearer, reason"""
    ALARM_RAISED = "alarm raised"
    """alarm: its key; rank: 1 to 3; cause, wearer or nobody, words, first_action; also: [what else
    its cause shows]: by the desk"""
    ALARM_ACKNOWLEDGED = "alarm acknowledged"
    """alarm: its key"""
    ALARM_ENDED = "alarm ended"
    """alarm: its key; why, in words: by the desk"""
    ESTIMATE = "estimate"
    """wearer; for: run time; the numbers of one live estimate (`estimate_entry`): by the desk, each
    minute"""
    RELEASED = "released"
    """wearer, reason: by the medic, after the run"""
    NOTE = "note"
    """words; wearer or nobody"""
    PAIRED = "paired"
    """device, role, person"""
    UNPAIRED = "unpaired"
    """device"""
    FAULT_BEGUN = "fault begun"
    """rehearsal only, hidden from all but the trainer: wearer, fault, share: how bad, 0 to 1"""
    FAULT_ENDED = "fault ended"
    """rehearsal only: wearer, fault"""
    RESTARTED = "restarted"
    """the console came back; after: number of the last entry; boot: names the start of the machine;
    where files of the station were changed meanwhile also sheet, parts, changed: [files]"""
    REFUSED = "refused"
    """kind, body, why: a deed that the desk did not take; it keeps the deed's key"""


HIDDEN: frozenset[Kind] = frozenset({Kind.FAULT_BEGUN, Kind.FAULT_ENDED})
"""Seen by the trainer only until the run is closed."""


@dataclass(frozen=True)
class Deed:
    """What somebody asks to have recorded.

    Attributes:
        key: Made on the device that was tapped, unique for ever; sent again it records nothing new.
        kind: What it is.
        actor: Code of the person; "desk" for the console itself.
        role: In which part.
        device: Which tablet.
        body: As its kind demands.
        tapped_at: The device's clock at the tap, seconds since 1970; None for the desk.
        offset: What to add to the device's clock for the desk's [s], as measured; None if never.
    """

    key: str
    kind: Kind
    actor: str
    role: Role
    device: str
    body: Body
    tapped_at: float | None = None
    offset: float | None = None


@dataclass(frozen=True)
class Stamp:
    """When an entry was committed; rounded nowhere, so that one read back is the one written.

    Attributes:
        wall: The desk's clock, seconds since 1970; people may set it.
        monotonic: The machine's clock that nobody sets [s]; counts while it sleeps too.
        run_time: Since the run was opened [s]; faster than real time in a rehearsal, never back.
    """

    wall: float
    monotonic: float
    run_time: float


@dataclass(frozen=True)
class Entry:
    """One line of the log book.

    Attributes:
        number: From 1, without a gap.
        station: Which desk's chain it stands in.
        schema: Version of the body.
        deed: What was asked, or its refusal.
        stamp: When it was committed.
        previous: Digest of the entry before; of nothing for the first.
        digest: Of this entry with `previous`, hexadecimal.
    """

    number: int
    station: str
    schema: int
    deed: Deed
    stamp: Stamp
    previous: str
    digest: str


@dataclass(frozen=True)
class Head:
    """The end of a chain: what a second device keeps, since a cut tail does not show by itself.

    Attributes:
        station: Whose chain.
        count: Number of the last entry; 0 for an empty book.
        digest: Of the last entry.
    """

    station: str
    count: int
    digest: str


@dataclass(frozen=True)
class Answer:
    """What the desk answers to a deed, only once it is on disk.

    Attributes:
        status: "recorded"; "known" when the key stood there already; "refused".
        number: Of the entry.
        why: Why it was refused, in words for the person who tapped; else empty.
    """

    status: Literal["recorded", "known", "refused"]
    number: int
    why: str = ""


class LogBook(Protocol):
    """A log book: append-only, chained, one writer."""

    def append(self, deed: Deed, stamp: Stamp) -> Entry:
        """Write one entry and return once it is on disk.

        Raises:
            BookError: When it could not be written; then nothing was.
        """

    def find(self, key: str) -> Entry | None:
        """The entry with a deed's key."""

    def entries(self, after: int = 0) -> Iterator[Entry]:
        """Entries in order, from the one behind number `after`; each as verified at opening."""

    def head(self) -> Head:
        """The end of the chain."""

    def close(self) -> None:
        """Let go of the file or the connection."""


class BookError(Exception):
    """The book cannot be used, or an entry cannot be written; says where and why in words."""
