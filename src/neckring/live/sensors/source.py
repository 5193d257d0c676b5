"""What every source of readings is: a thread that hands readings over, and says how it is."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from neckring.live.entries import Stamp
from neckring.live.reading import Reading
from neckring.live.sensors.intake import Intake
from neckring.live.sensors.record import MessageError, Record
from neckring.live.sensors.senml import parse_pack

Deliver = Callable[[list[Reading]], None]
Clock = Callable[[], Stamp]

END_WITHIN = 5.0
"""[s] that a source's thread may take to end."""


@dataclass(frozen=True)
class Link:
    """How a source is.

    Attributes:
        source: What it is, in words: "MQTT broker at 10.0.0.2:1883".
        connected: Whether readings can come.
        trouble: What is wrong, or was last; empty when nothing ever was.
    """

    source: str
    connected: bool
    trouble: str = ""


class SourceError(Exception):
    """A source that cannot even be begun: wrong address, missing extra; in words for people."""


class Source:
    """A source of readings; each kind says in `run` how it gets them."""

    def __init__(self, words: str, intake: Intake, deliver: Deliver, clock: Clock) -> None:
        """Be ready; nothing is opened before `start`.

        Args:
            words: What it is.
            intake: Where its records are placed and judged.
            deliver: Gets the readings, on the source's thread; must not take long.
            clock: Stamps of now.
        """
        self._words = words
        self.intake = intake
        self._deliver = deliver
        self.clock = clock
        self.ending = threading.Event()
        self._link = Link(words, connected=False)
        self._thread = threading.Thread(target=self._run, name=words, daemon=True)

    @property
    def link(self) -> Link:
        """How it is now."""
        return self._link

    def start(self) -> None:
        """Begin to listen; it goes on by itself, also after the link was lost."""
        self._thread.start()

    def stop(self) -> None:
        """End, and wait for the thread."""
        self.ending.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(END_WITHIN)
        self.disconnected()

    def run(self) -> None:
        """Get readings until `ending` is set."""
        raise NotImplementedError

    def connected(self) -> None:
        """Note that readings can come."""
        self._link = Link(self._words, connected=True, trouble=self._link.trouble)

    def disconnected(self, trouble: str = "") -> None:
        """Note that none can."""
        self._link = Link(self._words, connected=False, trouble=trouble or self._link.trouble)

    def take_pack(self, who: str, pack: bytes) -> None:
        """Take in a SenML pack; what cannot be read is told, not raised."""
        received = self.clock()
        try:
            readings = self.intake.take(who, pack, received)
        except MessageError as refused:
            self.intake.tell(who, "", str(refused), received)
            return
        self.hand_over(readings)

    def take_renamed(self, who: str, pack: bytes, name: str) -> None:
        """Take in a pack whose records are all known by one name: that of their topic."""
        received = self.clock()
        try:
            records = parse_pack(pack, self.intake.wall_at(received)).records
        except MessageError as refused:
            self.intake.tell(who, name, str(refused), received)
            return
        renamed = [Record(name, r.value, r.unit, r.time, r.relative) for r in records]
        self.hand_over(self.intake.place(who, renamed, received))

    def take_records(self, who: str, records: Iterable[Record]) -> None:
        """Take in records with plain units."""
        self.hand_over(self.intake.place(who, records, self.clock(), registry=False))

    def hand_over(self, readings: list[Reading]) -> None:
        """Deliver what came of a message; whoever gets it must not stop the source."""
        if not readings:
            return
        try:
            self._deliver(readings)
        except Exception as failed:
            self._link = Link(self._words, self._link.connected, f"not delivered: {failed!r}")

    def _run(self) -> None:
        try:
            self.run()
        except Exception as failed:
            self.disconnected(f"ended by a fault of its own: {failed!r}")
