"""The application served: on this machine always, on the local network once the lead opens it."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import uvicorn
from starlette.applications import Starlette

AWAY = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737), to which nothing is sent: it only tells the way out."""
LOOK_EVERY = 0.5
"""How often it is looked whether the network was opened or closed [s]."""
LAST_WORDS = 3
"""So long a page that still listens is waited for [s]."""


WAITING = 128
"""So many connections may wait while the console opens."""


class CannotListenError(Exception):
    """The port cannot be had; says which and why."""


class _Server(uvicorn.Server):
    """A server that leaves signals to who runs it."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Do nothing about signals."""
        yield


def bound(host: str, port: int) -> socket.socket:
    """A socket that is listened on: who asks before anything is served waits for the answer.

    Args:
        host: Address.
        port: 0 for any that is free.

    Raises:
        CannotListenError: Somebody else has it, or it is no address of this machine.
    """
    made = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((host, port))
        made.listen(WAITING)
    except (OSError, OverflowError) as error:
        made.close()
        why = getattr(error, "strerror", "") or str(error)
        raise CannotListenError(f"{host} port {port}: {why.lower()}") from None
    return made


def address_on_network() -> str:
    """This machine's address on the local network; empty when it is on none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(AWAY)
            found = str(asking.getsockname()[0])
        except OSError:
            return ""
    return "" if found.startswith("127.") else found


class Serving:
    """One application on one or two sockets.

    Attributes:
        port: That it listens on.
        trouble: Why the local network cannot be listened on, in words; empty when it can.

    Args:
        app: The application.
        here: Bound on this machine.
        network: This machine's address on the local network, listened on while it is open; empty
            when it has none.
        opened: Whether the network may ask now.
    """

    def __init__(
        self,
        app: Starlette,
        here: socket.socket,
        network: str = "",
        opened: Callable[[], bool] = lambda: False,
    ) -> None:
        self._app = app
        self._here = here
        self._network = network
        self._opened = opened
        self._first = _Server(_config(app, "on"))
        self._second: tuple[_Server, asyncio.Task[None]] | None = None
        self.port = int(here.getsockname()[1])
        self.trouble = ""

    def run(self, answering: Callable[[], None] = lambda: None) -> None:
        """Serve until `stop` is called.

        Args:
            answering: Called once, when requests are answered; returns at once.
        """
        asyncio.run(self._serve(answering))

    def stop(self) -> None:
        """End; may be called from anywhere."""
        self._first.should_exit = True

    async def _serve(self, answering: Callable[[], None]) -> None:
        beside = [
            asyncio.create_task(self._follow()),
            asyncio.create_task(self._tell_started(answering)),
        ]
        try:
            await self._first.serve(sockets=[self._here])
        finally:
            for task in beside:
                task.cancel()
            await self._close_network()

    async def _tell_started(self, answering: Callable[[], None]) -> None:
        while not self._first.started:
            await asyncio.sleep(0.005)
        answering()

    async def _follow(self) -> None:
        """Listen on the network while it is open, and only then."""
        while True:
            wanted = self._opened()
            if wanted and self._second is None:
                self._open_network()
            elif not wanted and self._second is not None:
                await self._close_network()
            await asyncio.sleep(LOOK_EVERY)

    def _open_network(self) -> None:
        if self._network in ("", self._here.getsockname()[0]):
            return
        try:
            made = bound(self._network, self.port)
        except CannotListenError as error:
            self.trouble = str(error)
            return
        server = _Server(_config(self._app, "off"))
        self._second = (server, asyncio.create_task(server.serve(sockets=[made])))
        self.trouble = ""

    async def _close_network(self) -> None:
        if self._second is not None:
            server, task = self._second
            self._second = None
            server.should_exit = True
            await task


def _config(app: Starlette, lifespan: str) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        lifespan=lifespan,  # type: ignore[arg-type]
        ws="none",
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=LAST_WORDS,
    )
