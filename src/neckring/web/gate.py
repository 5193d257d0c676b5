"""The gate before every route: who may ask at all, by which name, from which page, how much.

Plain ASGI, so that it also stands before streams and files. What is refused here reaches nothing.
"""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from neckring.web.problems import problem_response
from neckring.web.settings import WebSettings

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Nothing from elsewhere, nothing written into a page is ever run or taken for style.

Source: Content Security Policy Level 3, sections 6.1 and 6.3.
"""
HEADERS = {
    "content-security-policy": POLICY,
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    # With no-referrer a browser would say "Origin: null" when our own forms are sent, and so hide
    # what parts them from a foreign page's. Nobody else is told anything by this one either.
    # Source: Fetch Standard, "append a request `Origin` header".
    "referrer-policy": "same-origin",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
}
PACKS = "/api/v1/readings"
_HOST = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9.-]+)(?::(\d{1,5}))?")


@dataclass
class Opening:
    """Whether the local network may ask; the lead opens and closes it while the run goes on."""

    opened: bool


def is_here(address: str) -> bool:
    """Whether an address is this machine itself."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return False
    mapped = getattr(parsed, "ipv4_mapped", None)
    return bool((mapped or parsed).is_loopback)


def host_is_ours(host: str, names: frozenset[str]) -> bool:
    """Whether the console goes by this name.

    A page elsewhere can make its own name lead here (DNS rebinding), but not an address, nor
    localhost: these, and names that were told to the console, are all there are.
    """
    parts = _HOST.fullmatch(host)
    if parts is None:
        return False
    name = parts.group(1).strip("[]").lower().rstrip(".")
    if name == "localhost" or name in names:
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def comes_from_us(headers: Headers, scheme: str) -> bool:
    """Whether a write was not made by somebody else's page.

    A browser says where a write comes from (Origin, and Sec-Fetch-Site); a program of the team's
    own says nothing, and has no cookie that a foreign page could borrow.

    Source: Fetch Standard, "Origin" header; W3C Fetch Metadata Request Headers, section 2.4.
    """
    site = headers.get("sec-fetch-site")
    if site is not None and site != "same-origin":
        return False
    origin = headers.get("origin")
    return origin is None or origin.lower() == f"{scheme}://{headers.get('host', '')}".lower()


class Gate:
    """The gate, as ASGI middleware."""

    def __init__(self, app: ASGIApp, settings: WebSettings, opening: Opening) -> None:
        self._app = app
        self._settings = settings
        self._opening = opening

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        guarded = _with_headers(send, scope["path"])
        refusal = self._refusal(scope)
        if refusal is not None:
            status, detail = refusal
            await problem_response(status, detail)(scope, receive, guarded)
            return
        await self._app(scope, _bounded(receive, self._most(scope)), guarded)

    def _most(self, scope: Scope) -> int:
        return self._settings.most_pack if scope["path"] == PACKS else self._settings.most_body

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        client = scope.get("client")
        address = client[0] if client else ""
        headers = Headers(scope=scope)
        if not self._opening.opened and not is_here(address):
            return 403, (
                "The console answers this machine only. The lead opens it to the local network on "
                "the lead's page."
            )
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not host_is_ours(hosts[0], self._settings.names):
            return 421, "The console does not go by this name. Ask for it by its address."
        if scope["method"] not in SAFE and not comes_from_us(headers, scope["scheme"]):
            return 403, "This was sent by a page that is not the console's."
        return self._too_long(headers, self._most(scope))

    def _too_long(self, headers: Headers, most: int) -> tuple[int, str] | None:
        told = headers.get("content-length", "0")
        if not told.isdecimal() or not told.isascii():
            return 400, "content-length is not a number."
        if len(told) > 12 or int(told) > most:
            return 413, f"This is too long: at most {most} bytes are taken."
        return None


class TooLongError(Exception):
    """More of a body came than was told and is taken."""


def _bounded(receive: Receive, most: int) -> Receive:
    taken = 0

    async def next_message() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            raise TooLongError
        return message

    return next_message


def _with_headers(send: Send, path: str) -> Send:
    kept = path.startswith("/static/")

    async def add(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            # Files change with the version only, but a tablet must never keep an old one.
            headers["cache-control"] = "no-cache" if kept else "no-store"
        await send(message)

    return add
