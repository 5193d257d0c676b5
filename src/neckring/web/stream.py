"""Server-sent events: what changes on a page, as it changes.

Nothing queues up for a slow page. Entries are read from where that page has got to, so none is ever
dropped; of readings, parts and alarms it gets the latest, whatever it missed.

Source: HTML Standard, section 9.2 (event stream: `id`, `event`, `data`, `retry`, Last-Event-ID).
"""

from __future__ import annotations

import asyncio
import json
from collections import deque
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass, field
from itertools import islice

from anyio import CapacityLimiter, to_thread

from neckring.live.entries import Entry, Kind, Role
from neckring.live.run_records import RunState
from neckring.web.admission import Asking
from neckring.web.console_parts import ConsoleParts
from neckring.web.entry_views import entry_as_json, is_shown
from neckring.web.page_templates import marked
from neckring.web.pairing import Sessions
from neckring.web.reading_views import readings_now

RETRY = 1000
"""After how long a browser tries again [ms]."""
EVERY = 1.0
"""Readings come so often [s]; it also tells a page that the link is good."""
PAUSE = 0.25
"""A page that was just told something is told the next thing after so long [s]: what comes in a
burst is drawn once."""
AT_ONCE = 200
"""Entries read in one go for a page that has much to catch up with."""
REMEMBERED = 2000
"""Entries kept at hand; a page further behind reads the book."""

Render = Callable[[], Mapping[str, str]]


def event(name: str, data: object, number: int | None = None) -> bytes:
    """One event as it goes over the wire."""
    identity = f"id: {number}\n" if number is not None else ""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return f"{identity}event: {name}\ndata: {text}\n\n".encode()


@dataclass(eq=False)
class Listening:
    """One page that listens.

    Attributes:
        asking: Whose it is.
        after: Number of the last entry it has.
        render: Its parts as they are now, by name.
        wake: Set when there is something new.
        sent: Its parts as it has them.
        told: Alarms as it has them.
    """

    asking: Asking
    after: int
    render: Render
    wake: asyncio.Event = field(default_factory=asyncio.Event)
    sent: dict[str, str] = field(default_factory=dict)
    told: object = None


class Hub:
    """Everybody who listens."""

    def __init__(self, parts: ConsoleParts, sessions: Sessions, most: int) -> None:
        self._parts = parts
        self._sessions = sessions
        self._most = most
        self._listening: set[Listening] = set()
        self._recent: deque[Entry] = deque(maxlen=REMEMBERED)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._readings: tuple[int, bytes] = (-1, b"")
        self._entry: tuple[int, bytes] = (0, b"")
        # Pages are drawn one after the other: a tap must not wait for its turn among many.
        self._drawing = CapacityLimiter(1)
        self.closing = False
        parts.desk.listen(self._entered)

    def full(self) -> bool:
        """Whether nobody further is listened to."""
        return len(self._listening) >= self._most

    def _entered(self, entry: Entry, state: RunState) -> None:
        """Called by the desk's thread after each entry."""
        self._recent.append(entry)
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self.wake_all)

    def wake_all(self) -> None:
        """Something has changed."""
        for page in self._listening:
            page.wake.set()

    def close(self) -> None:
        """Let every page go, so that the console can end."""
        self.closing = True
        self.wake_all()

    async def events(self, asking: Asking, after: int, render: Render) -> AsyncIterator[bytes]:
        """What one page is sent, until it goes or its device is unpaired."""
        self._loop = asyncio.get_running_loop()
        page = Listening(asking, after, render)
        session = asking.session
        self._listening.add(page)
        try:
            yield f"retry: {RETRY}\n\n".encode()
            while not self.closing and session in tuple(self._sessions):
                page.wake.clear()
                async for chunk in self._news(page):
                    yield chunk
                self._parts.heard(session.device, self._parts.clock.stamp().monotonic)
                await asyncio.sleep(PAUSE)
                await _until(page.wake, EVERY - PAUSE)
        finally:
            self._listening.discard(page)

    async def _news(self, page: Listening) -> AsyncIterator[bytes]:
        behind = self._at_hand(page.after)
        if behind is None:
            behind = await to_thread.run_sync(self._in_the_book, page.after)
        if len(behind) == AT_ONCE:
            page.wake.set()
        for entry in behind:
            page.after = entry.number
            if is_shown(entry, page.asking.session.role, self._parts.desk.state):
                yield self._entry_event(entry)
        parts = await to_thread.run_sync(page.render, limiter=self._drawing)
        for name, markup in parts.items():
            if page.sent.get(name) != markup:
                page.sent[name] = markup
                made_out = marked(markup, page.asking.guard, page.after)
                yield event("part", {"name": name, "markup": made_out})
        alarms = alarms_now(self._parts, page.asking.session.role)
        if alarms != page.told:
            page.told = alarms
            yield event("alarm", alarms)
        yield self._readings_event()

    def _at_hand(self, after: int) -> list[Entry] | None:
        """The next entries behind a number; None when the book must be asked for them."""
        if self._parts.desk.state.number <= after:
            return []
        recent = self._recent
        if not recent or recent[0].number > after + 1:
            return None
        found: list[Entry] = []
        for entry in reversed(tuple(recent)):
            if entry.number <= after:
                break
            found.append(entry)
        return found[::-1][:AT_ONCE]

    def _in_the_book(self, after: int) -> list[Entry]:
        return list(islice(self._parts.book.entries(after), AT_ONCE))

    def _entry_event(self, entry: Entry) -> bytes:
        """Made once for all who listen; of an estimate also what it says."""
        if self._entry[0] != entry.number:
            made = event("entry", entry_as_json(entry), entry.number)
            if entry.deed.kind is Kind.ESTIMATE:
                made += event("estimate", dict(entry.deed.body))
            self._entry = entry.number, made
        return self._entry[1]

    def _readings_event(self) -> bytes:
        """Made once for all who listen."""
        stamp = self._parts.clock.stamp()
        turn = int(stamp.monotonic / EVERY)
        if self._readings[0] != turn:
            self._readings = turn, event("readings", readings_now(self._parts, stamp))
        return self._readings[1]


def alarms_now(parts: ConsoleParts, role: Role) -> dict[str, object]:
    """Which alarms last, and how loud the loudest is that nobody has heard yet."""
    alarms = sorted(parts.desk.state.alarms.values(), key=lambda a: (-a.rank, a.raised, a.key))
    unheard = [alarm.rank for alarm in alarms if not alarm.acknowledged_by]
    return {
        "loudest": max(unheard, default=0),
        "alarms": [
            {
                "alarm": alarm.key,
                "rank": alarm.rank,
                "wearer": alarm.wearer,
                "words": alarm.words,
                "acknowledged_by": alarm.acknowledged_by,
                "raised": alarm.raised,
            }
            for alarm in alarms
        ],
    }


async def _until(wake: asyncio.Event, longest: float) -> None:
    try:
        async with asyncio.timeout(longest):
            await wake.wait()
    except TimeoutError:
        return
