"""The desk: takes deeds one at a time, writes them down, and answers only once they are on disk."""

from __future__ import annotations

import hashlib
import logging
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from neckring.live.bodies import (
    DEVICE,
    KEY,
    body_fault,
    kept_body,
    key_fault,
    mended_stop,
    text_in,
    whole_in,
)
from neckring.live.calls import missed_calls
from neckring.live.consequences import Consequences
from neckring.live.deciding import decide
from neckring.live.entries import (
    Answer,
    Body,
    BookError,
    Deed,
    Entry,
    Json,
    Kind,
    LogBook,
    Role,
    Stamp,
)
from neckring.live.reserve_clocks import clock_alarms
from neckring.live.rest_of_day import still_to_do
from neckring.live.run_clock import RunClock, Sources
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.run_state import first_state, fold
from neckring.live.step_deciding import failed_reading
from neckring.station.fault import listed

Listener = Callable[[Entry, RunState], None]
Watch = Callable[[RunState, RunSheet, float], Iterable[Deed]]

DESK = "desk"
UNKNOWN = "unknown"
TIMERS: tuple[Watch, ...] = (missed_calls, clock_alarms)

_log = logging.getLogger(__name__)


class SheetChangedError(BookError):
    """What is carried out was changed while the run was open.

    Attributes:
        files: Those that changed.
    """

    def __init__(self, files: tuple[str, ...]) -> None:
        self.files = files
        what = listed(files, "and") if files else "who wears what, or whether it is a rehearsal"
        super().__init__(
            f"since this run was opened there was changed: {what}. Put it back as it was, or say "
            "explicitly that the run goes on with what stands there now"
        )


class OtherRunError(BookError):
    """The book is of another run."""


