"""A real PostgreSQL server in a folder of its own, which a test may kill and start again."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from book_worlds import in_memory

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"))
PROGRAM_FOLDER = PROGRAMS[-1].parent if PROGRAMS else None
USERS = [u for u in ("postgres", "nobody") if u in {entry.pw_name for entry in pwd.getpwall()}]


def _why_skipped() -> str:
    if PROGRAM_FOLDER is None:
        return "not installed: postgresql (Debian's package of that name)"
    if os.getuid() == 0 and not USERS:
        return "PostgreSQL does not run as root, and there is no user postgres or nobody"
    return ""


WHY_SKIPPED = _why_skipped()


class Server:
    """A server that listens on this machine only; its files lie in a folder of a short name."""

    def __init__(self, folder: Path) -> None:
        """Make a database; nothing is running yet."""
        self.folder = folder
        self.port = _free_port()
        self.url = f"postgresql://postgres@127.0.0.1:{self.port}/postgres"
        self._process: subprocess.Popen[bytes] | None = None
        folder.chmod(0o755)
        if os.getuid() == 0:
            shutil.chown(folder, USERS[0])
        self._run("initdb", "-D", self._data, "-U", "postgres", "-A", "trust", "-N", "-E", "UTF8")

    @property
    def _data(self) -> str:
        return str(self.folder / "data")

    def _as_user(self) -> dict[str, str]:
        return {"user": USERS[0]} if os.getuid() == 0 else {}

    def _run(self, program: str, *arguments: str) -> None:
        assert PROGRAM_FOLDER is not None
        subprocess.run(
            (PROGRAM_FOLDER / program, *arguments),
            check=True,
            capture_output=True,
            cwd=self.folder,
            env={"LC_ALL": "C.UTF-8", "PATH": os.environ["PATH"]},
            **self._as_user(),
        )

    def start(self) -> None:
        """Start it, and wait until it answers."""
        assert PROGRAM_FOLDER is not None
        log = (self.folder / "server.log").open("ab")
        listening = ("-c", f"port={self.port}", "-c", "listen_addresses=127.0.0.1")
        self._process = subprocess.Popen(
            (
                PROGRAM_FOLDER / "postgres",
                "-D",
                self._data,
                *listening,
                "-c",
                f"unix_socket_directories={self.folder}",
                "-c",
                "max_connections=20",
                "-c",
                "shared_buffers=16MB",
            ),
            stdout=log,
            stderr=log,
            cwd=self.folder,
            start_new_session=True,
            env={"LC_ALL": "C.UTF-8", "PATH": os.environ["PATH"]},
            **self._as_user(),
        )
        log.close()
        self._await()

    def _await(self) -> None:
        assert PROGRAM_FOLDER is not None
        for _ in range(600):
            ready = subprocess.run(
                (PROGRAM_FOLDER / "pg_isready", "-q", "-h", "127.0.0.1", "-p", str(self.port))
            )
            if ready.returncode == 0:
                return
            time.sleep(0.05)
        raise AssertionError((self.folder / "server.log").read_text())

    def kill(self) -> None:
        """kill -9 of the server with all its processes: each leads a group of its own."""
        if self._process is not None:
            children = Path(f"/proc/{self._process.pid}/task/{self._process.pid}/children")
            for process in (self._process.pid, *map(int, children.read_text().split())):
                with suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
            self._process.wait()
            self._process = None


def _free_port() -> int:
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        return int(listening.getsockname()[1])


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """A server that runs while the tests of one file do."""
    with in_memory() as folder:
        running = Server(Path(folder))
        running.start()
        yield running
        running.kill()
