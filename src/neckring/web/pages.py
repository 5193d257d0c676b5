"""The pages, and the ordinary forms by which they work without their script."""

from __future__ import annotations

import hashlib
from http import HTTPStatus
from pathlib import Path
from urllib.parse import urlencode

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from neckring.live.alarm_list import ALARMS
from neckring.live.book_json import canonical
from neckring.live.entries import Answer, Deed, Entry, Kind, Role
from neckring.live.rest_of_day import still_to_do
from neckring.web.admission import (
    GUARD_FIELD,
    Admission,
    Asking,
    with_cookie,
    without_cookie,
)
from neckring.web.api import LEAD_ONLY, SEES, take_or_refuse
from neckring.web.console_parts import ConsoleParts
from neckring.web.page_parts import PARTS_OF, PartsOfPages, Showing, part
from neckring.web.page_templates import marked, render
from neckring.web.page_views import TENDER
from neckring.web.pairing import Session
from neckring.web.problems import Problem
from neckring.web.request_reading import body_of_form, kind_of, read_form
from neckring.web.stream import alarms_now

STATIC = Path(__file__).parent / "static"
CHARTS = STATIC / "third_party" / "uplot.js"
TITLES = {
    "lead": "Lead",
    "tender": "Tender",
    "medic": "Medic",
    "trainer": "Trainer",
    "wall": "Wall",
}
HOME = {role: f"/{role.value}" for role in (Role.LEAD, Role.TENDER, Role.MEDIC, Role.TRAINER)}
HOME[Role.WALL] = "/wall"
CONFIRMED = {
    Kind.RUN_CLOSED: "Close the run? Nothing further is recorded but notes, symptoms and releases.",
    Kind.RELEASED: "Release this wearer? You have looked at and asked them.",
    Kind.PROCEDURE_ENDED: "End this procedure?",
    Kind.CARD_CLOSED: "Close this card?",
    Kind.RESUME: "Resume the run for everybody?",
}
"""What is asked again, on a page of its own, when the page's script does not ask."""


