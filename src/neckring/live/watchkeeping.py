"""The console's own clockwork: once a second it looks at everything, and has written what follows.

Threads of their own: one looks, since alarms and calls must never wait; one estimates, which takes
long; in a rehearsal one lets the simulated suits go on. Whatever fails in one of them is told as an
alarm or in the console's own log, and tried again.
"""

from __future__ import annotations

import logging
import shutil
import threading
from collections import deque
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from neckring.live.alarm import Rank
from neckring.live.alarm_facts import DeskNow
from neckring.live.alarm_standing import Standing
from neckring.live.alarms import Board, changes, judged, resumed
from neckring.live.desk import Desk
from neckring.live.entries import BookError, Stamp
from neckring.live.estimate_entry import estimate_deed
from neckring.live.estimated import Estimated
from neckring.live.run_records import RunState
from neckring.live.sensors.intake import Intake

if TYPE_CHECKING:
    from neckring.live.alarm_watch import AlarmWatch
    from neckring.live.chained_book import ReadableBook
    from neckring.live.estimating import Estimators, Past
    from neckring.live.rehearsing import Rehearsal

LOOK_EVERY = 1.0
"""[s]"""
REHEARSE_EVERY = 0.1
"""How often simulated suits send [s]: at 20 times real time every two seconds of the run."""
CLOCK_WATCHED = 300.0
"""So long a clock that was set is told of [s]."""
CLOCK_STEP = 2.0
"""A wall clock that jumps by more against the machine's was set [s]; less is its own slewing."""

NOT_WATCHED = (
    "Alarms are not watched yet: nobody but you judges readings, clocks and reserves at present."
)
"""As every page has it until they are."""
STOPS_WITHIN = 10.0
"""So long a thread that is to end is waited for [s]."""

_log = logging.getLogger(__name__)


class EndingError(Exception):
    """The console ends: what is being made ready is left."""


@dataclass
class WallClock:
    """Notices when somebody sets the wall clock."""

    _seen: deque[tuple[float, float]] = field(default_factory=deque)

    def set_by(self, stamp: Stamp) -> float:
        """By how much it was set within the time that is told of [s]; 0 when it was not."""
        self._seen.append((stamp.monotonic, stamp.wall - stamp.monotonic))
        while self._seen[0][0] < stamp.monotonic - CLOCK_WATCHED:
            self._seen.popleft()
        moved = self._seen[-1][1] - self._seen[0][1]
        return moved if abs(moved) > CLOCK_STEP else 0.0


@dataclass
class Watch:
    """Looks at everything once a second.

    Attributes:
        desk: Decides and writes.
        alarms: What is fixed about alarms; None until it is made ready.
        intake: Where readings come in.
        folder: Whose disk is watched.
        name: Of the run.
        warning: What is known against the database's version; empty for nothing.
        readings_fault: Why readings cannot be kept; empty when they can.
        rehearsal: In a rehearsal.
        estimates: The last ones, by wearer.
    """

    desk: Desk
    intake: Intake
    folder: Path
    name: str
    warning: str = ""
    alarms: AlarmWatch | None = None
    rehearsal: Rehearsal | None = None
    readings_fault: Callable[[], str] = lambda: ""
    estimates: Mapping[str, Estimated] = field(default_factory=dict)
    _heard: dict[str, float] = field(default_factory=dict)
    _wall: WallClock = field(default_factory=WallClock)
    _board: Board | None = None

    def heard(self, device: str, now: float) -> None:
        """Note that a tablet said something.

        Args:
            device: Its code.
            now: On the machine's clock [s].
        """
        self._heard[device] = now

    def troubles(self) -> tuple[str, ...]:
        """What is wrong with the console itself that no entry can say, in sentences."""
        told = []
        if self.alarms is None and self.desk.state.closed is None:
            told.append(NOT_WATCHED)
        if self.desk.fault:
            told.append(f"The log book cannot be written, nothing is recorded: {self.desk.fault}.")
        return tuple(told)

    def look(self) -> None:
        """Look once; nothing that goes wrong here ends the console."""
        with suppress(BookError):
            self.desk.tick()
        if self.alarms is not None:
            self._judge(self.alarms)

    def rehearse(self) -> None:
        """Let the simulated suits go on to now; nothing outside a rehearsal."""
        if self.rehearsal is not None and self.desk.state.closed is None:
            self.rehearsal.go_on(self.desk.state, self.desk.clock.stamp())

    def _judge(self, watch: AlarmWatch) -> None:
        state, stamp = self.desk.state, self.desk.clock.stamp()
        if state.closed is not None:
            return
        before = self._board or resumed(standing_of(state), stamp.run_time)
        latest = self.intake.latest(stamp.monotonic)
        desk = self._desk_now(state, stamp)
        after = judged(before, watch.facts(state, stamp.run_time, latest, self.estimates, desk))
        try:
            for deed in changes(before, after, self.name):
                self.desk.take(deed)
        except BookError:
            # The same changes are found again at the next look: the old board stays.
            self._board = before
        else:
            self._board = after

    def _desk_now(self, state: RunState, stamp: Stamp) -> DeskNow:
        disk = shutil.disk_usage(self.folder)
        silent = {
            device: stamp.monotonic - self._heard.setdefault(device, stamp.monotonic)
            for device in state.paired
        }
        return DeskNow(
            tablets=silent,
            book_error=self.desk.fault or self.readings_fault(),
            disk_free=float(disk.free),
            disk_size=float(disk.total),
            database_warning=self.warning,
            clock_set=self._wall.set_by(stamp),
        )


