"""What is known of a run once it is over: frozen records, data only, SI inside.

Times without another word are run time: seconds since the run was opened.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from neckring.live.drill import DrillReport
from neckring.live.entries import Head
from neckring.outing.findings import Plan
from neckring.records.report_course_records import (
    EstimateFact,
    Exposure,
    SensorFact,
    SpellFact,
    TurnBackFact,
)
from neckring.records.report_event_records import (
    AlarmFact,
    CallFact,
    CardFact,
    ClockFact,
    Happening,
    Interruption,
)
from neckring.records.report_step_records import Deviation, MeetingFact, ProcedureFact, WaitFact


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
