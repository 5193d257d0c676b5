"""A whole console under load: taps while suits stream and pages listen, beside a bare sync.

One console, which has two wearers, gets what eight suits send: eight transmitters, four to a
wearer, each a pack of 20 readings ten times a second. Sixteen paired devices listen as their pages
do, each to the parts of its own, and tap every two seconds. Between, one page is written and synced
on the same disk.
"""

from __future__ import annotations

import http.client
import json
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from console_restart import COMMAND, asked, free_port, pin_of, until_answered
from log_book import PAGE, timed, write_and_sync
from neckring.live.entries import Kind
from neckring.live.open_book import read_book
from neckring.live.readings_file import ReadingsReader
from neckring.served_run.wanted import LOG_BOOK, READINGS, SESSIONS
from neckring.web.console_parts import Kept
from neckring.web.pairing import digest_of
from neckring.web.session_file import SessionFile

LASTS = 600.0
CLIENTS, TAP_EVERY = 16, 2.0
TRANSMITTERS, PACK_EVERY, IN_PACK = 8, 0.1, 20
RAW_EVERY = 0.25
SETTLED = 0.25
"""Share of the time after which memory is first looked at: caches are full by then."""
CHANNELS = ("heart", "water_in", "water_out", "water_flow", "reservoir", "helmet_air", "battery")
SHOWN = {
    "heart": 96.0,
    "water_in": 14.0,
    "water_out": 21.0,
    "water_flow": 1.3,
    "reservoir": 8.0,
    "helmet_air": 24.5,
    "battery": 16.0,
}
TOKEN = "of the load"
PEOPLE = (("lead", "L1"), ("tender", "T1"), ("tender", "T2"), ("medic", "M1"))


@dataclass
class Load:
    """What happened.

    Attributes:
        tap_ms: From each tap to its acknowledgement, which comes once it is on disk.
        raw_ms: Of each bare write and sync.
        taken: Readings that were acknowledged.
        heard: Entries that each listening page was told of.
        memory: Of the console, from when it had settled [megabytes].
        faults: What failed in a client.
        kept: Readings in the file afterwards.
        taps_kept: Taps in the log book afterwards.
    """

    tap_ms: list[float] = field(default_factory=list)
    raw_ms: list[float] = field(default_factory=list)
    taken: int = 0
    heard: list[int] = field(default_factory=list)
    memory: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    kept: int = 0
    taps_kept: int = 0


class Client:
    """One connection that stays."""

    def __init__(self, port: int, token: str) -> None:
        self._line = http.client.HTTPConnection("127.0.0.1", port, timeout=60.0)
        self._token = token

    def post(self, path: str, sent: object, kind: str = "application/json") -> dict[str, object]:
        """Post JSON, and read the answer."""
        headers = {"content-type": kind, "authorization": f"Bearer {self._token}"}
        self._line.request("POST", f"/api/v1/{path}", json.dumps(sent).encode(), headers)
        answer = self._line.getresponse()
        told: dict[str, object] = json.loads(answer.read())
        if answer.status >= 300:
            raise OSError(f"{path}: {answer.status} {told}")
        return told

    def listen(self, over: threading.Event, view: str) -> int:
        """Listen to the stream until it is over; how many entries came."""
        headers = {"authorization": f"Bearer {self._token}"}
        self._line.request("GET", f"/api/v1/stream?view={view}", headers=headers)
        answer, heard = self._line.getresponse(), 0
        while not over.is_set():
            line = answer.readline()
            heard += line.startswith(b"event: entry")
            if not line:
                break
        self._line.close()
        return heard