def standing_of(state: RunState) -> tuple[Standing, ...]:
    """Alarms that the log book says last."""
    return tuple(
        Standing(
            alarm.key,
            Rank(alarm.rank),
            alarm.cause,
            alarm.wearer,
            alarm.words,
            alarm.raised,
            alarm.acknowledged_by,
            alarm.acknowledged,
        )
        for alarm in state.alarms.values()
    )


class Watchkeeper:
    """The threads that look and estimate.

    Args:
        watch: What is looked at.
        every: How often [s].
    """

    def __init__(self, watch: Watch, every: float = LOOK_EVERY) -> None:
        self.watch = watch
        self._ending = threading.Event()
        self._gate = threading.Lock()
        turns = {"watch": (watch.look, every), "rehearsal": (watch.rehearse, REHEARSE_EVERY)}
        self._threads = [
            threading.Thread(target=self._again, args=turn, name=name, daemon=True)
            for name, turn in turns.items()
        ]

    def start(self) -> None:
        """Begin to look."""
        for thread in self._threads:
            thread.start()

    def estimate(
        self, made_ready: Callable[[], Estimators], book: ReadableBook, past: Past
    ) -> None:
        """Begin to estimate in a thread of its own, once all is made ready there.

        Args:
            made_ready: Makes the estimators; takes some seconds.
            book: The log book, to look at.
            past: Readings of the run so far.
        """
        thread = threading.Thread(
            target=self._estimate, args=(made_ready, book, past), name="estimate", daemon=True
        )
        thread.start()

    def end_soon(self) -> None:
        """Let every thread end at its next turn, without waiting for it."""
        self._ending.set()

    def go_on_or_end(self) -> None:
        """For what takes long: asked between two parts of it.

        Raises:
            EndingError: The console ends.
        """
        if self._ending.is_set():
            raise EndingError

    def stop(self) -> None:
        """End all, and wait for them; not for what is still being made ready: it wrote nothing."""
        with self._gate:
            self._ending.set()
            threads = tuple(self._threads)
        for thread in threads:
            if thread.is_alive() and thread is not threading.current_thread():
                thread.join(STOPS_WITHIN)

    def _again(self, turn: Callable[[], None], every: float) -> None:
        while not self._ending.wait(every):
            try:
                turn()
            except BookError as error:
                _log.warning("something was not recorded: %s", error)
            except Exception:
                # A fault of ours must not end the watch: alarms and calls would fall silent.
                _log.exception("a turn of the watch failed; the next one comes in %g s", every)

    def _estimate(
        self, made_ready: Callable[[], Estimators], book: ReadableBook, past: Past
    ) -> None:
        desk, watch = self.watch.desk, self.watch
        try:
            made = made_ready()
            made.catch_up(book.entries(), past, desk.clock.run_time(), self.go_on_or_end)
        except EndingError:
            return
        except Exception:
            _log.exception("the live estimate could not be made ready; there is none")
            return
        with self._gate:
            self._threads.append(threading.current_thread())
        last = -made.every
        while not self._ending.wait(0.2):
            now = desk.clock.stamp()
            if desk.state.closed is not None or now.run_time < last + made.every:
                continue
            last = now.run_time
            try:
                latest = watch.intake.latest(now.monotonic)
                watch.estimates = made.round(desk.state, latest, now.run_time)
                for estimated in watch.estimates.values():
                    desk.take(estimate_deed(estimated, watch.name))
            except BookError as error:
                _log.warning("an estimate was not recorded: %s", error)
            except Exception:
                _log.exception("a round of the live estimate failed; the next one goes on")
