"""The interface for programs, version 1: the team's own sensors and screens, and our own pages."""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus
from itertools import islice

from anyio import CapacityLimiter, to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from neckring.live.entries import Answer, BookError, Deed, Role
from neckring.live.sensors.record import MessageError
from neckring.web.admission import Admission, Asking, with_cookie, without_cookie
from neckring.web.console_parts import ConsoleParts
from neckring.web.entry_views import entry_as_json, is_shown
from neckring.web.openapi import document
from neckring.web.page_parts import PartsOfPages, Showing
from neckring.web.page_views import TENDER
from neckring.web.problems import Problem
from neckring.web.reading_views import history_of, reading_as_json, readings_now
from neckring.web.request_reading import deed_of, only, read_object, text_of
from neckring.web.state_json import state_as_json
from neckring.web.stream import Hub

SENML = "application/senml+json"
MOST_ENTRIES = 500
MOST_NUMBER = 2**53
LEAD_ONLY = frozenset({Role.LEAD})
SEES: Mapping[str, frozenset[Role]] = {
    "lead": LEAD_ONLY,
    "tender": frozenset({Role.LEAD, Role.TENDER}),
    "medic": frozenset({Role.LEAD, Role.MEDIC}),
    "trainer": frozenset({Role.TRAINER}),
    "wall": frozenset({Role.LEAD, Role.TENDER, Role.MEDIC, Role.TRAINER, Role.WALL}),
}
"""Who may see which page."""


