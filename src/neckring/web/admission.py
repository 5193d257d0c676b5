"""Who asks: from a request to the session it carries, and whether it may write."""

from __future__ import annotations

import contextlib
import hmac
import logging
import secrets
from dataclasses import dataclass, field
from http import HTTPStatus

from starlette.requests import Request
from starlette.responses import Response

from neckring.live.entries import BookError, Deed, Kind, Role
from neckring.web.console_parts import ConsoleParts, Kept
from neckring.web.gate import Opening, is_here
from neckring.web.pairing import (
    PARTS,
    Session,
    Sessions,
    Throttle,
    digest_of,
    guard_of,
    new_pins,
    new_token,
    part_of,
)
from neckring.web.problems import Problem
from neckring.web.settings import WebSettings

COOKIE = "neckring_session"
GUARD_HEADER = "x-neckring-guard"
GUARD_FIELD = "guard"
A_DAY = 24 * 3600
DESK = Session("", "desk", Role.DESK, "desk")
"""The console itself, as it writes down who was paired."""
EVERY_PART = frozenset(PARTS)
WRITERS = EVERY_PART - {Role.WALL}


_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Asking:
    """Somebody with a session.

    Attributes:
        session: Theirs.
        token: As sent; not kept.
        by_cookie: Whether a browser sent it by itself: then a write needs the guard too.
    """

    session: Session
    token: str
    by_cookie: bool

    @property
    def guard(self) -> str:
        """What a write must carry beside the cookie."""
        return guard_of(self.token)


