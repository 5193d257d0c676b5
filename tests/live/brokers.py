"""A real MQTT broker for tests, and a way to it that can go dead without a word."""

from __future__ import annotations

import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path

MOSQUITTO = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin")
NO_MOSQUITTO = "no mosquitto here (Debian package mosquitto)"
SOON = 15.0
"""[s] within which whatever should happen has happened on any machine."""


def eventually(holds: Callable[[], object], within: float = SOON) -> bool:
    """Whether something comes to hold in time."""
    end = time.monotonic() + within
    while time.monotonic() < end:
        if holds():
            return True
        time.sleep(0.01)
    return bool(holds())


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Mosquitto:
    """Debian's mosquitto on a port of its own."""

    def __init__(self, folder: Path) -> None:
        assert MOSQUITTO is not None, NO_MOSQUITTO
        self.port = free_port()
        self._settings = folder / "mosquitto.conf"
        self._settings.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\npersistence false\n"
        )
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"mqtt://127.0.0.1:{self.port}"

    def start(self) -> None:
        assert MOSQUITTO is not None, NO_MOSQUITTO
        self._process = subprocess.Popen(
            [MOSQUITTO, "-c", str(self._settings)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        assert eventually(self._answers), "mosquitto does not answer"

    def kill(self) -> None:
        """End it as kill -9 does."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def _answers(self) -> bool:
        with socket.socket() as probe:
            probe.settimeout(0.2)
            return probe.connect_ex(("127.0.0.1", self.port)) == 0


class Way:
    """A TCP way to a port; it can go dead: open at both ends, and nothing comes through."""

    def __init__(self, to_port: int) -> None:
        self._to = to_port
        self.dead = threading.Event()
        self.opened = 0
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._sockets: list[socket.socket] = []
        threading.Thread(target=self._accept, daemon=True).start()

    def close(self) -> None:
        self._listener.close()
        for each in self._sockets:
            each.close()

    def _accept(self) -> None:
        while True:
            try:
                here, _ = self._listener.accept()
                there = socket.create_connection(("127.0.0.1", self._to))
            except OSError:
                return
            self.opened += 1
            self._sockets += [here, there]
            dead = self.dead
            for source, target in ((here, there), (there, here)):
                threading.Thread(
                    target=self._pass_on, args=(source, target, dead), daemon=True
                ).start()

    @staticmethod
    def _pass_on(source: socket.socket, target: socket.socket, dead: threading.Event) -> None:
        try:
            while chunk := source.recv(65536):
                if not dead.is_set():
                    target.sendall(chunk)
        except OSError:
            return

    def go_dead(self) -> None:
        """What is open passes nothing more; what is opened from now on does."""
        self.dead.set()
        self.dead = threading.Event()