class Api:
    """Routes under /api/v1."""

    def __init__(
        self, console: ConsoleParts, admission: Admission, hub: Hub, pages: PartsOfPages
    ) -> None:
        self._console = console
        self._admission = admission
        self._hub = hub
        self._pages = pages
        # Packs are taken in one after the other: a tap must not wait for its turn among many.
        self._taking_in = CapacityLimiter(1)

    def routes(self) -> list[Route]:
        """Every route."""
        at = "/api/v1"
        return [
            Route(f"{at}/openapi.json", self.openapi, methods=["GET"]),
            Route(f"{at}/clock", self.clock, methods=["GET"]),
            Route(f"{at}/pair", self.pair, methods=["POST"]),
            Route(f"{at}/unpair", self.unpair, methods=["POST"]),
            Route(f"{at}/deeds", self.deeds, methods=["POST"]),
            Route(f"{at}/state", self.state, methods=["GET"]),
            Route(f"{at}/entries", self.entries, methods=["GET"]),
            Route(f"{at}/readings", self.latest, methods=["GET"]),
            Route(f"{at}/readings", self.take_readings, methods=["POST"]),
            Route(f"{at}/stream", self.stream, methods=["GET"]),
        ]

    async def openapi(self, request: Request) -> Response:
        """This interface, described."""
        return JSONResponse(document(self._console.version))

    async def clock(self, request: Request) -> Response:
        """The desk's clocks, for measuring how far a tablet's is off; tells nothing of the run."""
        stamp, state = self._console.clock.stamp(), self._console.desk.state
        return JSONResponse(
            {
                "wall": stamp.wall,
                "monotonic": stamp.monotonic,
                "run_time": stamp.run_time,
                "speed": self._console.clock.speed,
                "stands": state.opened is None or state.closed is not None,
            }
        )

    async def pair(self, request: Request) -> Response:
        """Pair a device by PIN."""
        sent = await read_object(request)
        only(sent, "pin", "person", "program")
        pin = text_of(sent, "pin", 20)
        person = text_of(sent, "person", 64, needed=False)
        program = sent.get("program", False)
        if not isinstance(program, bool):
            raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, "program: true or false.", "program")
        session, token = await to_thread.run_sync(self._admission.pair, request, pin, person)
        asking = Asking(session, token, by_cookie=not program)
        told = {
            "device": session.device,
            "role": session.role.value,
            "person": session.person,
            "guard": asking.guard,
        }
        # A page's token never reaches its scripts; a program keeps its own.
        response = JSONResponse(told | ({"token": token} if program else {}), HTTPStatus.CREATED)
        if not program:
            with_cookie(response, token)
        return response

    async def unpair(self, request: Request) -> Response:
        """Take this device out, or, as the lead, another one."""
        by_any = frozenset(Role)
        sent = await read_object(request)
        asking = self._admission.writer(request, by_any)
        only(sent, "device")
        own = asking.session.device
        device = text_of(sent, "device", 64) if "device" in sent else own
        if device != own and asking.session.role is not Role.LEAD:
            raise Problem(HTTPStatus.FORBIDDEN, "Only the lead takes out another device.")
        await to_thread.run_sync(self._admission.unpair, asking.session, device)
        response = Response(status_code=HTTPStatus.NO_CONTENT)
        if device == own:
            without_cookie(response)
        return response

    async def deeds(self, request: Request) -> Response:
        """Have something recorded; the answer comes once it is on disk."""
        asking = self._admission.writer(request)
        deed = deed_of(await read_object(request), asking.session)
        return JSONResponse(await self.take(deed))

    async def take(self, deed: Deed) -> dict[str, object]:
        """Hand a deed to the desk.

        Raises:
            Problem: It could not be written: send it again.
        """
        answer = await to_thread.run_sync(take_or_refuse, self._console, deed)
        return {"status": answer.status, "number": answer.number, "why": answer.why}

    async def state(self, request: Request) -> Response:
        """The run as it stands."""
        asking = self._admission.reader(request)
        return JSONResponse(state_as_json(self._console, asking.session.role))

    async def entries(self, request: Request) -> Response:
        """Entries of the log book behind a number."""
        asking = self._admission.reader(request)
        after = whole_of(request, "after", 0, MOST_NUMBER)
        most = whole_of(request, "most", MOST_ENTRIES, MOST_ENTRIES, least=1)
        role, state = asking.session.role, self._console.desk.state

        def read() -> list[dict[str, object]]:
            found = islice(self._console.book.entries(after), most)
            return [entry_as_json(entry) for entry in found if is_shown(entry, role, state)]

        return JSONResponse({"last": state.number, "entries": await to_thread.run_sync(read)})

    async def latest(self, request: Request) -> Response:
        """The last reading of each channel, or the history of one."""
        self._admission.reader(request)
        wanted = request.query_params.get("history")
        if wanted is None:
            return JSONResponse(readings_now(self._console, self._console.clock.stamp()))
        wearer, _, channel = wanted.partition(".")
        intake = self._console.intake
        wired = intake.wired.get(wearer) if intake else None
        if wired is None or channel not in [known.name for known in wired.channels]:
            raise Problem(HTTPStatus.NOT_FOUND, "history: wearer and channel, as in A.heart.")
        found = await to_thread.run_sync(history_of, self._console, wearer, channel)
        return JSONResponse(found)

    async def take_readings(self, request: Request) -> Response:
        """Take in a SenML pack of one wearer's suit."""
        self._admission.sensor_source(request)
        media = request.headers.get("content-type", "").partition(";")[0].strip().lower()
        if media != SENML:
            raise Problem(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, f"Send {SENML}.")
        intake = self._console.intake
        wearer = intake.wearer_of(request.query_params.get("wearer", "")) if intake else None
        if intake is None or wearer is None:
            known = " or ".join(intake.wired) if intake else "none, without sensors"
            raise Problem(
                HTTPStatus.UNPROCESSABLE_ENTITY, f"wearer: {known}, or a suit's code.", "wearer"
            )
        pack, stamp = await request.body(), self._console.clock.stamp()

        def take() -> list[dict[str, object]]:
            taken = intake.take(wearer, pack, stamp)
            self._console.keep_readings(taken)
            return [reading_as_json(self._console, reading) for reading in taken]

        try:
            told = await to_thread.run_sync(take, limiter=self._taking_in)
        except MessageError as refused:
            raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, f"{refused}.") from None
        return JSONResponse({"taken": told}, HTTPStatus.ACCEPTED)

    async def stream(self, request: Request) -> Response:
        """What changes, as server-sent events."""
        asking = self._admission.reader(request)
        showing = self.showing_of(request, asking)
        if self._hub.full():
            raise Problem(HTTPStatus.SERVICE_UNAVAILABLE, "Too many pages listen already.")
        last = request.headers.get("last-event-id", "")
        after = int(last) if last.isascii() and last.isdigit() and len(last) < 16 else None
        if after is None:
            after = whole_of(request, "after", self._console.desk.state.number, MOST_NUMBER)

        def render() -> Mapping[str, str]:
            return self._pages.now(showing) if showing.view else {}

        return StreamingResponse(
            self._hub.events(asking, after, render),
            media_type="text/event-stream",
        )

    def showing_of(self, request: Request, asking: Asking) -> Showing:
        """Which page's parts are wanted; none at all without a view.

        Raises:
            Problem: A page that is not for this device.
        """
        view = request.query_params.get("view", "")
        if view and (view not in SEES or asking.session.role not in SEES[view]):
            raise Problem(HTTPStatus.FORBIDDEN, "view: one that is for this device.", "view")
        lane = request.query_params.get("lane", TENDER)
        return Showing(view, asking.session, lane if lane in ("A", "B") else TENDER)


def take_or_refuse(console: ConsoleParts, deed: Deed) -> Answer:
    """Hand a deed to the desk.

    Raises:
        Problem: It could not be written.
    """
    try:
        return console.desk.take(deed)
    except BookError as error:
        raise Problem(
            HTTPStatus.SERVICE_UNAVAILABLE,
            f"The log book cannot be written, so nothing was recorded: {error}",
            headers={"retry-after": "1"},
        ) from None


def whole_of(request: Request, name: str, missing: int, most: int, least: int = 0) -> int:
    """A whole number of the query.

    Raises:
        Problem: It is none, or out of range.
    """
    text = request.query_params.get(name)
    if text is None:
        return missing
    if text.isascii() and text.isdigit() and len(text) < 18 and least <= int(text) <= most:
        return int(text)
    raise Problem(
        HTTPStatus.UNPROCESSABLE_ENTITY, f"{name}: a whole number from {least} to {most}.", name
    )
