"""How long a console takes to be back after kill -9, beside an empty web application's start.

Back is when the first request is answered and the first tap of a paired device is on disk. The two
take turns: both suffer alike from whatever else the machine does.
"""

from __future__ import annotations

import json
import re
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from contextlib import suppress
from pathlib import Path
from typing import IO

from neckring.web.serving import bound

COMMAND = str(Path(sys.executable).with_name("neckring"))
ROUNDS = 5
LONGEST = 120.0
EMPTY = """
import sys, uvicorn
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
app = Starlette(routes=[Route("/", lambda request: PlainTextResponse("here"))])
uvicorn.run(app, port=int(sys.argv[1]), log_level="warning")
"""


def console_restart(folder: Path | None = None) -> dict[str, float]:
    """Median times from start to usable [s].

    Args:
        folder: Of the demo's station; made when None.
    """
    with tempfile.TemporaryDirectory() as name:
        station = folder or Path(name) / "station"
        if folder is None:
            subprocess.run(
                [COMMAND, "new", str(station), "--demo"], check=True, capture_output=True
            )
        console = Restarted(station, Path(name) / "kept")
        empty = [sys.executable, "-c", EMPTY]
        peer_port = free_port()
        console.first()
        times: dict[str, list[float]] = {"answer": [], "tap": [], "empty": []}
        for _ in range(ROUNDS):
            answer, tap = console.again()
            times["answer"].append(answer)
            times["tap"].append(tap)
            times["empty"].append(empty_start([*empty, str(peer_port)], peer_port))
        console.kill()
    found = {name: statistics.median(each) for name, each in times.items()}
    return {
        "console_restart_seconds": found["tap"],
        "console_restart_to_first_answer_seconds": found["answer"],
        "empty_starlette_start_seconds": found["empty"],
        "console_restart_vs_empty_starlette": found["tap"] / found["empty"],
    }


class Restarted:
    """A console that is killed and started again, and one device that stays paired."""

    def __init__(self, station: Path, kept: Path) -> None:
        self.port = free_port()
        # On the day the console has estimated and watched for a while when it is killed.
        self._command = [COMMAND, "console", "floor-survey", "floor-partner", "--station"]
        self._command += [str(station), "--keep", str(kept), "--port", str(self.port)]
        self._process: subprocess.Popen[str] | None = None
        self._token, self._taps = "", 0

    def first(self) -> None:
        """Start it for the first time, and pair as a tender."""
        self._start()
        assert self._process is not None
        assert self._process.stdout is not None
        pin = pin_of(self._process.stdout, "tender")
        self._until_answered()
        sent = {"pin": pin, "person": "T1", "program": True}
        self._token = str(asked(f"{self._address}/pair", sent)["token"])
        self._tap()

    def again(self) -> tuple[float, float]:
        """Kill it and start it: seconds to the first answer, and to the first tap on disk."""
        self.kill()
        begun = time.perf_counter()
        self._start()
        self._until_answered()
        answered = time.perf_counter() - begun
        self._tap()
        return answered, time.perf_counter() - begun

    def kill(self) -> None:
        """kill -9."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()

    @property
    def _address(self) -> str:
        return f"http://127.0.0.1:{self.port}/api/v1"

    def _start(self) -> None:
        self._process = subprocess.Popen(
            self._command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )

    def _until_answered(self) -> None:
        until_answered(f"{self._address}/clock")

    def _tap(self) -> None:
        self._taps += 1
        deed = {"key": f"bench-{self._taps}", "kind": "note", "body": {"words": "a tap"}}
        answer = asked(f"{self._address}/deeds", deed, self._token)
        assert answer["status"] == "recorded", answer


def pin_of(lines: IO[str], role: str) -> str:
    """The PIN of a part as the console prints it."""
    for line in lines:
        found = re.match(rf"\s+{role}\s+(\S+)\s*$", line)
        if found:
            return found.group(1)
    raise AssertionError("no PIN was printed")


def asked(address: str, sent: dict[str, object], token: str = "") -> dict[str, object]:
    """Post JSON, and read the answer."""
    headers = {"content-type": "application/json"}
    headers |= {"authorization": f"Bearer {token}"} if token else {}
    request = urllib.request.Request(address, json.dumps(sent).encode(), headers)
    with urllib.request.urlopen(request, timeout=LONGEST) as answer:
        return dict(json.load(answer))


def until_answered(address: str) -> None:
    """Ask until there is an answer."""
    end = time.monotonic() + LONGEST
    while time.monotonic() < end:
        with suppress(OSError), urllib.request.urlopen(address, timeout=LONGEST):
            return
        time.sleep(0.005)
    raise AssertionError(f"{address} does not answer")


def empty_start(command: list[str], port: int) -> float:
    """Seconds from the start of an empty application to its first answer."""
    begun = time.perf_counter()
    process = subprocess.Popen(command)
    try:
        until_answered(f"http://127.0.0.1:{port}/")
        return time.perf_counter() - begun
    finally:
        process.kill()
        process.wait()


def free_port() -> int:
    """A port that is free now."""
    with bound("127.0.0.1", 0) as found:
        return int(found.getsockname()[1])


if __name__ == "__main__":
    for key, figure in console_restart().items():
        print(f"{key}: {figure:.3f}")