class Desk:
    """One run's desk.

    Every deed is judged, written and counted under one lock, so that the order of the book is the
    order in which everything was judged. Only then does anybody get an answer.

    Attributes:
        fault: Why the log book could not be used the last time, in words; empty when it could.

    Args:
        book: Where it is written down; verified when it was opened.
        sheet: What is carried out.
        sources: Where time comes from.
        speed: Of a rehearsal.
        goes_on_changed: Whether the run goes on although files were changed while it was open.
        timers: What demands to be recorded as time goes by.

    Raises:
        SheetChangedError: Files were changed, and nobody has said that it goes on all the same.
        OtherRunError: The book is of another run.
        BookError: The book cannot be read or written.
    """

    def __init__(
        self,
        book: LogBook,
        sheet: RunSheet,
        sources: Sources,
        *,
        speed: float = 1.0,
        goes_on_changed: bool = False,
        timers: tuple[Watch, ...] = TIMERS,
    ) -> None:
        self.sheet = sheet
        self.fault = ""
        self._book = book
        self._timers = timers
        self._lock = threading.RLock()
        self._listeners: list[Listener] = []
        self._state = first_state(sheet)
        last = self._replay()
        self.clock = RunClock(
            sources,
            last.stamp if last else None,
            self._state.boot,
            speed=speed,
            counts_while_down=not sheet.rehearsal,
        )
        if last is not None:
            self._come_back(goes_on_changed)

    def _replay(self) -> Entry | None:
        last = None
        for entry in self._book.entries():
            if entry.deed.kind is Kind.RUN_OPENED:
                _same_run(entry.deed.body, self.sheet)
            self._state = fold(self._state, entry, self.sheet)
            last = entry
        return last

    def _come_back(self, goes_on_changed: bool) -> None:
        """Say in the book that the console is there again, and what was changed meanwhile."""
        state, sheet = self._state, self.sheet
        body: dict[str, Json] = {"after": state.number, "boot": self.clock.boot}
        if state.sheet and state.sheet != sheet.digest:
            files = sheet.changed_since(state.parts)
            if not goes_on_changed:
                raise SheetChangedError(files)
            body |= {"sheet": sheet.digest, "parts": dict(sheet.parts), "changed": list(files)}
        self._must(self._own(f"desk:restarted:{state.number}", Kind.RESTARTED, body))

    @property
    def state(self) -> RunState:
        """As the book has it now; frozen, so that whoever reads it needs no lock."""
        return self._state

    def make_ready(self) -> None:
        """Do beforehand what the first question about leaving out a step would wait for."""
        from neckring.live.deviation import make_ready

        make_ready(self.sheet)

    def open_run(self) -> Answer:
        """Open the run, unless it is open already."""
        sheet = self.sheet
        body: dict[str, Json] = {
            "runs": [wearer.run.code for wearer in sheet.wearers.values()],
            "sheet": sheet.digest,
            "people": dict(sheet.people),
            "parts": dict(sheet.parts),
            "boot": self.clock.boot,
        }
        return self.take(self._own("desk:opened", Kind.RUN_OPENED, body))

    def ask(self, step: int, before: int | None = None) -> Consequences | None:
        """What becomes possible when a step is left out or moved; None when it cannot be.

        Args:
            step: Printed number of a step of the present procedure.
            before: Number of the step it would precede; None when it would be left out.
        """
        state = self._state
        left = still_to_do(state, state.procedure) if state.procedure in state.progress else ()
        if step not in left or (before is not None and (before not in left or before == step)):
            return None
        # The prover is imported once it is asked: a console that comes back must not wait for it.
        from neckring.live.deviation import what_becomes_possible

        return what_becomes_possible(self.sheet, state, step, before)

    def take(self, deed: Deed) -> Answer:
        """Judge a deed, write it down or its refusal, and answer.

        Args:
            deed: From a tablet, with actor and role as its pairing has them; or the desk's own.

        Raises:
            BookError: It could not be written; nothing is acknowledged.
        """
        asked = _mended(deed)
        if fault := key_fault(asked):
            return Answer("refused", 0, fault)
        self._ask_beforehand(asked)
        with self._lock, self._noting_faults():
            known = self._known(asked.key)
            return known if known is not None else self._taken(asked)

    @contextmanager
    def _noting_faults(self) -> Iterator[None]:
        try:
            yield
        except BookError as error:
            self.fault = str(error)
            raise

    def _ask_beforehand(self, deed: Deed) -> None:
        """The prover takes a moment: it is asked before the lock, which a stop may want."""
        changes = deed.kind in (Kind.STEP_LEFT_OUT, Kind.STEP_MOVED)
        if changes and deed.role is Role.LEAD and not body_fault(deed.kind, deed.body):
            before = whole_in(deed.body, "before") if deed.kind is Kind.STEP_MOVED else None
            self.ask(whole_in(deed.body, "step"), before)

    def _known(self, key: str) -> Answer | None:
        entry = self._book.find(key)
        if entry is None:
            return None
        self._catch_up(entry.number)
        refused = entry.deed.kind is Kind.REFUSED
        return Answer("known", entry.number, text_in(entry.deed.body, "why") if refused else "")

    def _taken(self, deed: Deed) -> Answer:
        now = self.clock.stamp()
        why = decide(self._state, self.sheet, deed, now)
        if not why:
            return Answer("recorded", self._written(deed, now).number)
        for follows in self._follows(deed):
            self._written(follows, now)
        body = {"kind": deed.kind.value, "body": kept_body(deed.body), "why": why}
        return Answer(
            "refused", self._written(replace(deed, kind=Kind.REFUSED, body=body), now).number, why
        )

    def _follows(self, deed: Deed) -> Iterator[Deed]:
        """What the desk records of a refused deed: a reading that does not pass fails its step."""
        if deed.kind is not Kind.STEP_DONE or body_fault(deed.kind, deed.body):
            return
        what = failed_reading(self._state, self.sheet, deed)
        key = f"desk:failed:{deed.key}"
        if not what or self._book.find(key) is not None:
            return
        body = {k: deed.body[k] for k in ("procedure", "step")} | {"what": what}
        failed = self._own(key, Kind.STEP_FAILED, body)
        if not decide(self._state, self.sheet, failed, self.clock.stamp()):
            yield failed

    def tick(self) -> tuple[Entry, ...]:
        """Write down what timers demand by now: calls that were missed, clocks that are over.

        Raises:
            BookError: It could not be written; the next tick tries again.
        """
        written = []
        with self._lock, self._noting_faults():
            for timer in self._timers:
                now = self.clock.stamp()
                for deed in timer(self._state, self.sheet, now.run_time):
                    if self._known(deed.key) is None and not decide(
                        self._state, self.sheet, deed, now
                    ):
                        written.append(self._written(deed, now))
        return tuple(written)

    def listen(self, listener: Listener) -> Callable[[], None]:
        """Be told of every entry once it is on disk, in order; quickly, since others wait.

        Returns:
            What ends it.
        """
        with self._lock:
            self._listeners.append(listener)
        return lambda: self._listeners.remove(listener) if listener in self._listeners else None

    def close(self) -> None:
        """Let go of the book."""
        with self._lock:
            self._book.close()

    def _own(self, key: str, kind: Kind, body: Body) -> Deed:
        return Deed(key, kind, DESK, Role.DESK, DESK, body)

    def _must(self, deed: Deed) -> None:
        with self._lock:
            self._written(deed, self.clock.stamp())

    def _written(self, deed: Deed, now: Stamp) -> Entry:
        """Write an entry and count it. One that a crash hid until now is counted on the way."""
        entry = self._book.append(deed, now)
        self.fault = ""
        self._catch_up(entry.number - 1)
        self._count(entry)
        return entry

    def _catch_up(self, number: int) -> None:
        """Count entries that are on disk although writing them seemed to fail."""
        if number > self._state.number:
            for entry in self._book.entries(after=self._state.number):
                if entry.number > number:
                    return
                self._count(entry)

    def _count(self, entry: Entry) -> None:
        if entry.number <= self._state.number:
            return
        self._state = fold(self._state, entry, self.sheet)
        for listener in tuple(self._listeners):
            try:
                listener(entry, self._state)
            except Exception:
                # What is on disk counts, whoever failed to hear of it.
                _log.exception("a listener failed at entry %d", entry.number)


def _mended(deed: Deed) -> Deed:
    """The deed; of a stop, one that counts whatever is wrong with how it was sent."""
    if deed.kind is not Kind.STOP:
        return deed
    mended = replace(deed, body=mended_stop(deed.body))
    if not key_fault(mended):
        return mended
    known = repr((deed.key, deed.device, deed.tapped_at)).encode("utf-8", "backslashreplace")
    key = deed.key if KEY.fullmatch(deed.key) else f"stop:{hashlib.sha256(known).hexdigest()[:32]}"
    actor = deed.actor if DEVICE.fullmatch(deed.actor) else UNKNOWN
    return replace(mended, key=key, actor=actor, device=UNKNOWN, tapped_at=None, offset=None)


def _same_run(body: Body, sheet: RunSheet) -> None:
    runs = body.get("runs")
    own = [wearer.run.code for wearer in sheet.wearers.values()]
    if runs != own:
        of = listed([str(each) for each in runs], "and") if isinstance(runs, list) else "no run"
        raise OtherRunError(f"this book is of {of}, not of {listed(own, 'and')}")