class Pages:
    """Every page but the replay."""

    def __init__(self, console: ConsoleParts, admission: Admission, parts: PartsOfPages) -> None:
        self._console = console
        self._admission = admission
        self._parts = parts

    def routes(self) -> list[Route]:
        """Every route."""
        return [
            Route("/", self.home, methods=["GET"]),
            Route("/pair", self.pair_form, methods=["GET"]),
            Route("/pair", self.pair, methods=["POST"]),
            Route("/leave", self.leave, methods=["POST"]),
            Route("/alarms", self.alarms, methods=["GET"]),
            Route("/do", self.do, methods=["POST"]),
            *(Route(f"/{view}", self.live, name=view, methods=["GET"]) for view in TITLES),
            Route("/lead/otherwise", self.otherwise, methods=["GET"]),
            Route("/lead/unpair", self.unpair_form, methods=["GET"]),
            Route("/lead/unpair", self.unpair, methods=["POST"]),
            Route("/lead/network", self.network, methods=["POST"]),
            Route("/lead/pins", self.pins, methods=["POST"]),
            Route("/lead/source", self.source, methods=["POST"]),
        ]

    async def home(self, request: Request) -> Response:
        """To where somebody belongs."""
        asking = self._admission.asking(request)
        return _to(HOME[asking.session.role] if asking else "/pair")

    async def pair_form(self, request: Request) -> Response:
        """Where a device is paired."""
        return self._pair_page(request, "")

    def _pair_page(self, request: Request, wrong: str, status: int = 200) -> Response:
        asking = self._admission.asking(request)
        context = self._plain("Pair this device", asking) | {
            "people": sorted(self._console.sheet.people.items()),
            "wrong": wrong,
        }
        return _page("pair.html.j2", context, asking, self._console, status)

    async def pair(self, request: Request) -> Response:
        """Pair this device."""
        fields = await read_form(request)
        pin = "".join(fields.get("pin", "").split())[:20]
        try:
            session, token = await to_thread.run_sync(
                self._admission.pair, request, pin, fields.get("person", "")[:64]
            )
        except Problem as refused:
            return self._pair_page(request, refused.detail, refused.status_code)
        response = _to(HOME[session.role])
        with_cookie(response, token)
        return response

    async def leave(self, request: Request) -> Response:
        """Unpair this device."""
        fields = await read_form(request)
        asking = self._admission.writer(request, frozenset(Role), fields.get(GUARD_FIELD, ""))
        session = asking.session
        await to_thread.run_sync(self._admission.unpair, session, session.device)
        response = _to("/pair")
        without_cookie(response)
        return response

    async def alarms(self, request: Request) -> Response:
        """The written list of alarms."""
        asking = self._admission.asking(request)
        context = self._plain("Every alarm, its cause and the first action", asking)
        return _page("alarms.html.j2", context | {"listed": ALARMS}, asking, self._console)

    async def live(self, request: Request) -> Response:
        """A page that follows the run."""
        view = request.url.path.strip("/")
        asking = self._admission.asking(request)
        if asking is None:
            return _to("/pair")
        self._admission.reader(request, SEES[view])
        lane = request.query_params.get("lane", TENDER)
        lanes = (*self._console.sheet.letters, TENDER)
        showing = Showing(view, asking.session, lane if lane in lanes else TENDER)
        entry = request.query_params.get("entry", "")
        html = await to_thread.run_sync(self._live, showing, entry, asking)
        return HTMLResponse(html)

    def _live(self, showing: Showing, entry: str, asking: Asking) -> str:
        state = self._console.desk.state
        run_time = self._console.clock.stamp().run_time
        context = self._parts.context(showing, state, run_time) | {
            "title": TITLES[showing.view],
            "guard": asking.guard,
            "streams": True,
            "speed": self._console.clock.speed,
            "charts": CHARTS.exists() and showing.view == "medic",
            "loudest": alarms_now(self._console, showing.role)["loudest"],
            "said": self._said(entry, asking.session),
            "body_class": {"wall": "wall", "tender": "big"}.get(showing.view, ""),
            "cautions": self._console.cautions,
        }
        context["parts"] = {name: part(name, context) for name in PARTS_OF[showing.view]}
        return marked(render(f"{showing.view}.html.j2", context), asking.guard, state.number)

    def _said(self, number: str, session: Session) -> tuple[bool, str] | None:
        """What became of a form that was sent: from the log book, never from the address."""
        if not (number.isascii() and number.isdigit() and 0 < len(number) < 12):
            return None
        entry = next(self._console.book.entries(int(number) - 1), None) if int(number) else None
        return _outcome(entry) if entry and entry.deed.device == session.device else None

    async def do(self, request: Request) -> Response:
        """Have something recorded by an ordinary form."""
        fields = await read_form(request)
        asking = self._admission.writer(request, guard=fields.get(GUARD_FIELD, ""))
        kind = kind_of(fields.get("kind", ""))
        back = _ours(fields.get("back", ""), asking.session)
        if kind in CONFIRMED and fields.get("confirmed") != "yes":
            context = self._plain("Are you sure?", asking) | {
                "question": CONFIRMED[kind],
                "fields": {n: v for n, v in fields.items() if n != "confirmed"},
                "back": back,
                "to": "/do",
            }
            return _page("confirm.html.j2", context, asking, self._console)
        deed = self._deed(kind, fields, asking.session)
        answer = await to_thread.run_sync(take_or_refuse, self._console, deed)
        return _to(back, answer)

    def _deed(self, kind: Kind, fields: dict[str, str], session: Session) -> Deed:
        body = body_of_form(fields)
        answers = body.get("answers")
        if kind is Kind.CALL_ANSWERED and isinstance(answers, dict) and self._console.sheet.calls:
            questions = self._console.sheet.calls.questions
            body["answers"] = {
                questions[int(place)]: said
                for place, said in answers.items()
                if place.isdigit() and int(place) < len(questions)
            }
        # The same form sent twice, as it was shown at one entry, is one tap.
        what = f"{session.device}|{fields.get('at', '')}|{kind}|{canonical(body)}"
        key = f"form-{hashlib.sha256(what.encode()).hexdigest()[:40]}"
        return Deed(key, kind, session.person, session.role, session.device, body)

    async def otherwise(self, request: Request) -> Response:
        """What becomes possible when a step is left out or moved."""
        asking = self._admission.asking(request)
        if asking is None:
            return _to("/pair")
        self._admission.reader(request, LEAD_ONLY)
        html = await to_thread.run_sync(self._otherwise, request, asking)
        return HTMLResponse(html)

    def _otherwise(self, request: Request, asking: Asking) -> str:
        state, sheet = self._console.desk.state, self._console.sheet
        procedure = sheet.procedures.get(state.procedure)
        numbers = still_to_do(state, state.procedure) if procedure else ()
        step = _number(request.query_params.get("step", ""))
        before = _number(request.query_params.get("before", ""))
        asked = step in numbers and (before is None or (before in numbers and before != step))
        context = self._plain("Leave out or move a step", asking) | {
            "procedure": procedure,
            "steps": [procedure.steps[number - 1] for number in numbers] if procedure else [],
            "step": step if asked else None,
            "before": before if asked else None,
            "possible": self._console.desk.ask(step, before) if asked and step else None,
            "back": "/lead",
        }
        return marked(render("otherwise.html.j2", context), asking.guard, state.number)

    async def unpair_form(self, request: Request) -> Response:
        """Ask before a device is unpaired."""
        asking = self._admission.reader(request, LEAD_ONLY)
        device = request.query_params.get("device", "")[:64]
        known = next((s for s in self._admission.sessions if s.device == device), None)
        if known is None:
            return _to("/lead")
        context = self._plain("Are you sure?", asking) | {
            "question": f"Unpair {known.role.value} {known.person} ({device})? Its taps count no "
            "more until it is paired again.",
            "fields": {"device": device, GUARD_FIELD: asking.guard},
            "back": "/lead",
            "to": "/lead/unpair",
        }
        return _page("confirm.html.j2", context, asking, self._console)

    async def unpair(self, request: Request) -> Response:
        """Unpair a device."""
        fields, asking = await self._lead(request)
        device = fields.get("device", "")
        await to_thread.run_sync(self._admission.unpair, asking.session, device)
        if device != asking.session.device:
            return _to("/lead")
        response = _to("/pair")
        without_cookie(response)
        return response

    async def network(self, request: Request) -> Response:
        """Open the console to the local network, or close it."""
        fields, asking = await self._lead(request)
        opened = fields.get("open") == "yes"
        await to_thread.run_sync(self._admission.open_network, asking.session, opened)
        return _to("/lead")

    async def pins(self, request: Request) -> Response:
        """Draw new PINs."""
        _, asking = await self._lead(request)
        await to_thread.run_sync(self._admission.new_pins, asking.session)
        return _to("/lead")

    async def source(self, request: Request) -> Response:
        """Draw the token of a source of readings, and show it once."""
        fields, asking = await self._lead(request)
        source = " ".join(fields.get("source", "").split())
        if not (0 < len(source) <= 60 and source.isprintable()):
            raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, "source: a name of 1 to 60 letters.")
        token = await to_thread.run_sync(self._admission.sensor_token, asking.session, source)
        context = self._plain("Token of a source", asking) | {"source": source, "token": token}
        return _page("source.html.j2", context, asking, self._console)

    async def _lead(self, request: Request) -> tuple[dict[str, str], Asking]:
        fields = await read_form(request)
        return fields, self._admission.writer(request, LEAD_ONLY, fields.get(GUARD_FIELD, ""))

    def _plain(self, title: str, asking: Asking | None) -> dict[str, object]:
        return plain_context(title, asking, self._console)


