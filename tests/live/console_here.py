"""A console opened as its command opens it, served from a thread of the test; it can come back."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from console_clients import SOURCE_DIGEST, Tablet
from demo_day import DEMO

from neckring.live.entries import Role
from neckring.served_run.opening import Served, run_served
from neckring.served_run.shown import parts_of
from neckring.served_run.wanted import SESSIONS, Wanted, settings_of
from neckring.web.app import make_app
from neckring.web.console_parts import Kept
from neckring.web.serving import Serving, bound
from neckring.web.session_file import SessionFile

RUNS = ("floor-survey", "floor-partner")
PERSON = {Role.LEAD: "L1", Role.TENDER: "T1", Role.MEDIC: "M1", Role.TRAINER: "R1"}


def wanted(kept: Path, **other: object) -> Wanted:
    return replace(Wanted(DEMO, RUNS, kept, port=0, particles=0), **other)  # type: ignore[arg-type]


@dataclass
class ConsoleHere:
    """A console that is up.

    Attributes:
        served: Everything of it.
        port: Where it answers.
        pins: By part.
    """

    served: Served
    port: int
    pins: dict[Role, str]

    def tablet(self, name: str, role: Role = Role.TENDER) -> Tablet:
        return Tablet(self.port, name).pair(self.pins[role], PERSON[role])


def let_suits_send(kept: Path) -> None:
    """Draw a token for the tests' suits before the console is there."""
    kept.mkdir(parents=True, exist_ok=True)
    SessionFile(kept / SESSIONS).save(Kept(sources={"suits": SOURCE_DIGEST}))


@contextmanager
def console_here(asked: Wanted) -> Iterator[ConsoleHere]:
    """Open a console, serve it, and end it in order."""
    with ExitStack() as closing:
        served = closing.enter_context(run_served(asked))
        app = make_app(parts_of(served), settings_of(asked))
        here = bound("127.0.0.1", 0)
        serving = Serving(app, here)
        thread = threading.Thread(target=serving.run, daemon=True)

        def end() -> None:
            serving.stop()
            thread.join(20.0)
            assert not thread.is_alive()

        served.keeper.start()
        for source in served.sources:
            source.start()
        thread.start()
        closing.callback(end)
        yield ConsoleHere(served, serving.port, app.state.admission.pins)
