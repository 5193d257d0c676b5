"""A line from tablet to desk that can be cut as a radio link is: nothing passes, nobody is told.

A browser that is put offline refuses new requests, but a stream that runs goes on. Here it stands
still as well: bytes of both directions are held up, and no end of a connection is passed on.
"""

from __future__ import annotations

import socket
import threading
from dataclasses import dataclass, field

WAITS = 0.1
"""[s] between two looks at whether the line is cut or over."""


@dataclass
class CutLine:
    """Passes connections on to a port of this machine.

    Attributes:
        to: Port of the desk.
    """

    to: int
    _open: threading.Event = field(default_factory=threading.Event)
    _over: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        self._open.set()
        self._heard = socket.create_server(("127.0.0.1", 0))
        self._heard.settimeout(WAITS)
        self.port = int(self._heard.getsockname()[1])
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def cut(self) -> None:
        self._open.clear()

    def mend(self) -> None:
        self._open.set()

    def end(self) -> None:
        self._over.set()
        self._heard.close()

    def _listen(self) -> None:
        while not self._over.is_set():
            try:
                near, _ = self._heard.accept()
            except TimeoutError:
                continue
            except OSError:
                return
            far = socket.create_connection(("127.0.0.1", self.to))
            for one, other in ((near, far), (far, near)):
                one.settimeout(WAITS)
                threading.Thread(target=self._pass_on, args=(one, other), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket) -> None:
        while not self._over.is_set():
            if not self._open.wait(WAITS):
                continue
            try:
                told = one.recv(65536)
            except TimeoutError:
                continue
            except OSError:
                told = b""
            while not self._open.wait(WAITS):
                if self._over.is_set():
                    return
            try:
                if not told:
                    other.shutdown(socket.SHUT_WR)
                    return
                other.settimeout(None)
                other.sendall(told)
                other.settimeout(WAITS)
            except OSError:
                return