@dataclass
class Admission:
    """Everything about who may: PINs, sessions, throttle, and tokens of sensors.

    Attributes:
        parts: The console.
        settings: How it is served.
        opening: Whether the local network may ask.
        pins: One for each part; told to the lead only.
        taken_out: Who was unpaired at the start, since no session of theirs was kept.
        seen: Devices that were heard from since the start.
    """

    parts: ConsoleParts
    settings: WebSettings
    opening: Opening
    pins: dict[Role, str] = field(default_factory=new_pins)
    throttle: Throttle = field(default_factory=Throttle)
    taken_out: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Take up what was so before a restart."""
        kept = self.parts.keeper.load()
        paired = self.parts.desk.state.paired
        still = [session for session in kept.sessions if session.device in paired]
        self.sessions = Sessions(still, self.settings.most_sessions)
        self.sensor_digests = dict(kept.sources)
        self.opening.opened = self.opening.opened or kept.opened
        self.seen: set[str] = set()
        if not self.settings.replay:
            self._take_out({session.device for session in still})

    def _take_out(self, kept: set[str]) -> None:
        """Unpair what nobody can act by: the book has it, and its session was not kept.

        A console that dies while a device is paired, or a file of sessions that is lost, leaves
        such a device. Nobody holds its token; it would be missed as a silent tablet for ever.
        """
        for device, pairing in self.parts.desk.state.paired.items():
            if device in kept:
                continue
            try:
                self._record(DESK, Kind.UNPAIRED, {"device": device})
            except (BookError, Problem) as error:
                _log.warning("device %s was not unpaired: %s", device, error)
                continue
            who = f"{pairing.role} {pairing.person}".strip()
            self.taken_out = (*self.taken_out, f"{who} ({device})")

    def _keep(self) -> None:
        """Keep it for a restart; a full disk must not keep anybody from unpairing a device."""
        with contextlib.suppress(OSError):
            self.parts.keeper.save(
                Kept(tuple(self.sessions), self.sensor_digests, self.opening.opened)
            )

    def asking(self, request: Request) -> Asking | None:
        """Who asks; None without a session that counts."""
        scheme, _, bearer = request.headers.get("authorization", "").partition(" ")
        if scheme.lower() == "bearer":
            session = self.sessions.of(bearer)
            return Asking(session, bearer, by_cookie=False) if session else None
        token = request.cookies.get(COOKIE)
        session = self.sessions.of(token)
        return Asking(session, token, by_cookie=True) if session and token else None

    def reader(self, request: Request, roles: frozenset[Role] = EVERY_PART) -> Asking:
        """Who asks to read.

        Raises:
            Problem: Nobody who is paired, or somebody in another part.
        """
        asking = self.asking(request)
        if asking is None:
            raise Problem(HTTPStatus.UNAUTHORIZED, "This device is not paired: pair it by PIN.")
        self.seen.add(asking.session.device)
        self.parts.heard(asking.session.device, self.parts.clock.stamp().monotonic)
        if asking.session.role not in roles:
            allowed = ", ".join(sorted(role.value for role in roles))
            raise Problem(
                HTTPStatus.FORBIDDEN,
                f"This is for {allowed}; this device acts as {asking.session.role.value}.",
            )
        return asking

    def writer(
        self, request: Request, roles: frozenset[Role] = WRITERS, guard: str | None = None
    ) -> Asking:
        """Who asks to write.

        Args:
            request: As it came; the gate has already seen where from.
            roles: Who may.
            guard: As a form has it; a script sends it as a header.

        Raises:
            Problem: Nobody who may.
        """
        asking = self.reader(request, roles)
        if self.settings.replay:
            raise Problem(HTTPStatus.CONFLICT, "This run is finished: nothing can be written.")
        given = guard if guard is not None else request.headers.get(GUARD_HEADER, "")
        if asking.by_cookie and not hmac.compare_digest(given.encode(), asking.guard.encode()):
            raise Problem(
                HTTPStatus.FORBIDDEN,
                f"A write by a page carries the page's guard (header {GUARD_HEADER}).",
            )
        return asking

    def pair(self, request: Request, pin: str, person: str) -> tuple[Session, str]:
        """Pair a device by PIN; waits are told, and what is wrong is not.

        Returns:
            The session and its token.

        Raises:
            Problem: A wrong PIN, too many tries, no such person in this part, or no room.
        """
        address = request.client.host if request.client else ""
        here, now = is_here(address), self.parts.clock.stamp().monotonic
        wait = self.throttle.wait(address, here, now)
        if wait > 0.0:
            raise Problem(
                HTTPStatus.TOO_MANY_REQUESTS,
                f"Too many wrong PINs. Try again in {wait:.0f} s, or ask the lead.",
                headers={"retry-after": f"{wait + 1.0:.0f}"},
            )
        role = part_of(pin, self.pins)
        if role is None:
            self.throttle.failed(address, here, now)
            raise Problem(HTTPStatus.FORBIDDEN, "This is no PIN of today.", "pin")
        self.throttle.succeeded(address)
        return self._admit(role, self._person(role, person))

    def _person(self, role: Role, person: str) -> str:
        if role is Role.WALL:
            return ""
        people = [code for code, part in self.parts.sheet.people.items() if part == role.value]
        if person not in people:
            known = ", ".join(people) or "nobody"
            raise Problem(
                HTTPStatus.FORBIDDEN, f"In this part today: {known}. Choose one.", "person"
            )
        return person

    def _admit(self, role: Role, person: str) -> tuple[Session, str]:
        if self.sessions.full():
            raise Problem(HTTPStatus.CONFLICT, "No further device can be paired: unpair one.")
        device = self.sessions.next_device()
        body = {"device": device, "role": role.value, "person": person}
        # Kept first, recorded then: a session that the book does not have counts for nothing.
        token = self.sessions.add(device, role, person)
        self._keep()
        try:
            self._record(DESK, Kind.PAIRED, body)
        except BaseException:
            self.sessions.revoke(device)
            self._keep()
            raise
        session = self.sessions.of(token)
        assert session is not None
        return session, token

    def unpair(self, by: Session, device: str) -> None:
        """Forget a device: at once here, then in the log book.

        Raises:
            Problem: There is none such.
        """
        if not self.sessions.revoke(device):
            raise Problem(HTTPStatus.NOT_FOUND, "No device of this name is paired.", "device")
        self._keep()
        # A wall writes nothing; who takes itself out is written down by the desk.
        writer = DESK if by.role is Role.WALL else by
        self._record(writer, Kind.UNPAIRED, {"device": device})

    def open_network(self, by: Session, opened: bool) -> None:
        """Open the console to the local network, or close it; recorded first."""
        words = "Console opened to the local network" if opened else "Console closed to the network"
        self._record(by, Kind.NOTE, {"words": words})
        self.opening.opened = opened
        self._keep()

    def new_pins(self, by: Session) -> None:
        """Draw new PINs, and let everybody try again; what is paired stays paired."""
        self._record(by, Kind.NOTE, {"words": "New PINs drawn; wrong tries forgotten"})
        self.pins.update(new_pins())
        self.throttle.clear()

    def sensor_token(self, by: Session, source: str) -> str:
        """Draw the token of a source of readings; one before it counts no more."""
        words = f"Token drawn for the source of readings {source}"
        self._record(by, Kind.NOTE, {"words": words})
        token = new_token()
        self.sensor_digests[source] = digest_of(token)
        self._keep()
        return token

    def sensor_source(self, request: Request) -> str:
        """Which source of readings asks.

        Raises:
            Problem: None that has a token.
        """
        scheme, _, token = request.headers.get("authorization", "").partition(" ")
        given = digest_of(token)
        if scheme.lower() == "bearer":
            for source, known in self.sensor_digests.items():
                if hmac.compare_digest(given, known):
                    return source
        raise Problem(
            HTTPStatus.UNAUTHORIZED,
            "Readings need a sensor's token (Authorization: Bearer ...), drawn on the lead's page.",
            headers={"www-authenticate": "Bearer"},
        )

    def _record(self, by: Session, kind: Kind, body: dict[str, str]) -> None:
        """Write what the console itself does for somebody; it is done only once it stands."""
        key = f"console-{secrets.token_hex(16)}"
        deed = Deed(key, kind, by.person, by.role, by.device, dict(body))
        answer = self.parts.desk.take(deed)
        if answer.status == "refused":
            raise Problem(HTTPStatus.CONFLICT, answer.why)


def with_cookie(response: Response, token: str) -> None:
    """Give a browser its session: kept from scripts, never sent for another site's page."""
    response.set_cookie(COOKIE, token, max_age=A_DAY, httponly=True, samesite="strict", path="/")


def without_cookie(response: Response) -> None:
    """Take it back."""
    response.delete_cookie(COOKIE, httponly=True, samesite="strict", path="/")