def plain_context(title: str, asking: Asking | None, console: ConsoleParts) -> dict[str, object]:
    """What a page's frame asks for, of a page that follows nothing."""
    return {
        "title": title,
        "sheet": console.sheet,
        "state": console.desk.state,
        "run_time": console.clock.stamp().run_time,
        "session": asking.session if asking else None,
        "guard": asking.guard if asking else "",
        "view": "",
        "streams": False,
        "charts": False,
        "loudest": 0,
        "said": None,
        "body_class": "",
        "home": HOME[asking.session.role] if asking else "/pair",
        "back": HOME[asking.session.role] if asking else "/pair",
        "cautions": console.cautions,
    }


def _page(
    name: str,
    context: dict[str, object],
    asking: Asking | None,
    console: ConsoleParts,
    status: int = 200,
) -> Response:
    guard = asking.guard if asking else ""
    text = marked(render(name, context), guard, console.desk.state.number)
    return HTMLResponse(text, status)


def _to(path: str, answer: Answer | None = None) -> Response:
    query = ""
    if answer is not None and answer.number:
        query = ("&" if "?" in path else "?") + urlencode({"entry": answer.number})
    return RedirectResponse(path + query, HTTPStatus.SEE_OTHER)


def _ours(path: str, session: Session) -> str:
    """One of our own pages; nobody is sent elsewhere by a form."""
    lanes = tuple(f"/tender?lane={lane}" for lane in ("A", "B", TENDER))
    known = (*(f"/{view}" for view in TITLES), *lanes)
    return path if path in known else HOME[session.role]


def _outcome(entry: Entry) -> tuple[bool, str]:
    deed = entry.deed
    if deed.kind is Kind.REFUSED:
        return False, f"Refused: {deed.body.get('kind', '')}. {deed.body.get('why', '')}"
    return True, f"Recorded: {deed.kind.value} (entry {entry.number})"


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else None
