"""How the console is served: to whom it answers, and how much it takes."""

from __future__ import annotations

from dataclasses import dataclass, field

from neckring.live.sensors.senml import LONGEST_PACK

KIB = 1024


@dataclass(frozen=True)
class WebSettings:
    """What the command that starts the console decides.

    Attributes:
        names: Host names by which the console may be asked, beside plain addresses and localhost.
        opened: Whether the local network may ask from the start; else only this machine.
        most_body: A deed or a form may be so long [bytes].
        most_pack: A pack of readings may be so long [bytes].
        most_streams: So many pages may listen at once.
        most_sessions: So many devices may be paired at once.
        replay: Whether the run is finished and only looked at: nothing can be written.
    """

    names: frozenset[str] = field(default_factory=frozenset)
    opened: bool = False
    most_body: int = 16 * KIB
    most_pack: int = LONGEST_PACK
    most_streams: int = 64
    most_sessions: int = 64
    replay: bool = False
