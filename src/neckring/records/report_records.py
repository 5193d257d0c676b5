"""What is known of a run once it is over: frozen records, data only, SI inside.

Times without another word are run time: seconds since the run was opened.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from neckring.live.drill import DrillReport
from neckring.live.entries import Head
from neckring.outing.findings import Plan

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Stretch:
    """From one time to another [s]."""

    begins: float
    ends: float

    @property
    def lasts(self) -> float:
        """How long [s]."""
        return self.ends - self.begins


@dataclass(frozen=True)
class StepFact:
    """One step against the kit's times.

    Attributes:
        procedure: Its code.
        number: As printed.
        words: As an order.
        lanes: Whose turn it took.
        on: The wearer it was done to; empty for nobody.
        meeting: Whether several wait for one another here.
        status: How far it came.
        begun: When its people were free for it; None where it was not done.
        done: When it was recorded; None where it was not done.
        took: Between the two, holds and stops left out [s]; None where it was not done.
        least: By the kit [s].
        likely: By the kit [s].
        most: By the kit [s].
        by: Code of who recorded it.
        confirmed_by: Codes of who checked it as well.
        measured: As read, in words.
        failures: How often the expected sign was not there.
    """

    procedure: str
    number: int
    words: str
    lanes: tuple[str, ...]
    on: str
    meeting: bool
    status: str
    begun: float | None
    done: float | None
    took: float | None
    least: float
    likely: float
    most: float
    by: str
    confirmed_by: tuple[str, ...]
    measured: str
    failures: int

    @property
    def late(self) -> float:
        """How much longer than the most of the kit [s]; 0 for a meeting, where people wait."""
        if self.took is None or self.meeting or self.most <= 0.0:
            return 0.0
        return max(0.0, self.took - self.most)


@dataclass(frozen=True)
class ProcedureFact:
    """One procedure of the day.

    Attributes:
        code: Of the procedure.
        title: As written.
        begun: When; None for never.
        ended: When; None for never.
        held: How long a hold or a stop lasted meanwhile [s].
        steps: Its steps in the order written.
    """

    code: str
    title: str
    begun: float | None
    ended: float | None
    held: float
    steps: tuple[StepFact, ...]


@dataclass(frozen=True)
class MeetingFact:
    """A meeting in a procedure: who came when.

    Attributes:
        procedure: Its code.
        number: Of the step.
        at: When it was recorded.
        arrived: Person to when they had done what they had to do before.
        last: Who came last.
    """

    procedure: str
    number: int
    at: float
    arrived: Mapping[str, float]
    last: str


@dataclass(frozen=True)
class WaitFact:
    """How long one wearer waited inside procedures.

    Attributes:
        wearer: A or B.
        waited: Time in which no step was theirs [s].
        closed: Of it with the face closed in [s].
        closed_stretches: When that was.
    """

    wearer: str
    waited: float
    closed: float
    closed_stretches: tuple[Stretch, ...]


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
class Deviation:
    """A step left out or moved, or something accepted all the same.

    Attributes:
        kind: "left out", "moved" or "accepted all the same".
        what: In words.
        by: Code.
        reason: In their words.
        shown: What the prover had shown would become possible.
        at: When.
    """

    kind: str
    what: str
    by: str
    reason: str
    shown: str
    at: float


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
class TurnBackFact:
    """Turn-back time of one wearer, three ways.

    Attributes:
        wearer: A or B.
        planned: Last time by the plan; None where it was not computed, or there is none.
        estimated: Low, middle, high by the live estimate before the way home began, or the last.
        called: When somebody called for it; None for never.
        home: When the first spell of the way home began; None for never.
    """

    wearer: str
    planned: float | None
    estimated: tuple[float | None, float | None, float | None] | None
    called: float | None
    home: float | None


@dataclass(frozen=True)
class SpellFact:
    """One spell as planned and as it was.

    Attributes:
        wearer: A or B.
        number: From 0.
        activity: Its word.
        place: Where it ends.
        away: Whether it leaves the places that the facility reaches.
        begun: When; None for never.
        ended: When the next began or the run ended; None for never.
        planned: As planned, shifted to the real first dressing; None without a plan.
    """

    wearer: str
    number: int
    activity: str
    place: str
    away: bool
    begun: float | None
    ended: float | None
    planned: Stretch | None


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


@dataclass(frozen=True)
class Exposure:
    """How long one wearer was in it.

    Attributes:
        wearer: A or B.
        suit: In the suit [s].
        closed: With the face closed in: no fresh air but what is brought to it [s].
        away: Away from what the facility reaches [s].
        pack: On air that only the pack's fans move [s].
    """

    wearer: str
    suit: float
    closed: float
    away: float
    pack: float


@dataclass(frozen=True)
class EstimateFact:
    """One live estimate.

    Attributes:
        wearer: A or B.
        at: When it was recorded.
        quantities: Name to low, middle, high [SI].
        turn_back: Low, middle, high [s]; None for none.
        binding: What binds, in words.
    """

    wearer: str
    at: float
    quantities: Mapping[str, tuple[float, float, float]]
    turn_back: tuple[float | None, float | None, float | None] | None
    binding: str


@dataclass(frozen=True)
class SensorFact:
    """One channel of one wearer.

    Attributes:
        wearer: A or B.
        channel: Its name in the suit's file.
        quantity: What it measures; empty where the suit's file does not have it any more.
        dimension: Of its readings.
        count: How many readings.
        good: How many without a flaw.
        flawed: Flaw to whether each reading bears it, shape (count,); only those that came.
        longest_gap: Longest time without a good reading, between the first and the last [s].
        time: Run time of each reading [s], shape (count,).
        value: Of each [SI], shape (count,).
        fine: Whether each is good, shape (count,).
    """

    wearer: str
    channel: str
    quantity: str
    dimension: str
    count: int
    good: int
    flawed: Mapping[str, BoolArray]
    longest_gap: float
    time: FloatArray
    value: FloatArray
    fine: BoolArray


@dataclass(frozen=True)
class FormFact:
    """A form that was filled in.

    Attributes:
        name: Which.
        wearer: A, B or nobody.
        lines: What was asked, and what was answered.
    """

    name: str
    wearer: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Provenance:
    """Where the report comes from.

    Attributes:
        version: Of neckring.
        command: As typed, without folders.
        head: Of the log book, verified from the first entry to the last.
        parts: File to digest, as the log book notes them.
        changed: Files written otherwise now than when the run was carried out.
        readings: Why there are no readings; empty where there are.
    """

    version: str
    command: str
    head: Head
    parts: Mapping[str, str]
    changed: tuple[str, ...]
    readings: str = ""


@dataclass(frozen=True, eq=False)
class RunReport:
    """Everything about a run.

    Attributes:
        station: Its name.
        invented: Whether its data are made up.
        rehearsal: Whether suits were simulated.
        runs: Letter to the code of the run.
        wearers: Letter to the code of the wearer.
        suits: Letter to the code of the suit.
        people: Code to part.
        opened: On the desk's clock, in the station's time zone; None while it was not.
        first_dressing: Run time of it; plans count from here.
        last: Run time of the last entry.
        closed: When; None when it was not.
        closed_why: Reason.
        restarts: How often the console came back.
        procedures: Of the day.
        meetings: In order.
        waits: Of each wearer.
        interruptions: Holds, stops, turn backs.
        deviations: In order.
        failed_steps: In order.
        refused: Deeds that the desk did not take.
        alarms: In order.
        calls: Of each wearer.
        symptoms: In order.
        notes: In order.
        cards: In order.
        clocks: Reserve clocks.
        turn_backs: Of each wearer.
        spells: As planned and as they were.
        exposures: Of each wearer.
        released: Wearer to who released them, and when.
        estimates: In order.
        sensors: Each channel.
        forms: That were filled in.
        drill: Faults of a rehearsal; None for a real run.
        plans: By letter; may be empty.
        provenance: Where it comes from.
    """

    station: str
    invented: bool
    rehearsal: bool
    runs: Mapping[str, str]
    wearers: Mapping[str, str]
    suits: Mapping[str, str]
    people: Mapping[str, str]
    opened: datetime | None
    first_dressing: float
    last: float
    closed: float | None
    closed_why: str
    restarts: int
    procedures: tuple[ProcedureFact, ...]
    meetings: tuple[MeetingFact, ...]
    waits: tuple[WaitFact, ...]
    interruptions: tuple[Interruption, ...]
    deviations: tuple[Deviation, ...]
    failed_steps: tuple[Happening, ...]
    refused: tuple[Happening, ...]
    alarms: tuple[AlarmFact, ...]
    calls: tuple[CallFact, ...]
    symptoms: tuple[Happening, ...]
    notes: tuple[Happening, ...]
    cards: tuple[CardFact, ...]
    clocks: tuple[ClockFact, ...]
    turn_backs: tuple[TurnBackFact, ...]
    spells: tuple[SpellFact, ...]
    exposures: tuple[Exposure, ...]
    released: Mapping[str, tuple[str, float]]
    estimates: tuple[EstimateFact, ...]
    sensors: tuple[SensorFact, ...]
    forms: tuple[FormFact, ...]
    drill: DrillReport | None
    plans: Mapping[str, Plan] = field(default_factory=dict)
    provenance: Provenance = field(
        default_factory=lambda: Provenance("", "", Head("", 0, ""), {}, ())
    )

    @property
    def letters(self) -> tuple[str, ...]:
        """Of the wearers."""
        return tuple(self.runs)

    def since(self, run_time: float) -> float:
        """From first dressing [s], as plans count."""
        return run_time - self.first_dressing
