"""The clock of a run: run time that never goes back, whatever is done to the clocks below it.

Run time is counted on the machine's clock that nobody sets and that goes on while it sleeps. The
wall clock is noted beside it and used only where the machine itself was started anew, since
nothing else then knows how long that took.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from neckring.live.entries import Stamp

SLOWEST, FASTEST = 1.0, 20.0
BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


@dataclass(frozen=True)
class Sources:
    """Where time comes from.

    Attributes:
        wall: Seconds since 1970; people may set it.
        monotonic: Seconds since the machine started, those asleep too; nobody sets it.
        boot: Names this start of the machine; empty where the system does not say.
    """

    wall: Callable[[], float]
    monotonic: Callable[[], float]
    boot: Callable[[], str]


def machine_sources() -> Sources:
    """The machine's own clocks."""
    # Only this clock counts the time asleep; systems without it count it in their monotonic one.
    counted = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)
    return Sources(time.time, lambda: time.clock_gettime(counted), _boot)


def _boot() -> str:
    try:
        return BOOT_ID.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""


class RunClock:
    """Stamps of one run.

    Args:
        sources: Where time comes from.
        last: The last stamp in the book; None for a run that begins.
        boot: Start of the machine on which that stamp was made.
        speed: How many seconds of the run pass in one; more than 1 only in a rehearsal.
        counts_while_down: Whether the run went on while the console was not there: in a rehearsal
            the suits stop with it.
    """

    def __init__(
        self,
        sources: Sources,
        last: Stamp | None = None,
        boot: str = "",
        *,
        speed: float = 1.0,
        counts_while_down: bool = True,
    ) -> None:
        self._sources = sources
        self._lock = threading.Lock()
        self._speed = _checked(speed)
        self._anchor = sources.monotonic()
        self._latest = self._anchor
        self._base = self._run_time = 0.0
        self.unsure = False
        if last is not None:
            down = self._down(last, boot) if counts_while_down else 0.0
            self._base = self._run_time = last.run_time + down

    @property
    def boot(self) -> str:
        """Names this start of the machine."""
        return self._sources.boot()

    @property
    def speed(self) -> float:
        """How many seconds of the run pass in one."""
        return self._speed

    def set_speed(self, speed: float) -> None:
        """From now on the run goes on at another speed; a rehearsal's own business.

        Raises:
            ValueError: It is not from 1 to 20.
        """
        wanted = _checked(speed)
        with self._lock:
            self._base, self._anchor = self._now(), self._latest
            self._speed = wanted

    def stamp(self) -> Stamp:
        """Now."""
        with self._lock:
            return Stamp(self._sources.wall(), self._latest_monotonic(), self._now())

    def run_time(self) -> float:
        """Since the run was opened [s]."""
        with self._lock:
            return self._now()

    def _latest_monotonic(self) -> float:
        self._latest = max(self._latest, self._sources.monotonic())
        return self._latest

    def _now(self) -> float:
        passed = self._latest_monotonic() - self._anchor
        self._run_time = max(self._run_time, self._base + passed * self._speed)
        return self._run_time

    def _down(self, last: Stamp, boot: str) -> float:
        """How long the console was not there [s]; never less than nothing."""
        own = self._sources.boot()
        same = own == boot if own and boot else self._anchor >= last.monotonic
        if same and self._anchor >= last.monotonic:
            return self._anchor - last.monotonic
        # The machine was started anew: only the wall clock was there all the time.
        passed = self._sources.wall() - last.wall
        # It cannot have been less than the machine has been up since.
        self.unsure = True
        return max(passed, self._anchor, 0.0)


def _checked(speed: float) -> float:
    if not (math.isfinite(speed) and SLOWEST <= speed <= FASTEST):
        raise ValueError(f"a speed from {SLOWEST:g} to {FASTEST:g}, not {speed}")
    return speed