class Run:
    """One console with its load."""

    def __init__(self, folder: Path, lasts: float, particles: int) -> None:
        self._folder, self._lasts, self._particles = folder, lasts, particles
        self._port = free_port()
        self._over = threading.Event()
        self._alone = threading.Lock()
        self.load = Load()

    def run(self, station: Path) -> Load:
        """Serve, load, end, and count what is kept."""
        kept = self._folder / "kept"
        kept.mkdir()
        SessionFile(kept / SESSIONS).save(Kept(sources={"load": digest_of(TOKEN)}))
        command = [COMMAND, "console", "floor-survey", "floor-partner", "--station", str(station)]
        command += ["--keep", str(kept), "--port", str(self._port)]
        command += ["--particles", str(self._particles)]
        with (self._folder / "stderr").open("w") as errors:
            process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=errors, text=True)
        try:
            self._serve(process)
        finally:
            self._over.set()
            process.send_signal(signal.SIGINT)
            process.wait(60.0)
        self._count(kept)
        return self.load

    def _serve(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        pins: dict[str, str] = {}
        for role in ("lead", "tender", "medic"):
            pins[role] = pin_of(process.stdout, role)
        until_answered(f"http://127.0.0.1:{self._port}/api/v1/clock")
        threads = [self._thread(self._raw)]
        for number in range(CLIENTS):
            role, person = PEOPLE[number % len(PEOPLE)]
            sent = {"pin": pins[role], "person": person, "program": True}
            token = str(asked(f"http://127.0.0.1:{self._port}/api/v1/pair", sent)["token"])
            threads.append(self._thread(self._tapping, number, Client(self._port, token)))
            threads.append(self._thread(self._listening, Client(self._port, token), role))
        for number in range(TRANSMITTERS):
            threads.append(self._thread(self._sending, "AB"[number % 2], number))
        for thread in threads:
            thread.start()
        self._look_at_memory(process.pid)
        self._over.set()
        for thread in threads:
            thread.join(60.0)

    def _thread(self, act: Callable[..., None], *given: object) -> threading.Thread:
        def guarded() -> None:
            try:
                act(*given)
            except (OSError, http.client.HTTPException) as fault:
                self.load.faults.append(f"{act.__name__}: {fault}")

        return threading.Thread(target=guarded, daemon=True)

    def _look_at_memory(self, process: int) -> None:
        begun = time.monotonic()
        while (passed := time.monotonic() - begun) < self._lasts:
            if passed >= SETTLED * self._lasts:
                self.load.memory.append(resident(process))
            time.sleep(min(1.0, self._lasts / 20.0))

    def _again(self, every: float, act: Callable[[], None]) -> None:
        due = time.monotonic()
        while not self._over.is_set():
            act()
            due = max(due + every, time.monotonic() - 5.0 * every)
            self._over.wait(max(0.0, due - time.monotonic()))

    def _raw(self) -> None:
        with (self._folder / "raw").open("wb", buffering=0) as file:
            file.write(bytes(PAGE))

            def one() -> None:
                file.seek(0)
                self.load.raw_ms.append(timed(lambda: write_and_sync(file.fileno())))

            self._again(RAW_EVERY, one)

    def _tapping(self, number: int, client: Client) -> None:
        count = 0

        def one() -> None:
            nonlocal count
            count += 1
            deed = {
                "key": f"load-{number}-{count}",
                "kind": "note",
                "body": {"words": f"tap {count}"},
                "tapped_at": time.time(),
                "offset": 0.0,
            }
            took = timed(lambda: client.post("deeds", deed))
            with self._alone:
                self.load.tap_ms.append(took)

        self._over.wait(TAP_EVERY * number / CLIENTS)
        self._again(TAP_EVERY, one)

    def _listening(self, client: Client, view: str) -> None:
        heard = client.listen(self._over, view)
        with self._alone:
            self.load.heard.append(heard)

    def _sending(self, wearer: str, number: int) -> None:
        client, turn = Client(self._port, TOKEN), 0

        def one() -> None:
            nonlocal turn
            turn += 1
            names = [CHANNELS[place % len(CHANNELS)] for place in range(IN_PACK)]
            pack = [
                {"n": name, "v": SHOWN[name] + 0.001 * (turn % 97), "t": -0.005 * place}
                for place, name in enumerate(names)
            ]
            told = client.post(f"readings?wearer={wearer}", pack, "application/senml+json")
            taken = told["taken"]
            assert isinstance(taken, list)
            with self._alone:
                self.load.taken += len(taken)

        self._over.wait(PACK_EVERY * number / TRANSMITTERS)
        self._again(PACK_EVERY, one)

    def _count(self, kept: Path) -> None:
        reader = ReadingsReader(kept / READINGS)
        self.load.kept = sum(len(reader.columns(*channel)) for channel in reader.channels())
        reader.close()
        book = read_book(kept / LOG_BOOK)
        keys = [e.deed.key for e in book.entries() if e.deed.kind is Kind.NOTE]
        self.load.taps_kept = len({key for key in keys if key.startswith("load-")})
        book.close()


def resident(process: int) -> float:
    """Memory of a process [megabytes]."""
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return float(line.split()[1]) / 1024.0
    return 0.0


def under_load(lasts: float, particles: int, station: Path | None = None) -> Load:
    """Load a console for a while.

    Args:
        lasts: How long [s].
        particles: Of each wearer's live estimate; 0 for none.
        station: Folder of the demo; made when None.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if station is None:
            station = folder / "station"
            subprocess.run(
                [COMMAND, "new", str(station), "--demo"], check=True, capture_output=True
            )
        return Run(folder, lasts, particles).run(station)


def console_load(lasts: float = LASTS, particles: int = 0) -> dict[str, float]:
    """Figures of a console under load; fails when anything was lost.

    Args:
        lasts: How long [s].
        particles: Of each wearer's live estimate; 0 for none.
    """
    load = under_load(lasts, particles)
    assert not load.faults, load.faults
    assert load.kept == load.taken, "readings were lost"
    assert load.taps_kept == len(load.tap_ms), "taps were lost"
    found = {
        f"console_{name}_{word}_ms": float(np.percentile(each, percent))
        for name, each in (("tap", load.tap_ms), ("raw_sync", load.raw_ms))
        for word, percent in (("p50", 50.0), ("p99", 99.0))
    }
    return {
        **found,
        "console_tap_p99_vs_raw_sync": found["console_tap_p99_ms"]
        / found["console_raw_sync_p99_ms"],
        "console_readings_per_second": load.taken / lasts,
        "console_memory_megabytes": load.memory[-1],
        "console_memory_growth": load.memory[-1] / load.memory[0],
    }


if __name__ == "__main__":
    for key, figure in console_load(float(sys.argv[1]) if len(sys.argv) > 1 else LASTS).items():
        print(f"{key}: {figure:.3f}")
