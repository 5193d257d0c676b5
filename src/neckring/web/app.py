"""The console's web application: `make_app(parts, settings)`, run by any ASGI server."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from http import HTTPStatus

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles

from neckring.live.entries import BookError
from neckring.web.admission import Admission
from neckring.web.api import Api
from neckring.web.console_parts import ConsoleParts
from neckring.web.gate import Gate, Opening, TooLongError
from neckring.web.page_parts import PartsOfPages
from neckring.web.page_templates import environment, render
from neckring.web.pages import STATIC, Pages, plain_context
from neckring.web.problems import Problem, problem_response, wants_page
from neckring.web.replay import Replay
from neckring.web.settings import WebSettings
from neckring.web.stream import Hub

_log = logging.getLogger(__name__)
Handler = Callable[[Request, Exception], Awaitable[Response]]


def make_app(parts: ConsoleParts, settings: WebSettings | None = None) -> Starlette:
    """Make the application.

    Args:
        parts: The console behind it.
        settings: How it is served.

    Returns:
        The application; `app.state.admission` holds the PINs that the terminal shows, and
        `app.state.hub.close()` lets every listening page go before the server ends.
    """
    environment()
    settings = settings or WebSettings()
    opening = Opening(settings.opened)
    admission = Admission(parts, settings, opening)
    hub = Hub(parts, admission.sessions, settings.most_streams)
    rendered = PartsOfPages(parts, admission)
    routes: list[BaseRoute] = [
        *Api(parts, admission, hub, rendered).routes(),
        *(() if settings.replay else Pages(parts, admission, rendered).routes()),
        *Replay(parts, admission).routes(),
        Mount("/static", StaticFiles(directory=STATIC), name="static"),
    ]
    app = Starlette(
        routes=routes,
        middleware=[Middleware(Gate, settings=settings, opening=opening)],
        exception_handlers={
            HTTPException: _refused_by(parts, admission),
            TooLongError: _too_long,
            BookError: _no_book,
            Exception: _unforeseen,
        },
        lifespan=_lifespan(hub),
    )
    app.state.admission = admission
    app.state.hub = hub
    return app


def _lifespan(hub: Hub) -> Callable[[Starlette], AbstractAsyncContextManager[None]]:
    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        yield
        hub.close()

    return life


def _refused_by(parts: ConsoleParts, admission: Admission) -> Handler:
    async def refused(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        headers = dict(error.headers or {})
        if not wants_page(request):
            field = error.field if isinstance(error, Problem) else ""
            return problem_response(error.status_code, error.detail, field, **headers)
        asking = admission.asking(request)
        context = plain_context(HTTPStatus(error.status_code).phrase, asking, parts)
        text = render("refused.html.j2", context | {"detail": error.detail})
        return HTMLResponse(text, error.status_code, headers)

    return refused


async def _too_long(request: Request, error: Exception) -> Response:
    return problem_response(413, "This is longer than is taken.")


async def _no_book(request: Request, error: Exception) -> Response:
    return problem_response(503, f"The log book cannot be used: {error}", **{"retry-after": "1"})


async def _unforeseen(request: Request, error: Exception) -> Response:
    _log.error("%s %s failed", request.method, request.url.path, exc_info=error)
    return problem_response(500, "The console has a fault. What was acknowledged is on disk.")
