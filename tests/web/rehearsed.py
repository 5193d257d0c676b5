"""A rehearsal of the demo as its command opens it, served at an address, and who taps at it."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from brokers import eventually
from console_clients import Line, NotAnsweredError
from console_here import wanted
from demo_day import LEAD, MEDIC, SECOND, TENDER, WELL, good_reading

from neckring.live.entries import Entry, Kind, Role
from neckring.live.sheet_steps import SheetStep
from neckring.live.turns import not_yet, steps_left
from neckring.served_run.making_ready import begin
from neckring.served_run.opening import Served, run_served
from neckring.served_run.shown import parts_of, trainer_of
from neckring.served_run.wanted import settings_of
from neckring.web.app import make_app
from neckring.web.serving import Serving, bound

SPEED = 20.0
PARTICLES = 64
"""As few as the estimate takes."""
PATIENCE = 180.0
"""[s]; on a busy machine: nothing here is about how fast it is."""
PARTS = {LEAD: Role.LEAD, TENDER: Role.TENDER, SECOND: Role.TENDER, MEDIC: Role.MEDIC}


@dataclass
class Rehearsed:
    """A rehearsal that is served.

    Attributes:
        served: Everything of it.
        port: Where it answers.
        pins: By part.
    """

    served: Served
    port: int
    pins: dict[Role, str]

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def entries(self, kind: Kind) -> list[Entry]:
        return [entry for entry in self.served.book.entries() if entry.deed.kind is kind]

    def until(self, holds: Callable[[], object], what: str) -> None:
        """Wait for something that comes by itself."""
        assert eventually(holds, PATIENCE), what

    @property
    def turn(self) -> SheetStep | None:
        """The first step whose turn it is."""
        state, sheet = self.served.desk.state, self.served.desk.sheet
        left = steps_left(state, sheet)
        return next((step for step in left if not not_yet(state, sheet, step)), None)


@dataclass
class Program:
    """The team's own program, paired by PIN: it taps by the interface that pages use."""

    rehearsed: Rehearsed
    person: str
    taps: int = 0

    def __post_init__(self) -> None:
        self.line = Line(self.rehearsed.port)
        sent = {
            "pin": self.rehearsed.pins[PARTS[self.person]],
            "person": self.person,
            "program": True,
        }
        self.token = self._post("pair", sent)["token"]

    def _post(self, path: str, sent: dict[str, object]) -> dict[str, Any]:
        text, token = json.dumps(sent).encode(), getattr(self, "token", "")
        try:
            status, told = self.line.post(path, text, token)
        except NotAnsweredError:
            # The server lets go of a line on which nothing was said for a while; the key is known.
            status, told = self.line.post(path, text, token)
        assert status in (200, 201), told
        return told

    def tap(self, kind: Kind, **body: object) -> dict[str, Any]:
        self.taps += 1
        sent = {"key": f"{self.person}-{self.taps}", "kind": kind.value, "body": body}
        return self._post("deeds", sent)

    def does(self, kind: Kind, **body: object) -> None:
        answer = self.tap(kind, **body)
        assert answer["status"] == "recorded", (kind, body, answer["why"])


@dataclass
class Crew:
    """Programs of everybody, for the steps that no page need show.

    Attributes:
        rehearsed: At which they tap.
        by: Person to program.
        otherwise: Why the lead lets a step count that the steps before do not allow; else empty.
    """

    rehearsed: Rehearsed
    by: dict[str, Program]
    otherwise: str = ""

    def step(self, step: SheetStep) -> None:
        """A step, by those whose it is."""
        body: dict[str, object] = {"procedure": step.procedure, "step": step.number}
        measured = {"measured": good_reading(step)} if step.reads is not None else {}
        doer = TENDER if step.who == "tender" else LEAD
        answer = self.by[doer].tap(Kind.STEP_DONE, **body, **measured)
        if answer["status"] == "refused":
            assert self.otherwise, (step.called, answer["why"])
            counts = {"accepts": True, "reason": self.otherwise}
            self.by[LEAD].does(Kind.STEP_DONE, **body, **measured, **counts)
        if step.two_people:
            self.by[SECOND].does(Kind.STEP_CONFIRMED, **body)

    def upto(self, last: Callable[[SheetStep], bool]) -> SheetStep:
        """Every step before the first of which something holds; returns that one."""
        while (step := self.rehearsed.turn) is not None and not last(step):
            self.step(step)
            self.answer_calls()
        assert step is not None, "there is no such step"
        return step

    def rest(self) -> None:
        """Every step that is left of the procedure."""
        while (step := self.rehearsed.turn) is not None:
            self.step(step)
            self.answer_calls()

    def whole(self, code: str) -> None:
        """A procedure from its begin to its end."""
        self.by[LEAD].does(Kind.PROCEDURE_BEGUN, procedure=code)
        self.rest()
        self.by[LEAD].does(Kind.PROCEDURE_ENDED, procedure=code)

    def spells(self, number: int) -> None:
        for letter in self.rehearsed.served.sheet.letters:
            self.by[LEAD].does(Kind.SPELL_BEGUN, wearer=letter, spell=number)

    def answer_calls(self) -> None:
        """Answer what is due; at this speed one may be missed between the look and the answer."""
        desk = self.rehearsed.served.desk
        for letter, call in desk.state.calls.items():
            if call.due <= desk.clock.run_time():
                self.by[MEDIC].tap(
                    Kind.CALL_ANSWERED, wearer=letter, call=call.number, answers=WELL
                )


@contextmanager
def rehearsed(kept: Path) -> Iterator[Rehearsed]:
    """Open a rehearsal at 20 times real time, serve it, and end it in order."""
    asked = wanted(kept, rehearsal=True, speed=SPEED, particles=PARTICLES)
    with ExitStack() as closing:
        served = closing.enter_context(run_served(asked))
        served.shown = parts_of(served, trainer_of(served))
        app = make_app(served.shown, settings_of(asked))
        serving = Serving(app, bound("127.0.0.1", 0))
        thread = threading.Thread(target=serving.run, daemon=True)

        def end() -> None:
            app.state.hub.close()
            serving.stop()
            thread.join(20.0)
            assert not thread.is_alive()

        served.keeper.start()
        thread.start()
        closing.callback(end)
        begin(served)
        yield Rehearsed(served, serving.port, app.state.admission.pins)
