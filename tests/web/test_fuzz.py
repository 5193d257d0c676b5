"""The interface fuzzed from its own description: no answer is a fault, each is as described."""

from __future__ import annotations

import os

import pytest
from demo_console import DemoConsole, busy
from hypothesis import HealthCheck, settings

from neckring.live.entries import Kind, Role
from neckring.web.settings import WebSettings

schemathesis = pytest.importorskip("schemathesis", reason="schemathesis is not installed")

SOAK = os.environ.get("NECKRING_SOAK") == "1"
CONSOLE: DemoConsole = busy(WebSettings(most_sessions=100_000))
ENDLESS = "/api/v1/stream"


async def as_from_here(scope, receive, send) -> None:
    """The application, asked by this machine by its address; the gate refuses the test's own."""
    if scope["type"] == "http":
        others = [(name, value) for name, value in scope["headers"] if name != b"host"]
        here = {"client": ("127.0.0.1", 50000), "headers": [*others, (b"host", b"127.0.0.1")]}
        scope = {**scope, **here}
    await CONSOLE.app(scope, receive, send)


SCHEMA = schemathesis.openapi.from_asgi("/api/v1/openapi.json", as_from_here).exclude(path=ENDLESS)
CHECKS = [
    schemathesis.checks.not_a_server_error,
    schemathesis.specs.openapi.checks.status_code_conformance,
    schemathesis.specs.openapi.checks.content_type_conformance,
    schemathesis.specs.openapi.checks.response_schema_conformance,
]


def headers(path: str) -> dict[str, str]:
    """What lets a request through: a program's token, or a source's."""
    if path == "/api/v1/readings":
        return {"authorization": f"Bearer {SENSOR}"}
    return PROGRAM


PROGRAM = CONSOLE.program(Role.LEAD)
SENSOR = CONSOLE.admission.sensor_token(
    next(s for s in CONSOLE.admission.sessions if s.role is Role.LEAD), "fuzz"
)


@SCHEMA.parametrize()
@settings(
    max_examples=400 if SOAK else 8,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
def test_no_answer_is_a_fault(case: schemathesis.Case) -> None:
    # Given whatever the description allows, and much that it does not
    sent = dict(headers(case.path))
    if case.operation.method == "get":
        sent |= PROGRAM
    elif case.path == "/api/v1/unpair":
        # A device of its own each time: the one that fuzzes must stay paired.
        sent |= CONSOLE.program(Role.WALL)
    CONSOLE.admission.throttle.clear()
    # When it is sent, then it is answered as described
    answer = case.call(headers=sent)
    case.validate_response(answer, checks=CHECKS)
    assert not CONSOLE.admission.opening.opened


def test_the_fuzz_has_reached_the_desk() -> None:
    refused = [e for e in CONSOLE.day.book.written if e.deed.kind is Kind.REFUSED]
    assert len(refused) >= 3
