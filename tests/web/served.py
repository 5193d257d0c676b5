"""The console behind a real server, for a real browser; it can be stopped and started again."""

from __future__ import annotations

import socket
import threading
import time
from dataclasses import dataclass

import uvicorn
from demo_console import DemoConsole


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@dataclass
class Served:
    """A console at an address."""

    console: DemoConsole
    port: int = 0

    def __post_init__(self) -> None:
        self.port = self.port or free_port()
        self.start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        config = uvicorn.Config(
            self.console.app,
            host="127.0.0.1",
            port=self.port,
            log_level="warning",
            proxy_headers=False,
            timeout_graceful_shutdown=1,
        )
        self.server = uvicorn.Server(config)
        self.console.app.state.hub.closing = False
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()
        for _ in range(400):
            if self.server.started:
                return
            time.sleep(0.02)
        raise AssertionError("the server did not start")

    def stop(self) -> None:
        self.console.app.state.hub.close()
        self.server.should_exit = True
        self.thread.join(10)
        assert not self.thread.is_alive()
