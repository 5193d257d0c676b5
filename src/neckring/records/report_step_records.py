"""Steps, procedures and meetings of a run that is over: frozen records, data only, SI inside.

Times without another word are run time: seconds since the run was opened.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from neckring.records.report_course_records import Stretch


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
