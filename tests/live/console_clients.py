"""Devices and suits of a console over HTTP: a tap is sent until it is answered, as a page does."""

from __future__ import annotations

import http.client
import json
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

from neckring.web.pairing import digest_of

TOKEN = "a suit's token for tests"
SOURCE_DIGEST = digest_of(TOKEN)
PEOPLE = (("lead", "L1"), ("tender", "T1"), ("tender", "T2"), ("medic", "M1"))
ANSWERED_WITHIN = 20.0
MILLIONTH = 1e-6


class NotAnsweredError(Exception):
    """The console is not there, or went before it answered."""


@dataclass
class Line:
    """One connection, made anew when it breaks."""

    port: int
    _connection: http.client.HTTPConnection | None = None

    def post(
        self, path: str, sent: bytes, token: str, kind: str = "application/json"
    ) -> tuple[int, dict]:
        headers = {"content-type": kind, "authorization": f"Bearer {token}"}
        try:
            if self._connection is None:
                self._connection = http.client.HTTPConnection(
                    "127.0.0.1", self.port, timeout=ANSWERED_WITHIN
                )
            self._connection.request("POST", f"/api/v1/{path}", sent, headers)
            answer = self._connection.getresponse()
            return answer.status, json.loads(answer.read() or b"null")
        except (OSError, http.client.HTTPException, ValueError) as error:
            self.close()
            raise NotAnsweredError(str(error)) from None

    def close(self) -> None:
        if self._connection is not None:
            self._connection.close()
            self._connection = None


@dataclass
class Tablet:
    """A paired device that taps one thing after the other.

    Attributes:
        told: Number of the entry that each key was answered with.
        known: Keys whose answer was lost and that were known when they were sent again.
        waits: From each tap until it was acknowledged, all sendings together [s].
        refused: Answers of 503 with their words.
    """

    port: int
    name: str
    token: str = ""
    taps: int = 0
    told: dict[str, int] = field(default_factory=dict)
    known: list[str] = field(default_factory=list)
    waits: list[float] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.line = Line(self.port)

    def pair(self, pin: str, person: str) -> Tablet:
        sent = json.dumps({"pin": pin, "person": person, "program": True}).encode()
        status, told = self.line.post("pair", sent, "")
        assert status == 201, told
        self.token = told["token"]
        return self

    def send(self, key: str, kind: str, tapped_at: float | None = None, **body: object):
        """One sending: status and answer."""
        deed = {"key": key, "kind": kind, "body": body, "tapped_at": tapped_at, "offset": 0.0}
        return self.line.post("deeds", json.dumps(deed).encode(), self.token)

    def tap(self, going: Callable[[], bool] = lambda: True) -> None:
        """One note, sent until it is answered; or given up when nothing goes on any more."""
        self.taps += 1
        key, begun = f"{self.name}-{self.taps}", time.perf_counter()
        while going():
            try:
                status, told = self.send(key, "note", time.time(), words=f"tap {self.taps}")
            except NotAnsweredError:
                time.sleep(0.01)
                continue
            if status == 200:
                break
            assert status == 503, (status, told)
            self.refused.append(told["detail"])
            time.sleep(0.02)
        else:
            return
        assert told["status"] in ("recorded", "known"), told
        self.waits.append(time.perf_counter() - begun)
        self.told[key] = told["number"]
        if told["status"] == "known":
            self.known.append(key)


@dataclass
class Suit:
    """A suit that sends packs; the helmet's temperature counts them, in millionths.

    Attributes:
        acknowledged: Count of each pack that was answered, in order.
    """

    port: int
    wearer: str
    channels: tuple[str, ...] = ("helmet_air",)
    sent: int = 0
    acknowledged: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.line = Line(self.port)

    def send(self) -> None:
        """One pack; one that is not answered is not sent again, since sensors do not."""
        self.sent += 1
        value = 20.0 + self.sent * MILLIONTH
        pack = [{"n": name, "v": value} for name in self.channels]
        with suppress(NotAnsweredError):
            status, told = self.line.post(
                f"readings?wearer={self.wearer}",
                json.dumps(pack).encode(),
                TOKEN,
                "application/senml+json",
            )
            assert status == 202, told
            self.acknowledged.append(self.sent)


def count_of(value: float) -> int:
    """Which pack a reading was in."""
    return round((value - 20.0) / MILLIONTH)


@dataclass
class Busy:
    """Tablets and suits that go on by themselves until they are stopped.

    Attributes:
        faults: What failed in one of their threads.
    """

    tablets: list[Tablet]
    suits: list[Suit]
    pause: float = 0.02
    every: float = 0.1
    faults: list[BaseException] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._over, self._given_up = threading.Event(), threading.Event()
        acts = [(lambda t=t: t.tap(self._going), self.pause) for t in self.tablets]
        acts += [(s.send, self.every) for s in self.suits]
        self._threads = [threading.Thread(target=self._again, args=act) for act in acts]

    def _going(self) -> bool:
        return not self._given_up.is_set()

    def _again(self, act: Callable[[], None], pause: float) -> None:
        due = time.monotonic()
        try:
            while not self._over.is_set():
                act()
                due = max(due + pause, time.monotonic() - 1.0)
                self._over.wait(max(0.0, due - time.monotonic()))
        except BaseException as fault:
            self.faults.append(fault)

    def start(self) -> Busy:
        for thread in self._threads:
            thread.start()
        return self

    def stop(self, patience: float = 60.0) -> None:
        """Let each finish the tap at hand."""
        self._over.set()
        for thread in self._threads:
            thread.join(patience)
        self._given_up.set()
        for thread in self._threads:
            thread.join()
        assert not self.faults, self.faults
