"""What of a run is to be served, and how it is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from neckring.web.settings import WebSettings

LOG_BOOK = "log.sqlite"
READINGS = "readings.sqlite"
SESSIONS = "sessions.json"
RULES = "rules.json"
PARTICLES = 2000


@dataclass(frozen=True)
class Wanted:
    """What is served.

    Attributes:
        folder: The station's.
        runs: Code of the run of wearer A, and of B when two go.
        kept: Folder in which log book and readings lie.
        book: Address of a database for the log book; empty for a file in that folder.
        host: To listen on.
        port: To listen on.
        network: This machine's address on the local network; None to find it out.
        names: Host names by which the console may be asked.
        opened: Whether the local network may ask from the start.
        mqtt: Address of a broker; empty for none.
        serial: Wearer to serial port.
        straps: Wearer to address of a heart rate strap.
        particles: Of each wearer's estimate; 0 for none.
        seed: Of what is drawn.
        workers: Threads of the estimate.
        goes_on_changed: Whether the run goes on although station files were changed meanwhile.
        rehearsal: Whether suits are simulated.
        speed: Of a rehearsal.
        timeline: Faults of a rehearsal; None for those of the trainer only.
    """

    folder: Path
    runs: tuple[str, ...]
    kept: Path
    book: str = ""
    host: str = "127.0.0.1"
    port: int = 8070
    network: str | None = None
    names: frozenset[str] = frozenset()
    opened: bool = False
    mqtt: str = ""
    serial: Mapping[str, str] = field(default_factory=dict)
    straps: Mapping[str, str] = field(default_factory=dict)
    particles: int = PARTICLES
    seed: int = 1
    workers: int = 1
    goes_on_changed: bool = False
    rehearsal: bool = False
    speed: float = 1.0
    timeline: Path | None = None


def name_of(wanted: Wanted) -> str:
    """Of the run, in keys."""
    return "+".join(wanted.runs)


def settings_of(wanted: Wanted) -> WebSettings:
    """How it is served."""
    from neckring.web.settings import WebSettings

    return WebSettings(names=wanted.names, opened=wanted.opened)
