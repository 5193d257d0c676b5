"""The demo's day at a desk: people who tap, clocks that are set by hand, a book in memory."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from pathlib import Path

from memory_book import MemoryBook

from neckring.live.desk import Desk
from neckring.live.entries import Answer, Deed, Entry, Json, Kind, Role, Stamp
from neckring.live.run_clock import Sources
from neckring.live.run_records import Done, RunState
from neckring.live.run_sheet import RunSheet, run_sheet
from neckring.live.sheet_steps import SheetStep
from neckring.live.turns import not_yet, steps_left
from neckring.station.loading import LoadedStation, load_station

DEMO = Path(str(files("neckring.station"))) / "demo"
LEAD, TENDER, SECOND, MEDIC, TRAINER = "L1", "T1", "T2", "M1", "R1"
ROLES = {
    LEAD: Role.LEAD,
    TENDER: Role.TENDER,
    SECOND: Role.TENDER,
    MEDIC: Role.MEDIC,
    TRAINER: Role.TRAINER,
}
WELL = {"How do you feel?": "well"}


@cache
def demo() -> LoadedStation:
    return load_station(DEMO)


@cache
def sheet(rehearsal: bool = False) -> RunSheet:
    return run_sheet(demo(), "floor-survey", "floor-partner", rehearsal=rehearsal)


@dataclass
class Hands:
    """Clocks that a test sets."""

    wall: float = 1_000_000.0
    monotonic: float = 500.0
    boot: str = "first start"

    def pass_time(self, seconds: float) -> None:
        self.wall += seconds
        self.monotonic += seconds

    @property
    def sources(self) -> Sources:
        return Sources(lambda: self.wall, lambda: self.monotonic, lambda: self.boot)


@dataclass
class Day:
    """A desk and those who tap at it."""

    hands: Hands = field(default_factory=Hands)
    book: MemoryBook = field(default_factory=MemoryBook)
    rehearsal: bool = False
    taps: int = 0

    def __post_init__(self) -> None:
        self.desk = Desk(self.book, sheet(self.rehearsal), self.hands.sources)

    @property
    def state(self) -> RunState:
        return self.desk.state

    @property
    def sheet(self) -> RunSheet:
        return self.desk.sheet

    def deed(self, who: str, kind: Kind, **body: Json) -> Deed:
        self.taps += 1
        role = ROLES[who]
        return Deed(
            f"{who}-{self.taps}", kind, who, role, f"tablet-{who}", body, self.hands.wall, 0.0
        )

    def tap(self, who: str, kind: Kind, **body: Json) -> Answer:
        return self.desk.take(self.deed(who, kind, **body))

    def does(self, who: str, kind: Kind, **body: Json) -> Answer:
        answer = self.tap(who, kind, **body)
        assert answer.status == "recorded", answer.why
        return answer

    def refused(self, who: str, kind: Kind, **body: Json) -> str:
        answer = self.tap(who, kind, **body)
        assert answer.status == "refused"
        assert answer.why
        return answer.why

    def opened(self) -> Day:
        assert self.desk.open_run().status == "recorded"
        return self

    def step_body(self, step: SheetStep) -> dict[str, Json]:
        body: dict[str, Json] = {"procedure": step.procedure, "step": step.number}
        if step.reads is not None:
            body["measured"] = good_reading(step)
        return body

    def done(self, step: SheetStep, seconds: float = 5.0) -> None:
        """A step done by the right people."""
        self.hands.pass_time(seconds)
        doer = TENDER if step.who == "tender" else LEAD
        self.does(doer, Kind.STEP_DONE, **self.step_body(step))
        if step.two_people:
            body: dict[str, Json] = {"procedure": step.procedure, "step": step.number}
            self.does(SECOND, Kind.STEP_CONFIRMED, **body)

    def next(self) -> SheetStep | None:
        """The first step whose turn it is."""
        return next(
            (step for step in steps_left(self.state, self.sheet) if self.is_turn(step)), None
        )

    def is_turn(self, step: SheetStep) -> bool:
        return not not_yet(self.state, self.sheet, step)

    def upto(self, number: int) -> Day:
        """Every step of the present procedure before a number."""
        while (step := self.next()) is not None and step.number < number:
            self.done(step)
        return self

    def begin(self, code: str) -> Day:
        self.does(LEAD, Kind.PROCEDURE_BEGUN, procedure=code)
        return self

    def whole(self, code: str) -> Day:
        """A procedure from its begin to its end, calls answered when they are due."""
        self.begin(code)
        while (step := self.next()) is not None:
            self.done(step)
            self.answer_calls()
        self.does(LEAD, Kind.PROCEDURE_ENDED, procedure=code)
        return self

    def answer_calls(self) -> None:
        for letter, call in self.state.calls.items():
            if call.due <= self.state.run_time:
                self.does(
                    MEDIC, Kind.CALL_ANSWERED, wearer=letter, call=call.number, answers=dict(WELL)
                )

    def again(self, **other: object) -> Desk:
        """The console comes back on the same book."""
        self.desk = Desk(self.book, sheet(self.rehearsal), self.hands.sources, **other)  # type: ignore[arg-type]
        return self.desk


def good_reading(step: SheetStep) -> dict[str, Json]:
    """What the instrument shows when all is well: the answer as written, or the bound itself."""
    assert step.reads is not None
    figure, unit = next(
        (f, u)
        for f, u in _figures(step.answer, step.reads.unit)
        if step.reads.passes(_si(step, f, u))
    )
    return {"value": figure, "unit": unit}


def _si(step: SheetStep, figure: str, unit: str) -> float:
    assert step.reads is not None
    return step.reads.read(figure, unit)


def _figures(answer: str, unit: str) -> Iterator[tuple[str, str]]:
    for word in answer.rstrip(".").split():
        if word.replace(".", "", 1).isdigit():
            yield word, unit


def status(day: Day, number: int) -> Done:
    return day.state.progress[day.state.procedure].of(number).status


def stamp_at(day: Day) -> Stamp:
    return day.desk.clock.stamp()


def kinds(entries: list[Entry]) -> Mapping[Kind, int]:
    counted: dict[Kind, int] = {}
    for entry in entries:
        counted[entry.deed.kind] = counted.get(entry.deed.kind, 0) + 1
    return counted
