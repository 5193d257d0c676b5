"""What calibration found: frozen records, data only, SI inside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from neckring.live.estimated import Band
from neckring.station.nodes import Step


@dataclass(frozen=True)
class Place:
    """Where a value stands in the station's files.

    Attributes:
        kind: Of the file: "suit", "wearer" or "kit".
        code: Of the suit, wearer or kit.
        path: Keys that lead to the value.
    """

    kind: str
    code: str
    path: tuple[Step, ...]


@dataclass(frozen=True)
class Proposal:
    """Text for one place of the files."""

    place: Place
    text: str


@dataclass(frozen=True)
class Correction:
    """One number, re-estimated.

    Attributes:
        words: What it is.
        of: Whose: "suit dipper", "wearer W1".
        dimension: In which it is told (`neckring.units`).
        written: As it stands in the file; empty when it stands nowhere.
        before: 90 % band before the runs.
        now: 90 % band after them.
        runs: On how many it stands.
        readings: On how many readings.
        says_more: Whether the runs say more than was known.
        proposals: For the files; none when nothing is proposed, or there is no key for it.
        note: What stands for it and against it.
    """

    words: str
    of: str
    dimension: str
    written: str
    before: Band
    now: Band
    runs: int
    readings: int
    says_more: bool
    proposals: tuple[Proposal, ...]
    note: str

    @property
    def proposed(self) -> str:
        """All that is proposed, in words; empty for nothing."""
        return " and ".join(one.text for one in self.proposals)


@dataclass(frozen=True)
class StepTime:
    """How long one move of a kit took.

    Attributes:
        kit: Code.
        move: Name.
        words: What is done.
        written: As it stands in the kit's file.
        number: Of times that count.
        runs: In how many runs they were taken.
        left_out: Why to how many that do not count.
        low: Fifth percentile [s]; None with too few.
        likely: Median [s]; None with too few.
        high: 95th percentile [s]; None with too few.
        band: 90 % band of the median [s]; an end that so few cannot give is None.
        says_more: Whether they say more than what is written.
        place: Where a proposal would be written.
        proposed: Text for the file; empty when nothing is proposed.
        note: What stands for it and against it.
    """

    kit: str
    move: str
    words: str
    written: str
    number: int
    runs: int
    left_out: Mapping[str, int]
    low: float | None
    likely: float | None
    high: float | None
    band: tuple[float | None, float | None]
    says_more: bool
    place: Place
    proposed: str
    note: str


@dataclass(frozen=True)
class DrillTime:
    """What drills offer for one time of a suit's help clock.

    Attributes:
        suit: Code.
        key: Of the suit's `help`.
        written: In force; empty when only assumed.
        number: Of drills that count.
        p50: [s]; None with too few drills.
        p90: [s]; None with too few drills.
        p90_band: Its 90 % band [s]; None for an end that so few cannot give.
        place: Where a proposal would be written.
        proposed: Text for the file; empty when nothing is proposed.
        note: What stands for it and against it.
    """

    suit: str
    key: str
    written: str
    number: int
    p50: float | None
    p90: float | None
    p90_band: tuple[float | None, float | None]
    place: Place
    proposed: str
    note: str


@dataclass(frozen=True)
class RunHeard:
    """What one wearer's part of a run gave.

    Attributes:
        name: Of the kept folder.
        run: Code.
        wearer: Code.
        suit: Code.
        minutes: Of run time learned from [min].
        readings: Good readings used.
        work: 90 % band of the work of that day over the work planned; None when none was read.
        left_out: Channel, or "run", to why nothing, or not all, is learned from it.
        settled: Whether the estimate came to rest.
    """

    name: str
    run: str
    wearer: str
    suit: str
    minutes: float
    readings: int
    work: Band | None
    left_out: Mapping[str, str]
    settled: bool


@dataclass(frozen=True)
class Calibration:
    """All that was found.

    Attributes:
        station: Its name.
        invented: Whether its data are made up.
        runs: What each gave.
        corrections: Of suits and wearers.
        steps: Of kits.
        drills: Of suits.
        cautions: What to know before anything is applied.
    """

    station: str
    invented: bool
    runs: tuple[RunHeard, ...]
    corrections: tuple[Correction, ...]
    steps: tuple[StepTime, ...]
    drills: tuple[DrillTime, ...]
    cautions: tuple[str, ...] = field(default=())

    def proposals(self) -> tuple[tuple[Place, str], ...]:
        """Every place with the text proposed for it."""
        of_numbers = [(p.place, p.text) for one in self.corrections for p in one.proposals]
        timed: tuple[StepTime | DrillTime, ...] = (*self.steps, *self.drills)
        return (*of_numbers, *((one.place, one.proposed) for one in timed if one.proposed))
