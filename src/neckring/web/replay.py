"""A finished run looked at again: its state at any moment is the fold of what stood there then."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from neckring.live.entries import Answer, BookError, Deed, Entry, Kind, Role, Stamp
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.run_state import first_state, fold, fold_all
from neckring.records.presentation import presentation_of
from neckring.web.admission import Admission
from neckring.web.api import whole_of
from neckring.web.console_parts import Book, ConsoleParts
from neckring.web.entry_views import is_shown
from neckring.web.estimate_reading import estimated_in
from neckring.web.page_parts import (
    PARTS_OF,
    VITAL,
    ChannelView,
    Showing,
    context_of,
    part,
    rights_of,
)
from neckring.web.page_templates import marked, render
from neckring.web.pages import plain_context
from neckring.web.reading_views import stale_after

KEPT_EVERY = 200
"""Entries between two states that are kept, so that the slider need not begin at the beginning."""
LONGEST = 7 * 24 * 3600


class StandingClock:
    """The clock of a finished run: it stands at its end.

    Args:
        stamp: Of the last entry.
    """

    speed = 1.0

    def __init__(self, stamp: Stamp) -> None:
        self._stamp = stamp

    def stamp(self) -> Stamp:
        """The end."""
        return self._stamp


class FinishedRun:
    """A desk to which nothing can be said any more.

    Args:
        book: Of the run.
        sheet: Of its day.
    """

    def __init__(self, book: Book, sheet: RunSheet) -> None:
        self._book = book
        self.state = fold_all(sheet, book.entries())
        last = Stamp(0.0, 0.0, 0.0)
        for entry in book.entries(max(0, self.state.number - 1)):
            last = entry.stamp
        self.clock = StandingClock(last)

    def take(self, deed: Deed) -> Answer:
        """Refuse it.

        Raises:
            BookError: Always.
        """
        raise BookError("this run is finished and only looked at")

    def ask(self, step: int, before: int | None = None) -> None:
        """Nothing can be asked."""
        return

    def listen(self, listener: Callable[[Entry, RunState], None]) -> Callable[[], None]:
        """Nothing will come."""
        return lambda: None


class Replay:
    """The page of a finished run, with its slider."""

    def __init__(self, console: ConsoleParts, admission: Admission) -> None:
        self._console = console
        self._admission = admission
        self._entries: list[Entry] = []
        self._times: list[float] = []
        self._kept: list[RunState] = []
        self._history = lru_cache(maxsize=256)(self._column)

    def routes(self) -> list[Route]:
        """Its routes."""
        return [
            Route("/replay", self.page, methods=["GET"]),
            Route("/replay/parts", self.parts, methods=["GET"]),
        ]

    def _may(self, request: Request) -> None:
        """A finished run needs no PIN on this machine; while it goes on the lead looks back."""
        if not self._admission.settings.replay:
            over = self._console.desk.state.closed is not None
            later = {Role.MEDIC, Role.TRAINER} if over else set()
            self._admission.reader(request, frozenset({Role.LEAD, *later}))

    async def page(self, request: Request) -> Response:
        """The page at a moment; its end when none is asked for."""
        self._may(request)
        at = whole_of(request, "at", LONGEST, LONGEST)
        return HTMLResponse(await to_thread.run_sync(self._page, at))

    async def parts(self, request: Request) -> Response:
        """The parts at a moment, for the slider."""
        self._may(request)
        at = whole_of(request, "at", LONGEST, LONGEST)
        context = await to_thread.run_sync(self._context, at)
        return JSONResponse(
            {
                "run_time": context["run_time"],
                "parts": {name: part(name, context) for name in PARTS_OF["replay"]},
            }
        )

    def _page(self, at: int) -> str:
        context = self._context(at)
        frame = plain_context("Replay", None, self._console)
        context = frame | context | {"ends": int(self._end()) + 1, "view": "replay"}
        context["parts"] = {name: part(name, context) for name in PARTS_OF["replay"]}
        return marked(render("replay.html.j2", context), "", 0)

    def _context(self, at: int) -> dict[str, object]:
        self._catch_up()
        run_time = min(float(at), self._end())
        count = bisect_right(self._times, run_time)
        state = self._state_after(count)
        estimates = {
            letter: estimated
            for letter, now in state.estimates.items()
            if (estimated := estimated_in(now.body, letter, now.run_time)) is not None
        }
        shown = [e for e in self._entries[:count] if self._is_shown(e)]
        channels = list(self._channels(run_time))
        context = context_of(self._console, state, run_time, estimates, channels, shown[-25:][::-1])
        return context | rights_of(Showing("replay", None))

    def _is_shown(self, entry: Entry) -> bool:
        role = Role.LEAD
        shown = self._admission.settings.replay or is_shown(entry, role, self._console.desk.state)
        return shown and entry.deed.kind is not Kind.ESTIMATE

    def _end(self) -> float:
        return self._times[-1] if self._times else 0.0

    def _catch_up(self) -> None:
        """Read what is new in the book, and keep a state now and then."""
        sheet = self._console.sheet
        state = self._kept[-1] if self._kept else first_state(sheet)
        done = len(self._kept) * KEPT_EVERY
        for entry in self._console.book.entries(len(self._entries)):
            self._entries.append(entry)
            self._times.append(max(entry.stamp.run_time, self._end()))
        for entry in self._entries[done:]:
            state = fold(state, entry, sheet)
            if entry.number % KEPT_EVERY == 0:
                self._kept.append(state)

    def _state_after(self, count: int) -> RunState:
        whole = min(count // KEPT_EVERY, len(self._kept))
        state = self._kept[whole - 1] if whole else first_state(self._console.sheet)
        return fold_all(self._console.sheet, self._entries[whole * KEPT_EVERY : count], state)

    def _column(self, wearer: str, channel: str) -> Sequence[tuple[float, float | None]]:
        return tuple(self._console.history(wearer, channel))

    def _channels(self, run_time: float) -> Iterator[ChannelView]:
        """Every channel with what it last said by then."""
        intake = self._console.intake
        for letter, wired in (intake.wired if intake else {}).items():
            for channel in wired.channels:
                points = self._history(letter, channel.name)
                place = bisect_right(points, run_time, key=lambda point: point[0])
                at, value = points[place - 1] if place else (0.0, None)
                words = presentation_of(channel.quantity)
                old = run_time - at
                stale = old > stale_after(channel)
                yield ChannelView(
                    f"{letter}.{channel.name}",
                    channel.name,
                    words.label,
                    words.text(value) if value is not None else "nothing",
                    "",
                    f"{old:.0f} s before" if value is not None else "",
                    "stale" if stale and value is not None else "",
                    channel.expected.every,
                    stale_after(channel),
                    wall=False,
                    vital=channel.quantity in VITAL,
                )
