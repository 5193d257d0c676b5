"""Readings over a serial line: torn lines, garbage, a port that is unplugged."""

from __future__ import annotations

import os
import pty
import random
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.live.brokers import eventually
from tests.live.sensor_worlds import Collected, intake, said_of

from neckring.live.entries import Stamp
from neckring.live.sensors.intake import Intake
from neckring.live.sensors.record import MessageError, Record
from neckring.live.sensors.serial_line import LineCutter, SerialSource
from neckring.live.sensors.text_line import LONGEST_LINE, line_sum, parse_line, parse_value

BEGUN = time.monotonic()


def clock() -> Stamp:
    now = time.monotonic()
    return Stamp(time.time(), now, now - BEGUN)


class Line:
    """A pseudo terminal: one end for the suit, the other is the port."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self._suit = self._port = -1
        self.plug_in()

    def plug_in(self) -> None:
        self._suit, self._port = pty.openpty()
        tty.setraw(self._port)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(self._port))

    def send(self, data: bytes) -> None:
        os.write(self._suit, data)

    def unplug(self) -> None:
        self.link.unlink(missing_ok=True)
        for end in (self._suit, self._port):
            os.close(end)


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    made = Line(tmp_path / "port")
    yield made
    made.unplug()


class Listening:
    def __init__(self, line: Line) -> None:
        self.intake: Intake = intake()
        self.got = Collected()
        self.source = SerialSource(str(line.link), "A", self.intake, self.got, clock)
        self.source.start()

    def __enter__(self) -> Listening:
        assert eventually(lambda: self.source.link.connected)
        time.sleep(0.05)  # until what was in the port before has been let go
        return self

    def __exit__(self, *_: object) -> None:
        self.source.stop()
        assert threading.active_count() < 50

    def values(self) -> list[tuple[str, float]]:
        return [(r.channel, round(r.value, 9)) for r in self.got.readings]


def test_lines_arrive_and_the_first_torn_one_does_not(line: Line) -> None:
    with Listening(line) as listening:
        line.send(b"rt 184 /min\nheart 84 /min\r\nwater_in=12.5\n\n")
        line.send(b'[{"n":"flow","u":"l/s","v":0.02},{"n":"humidity","u":"%RH","v":62}]\n')
        line.send(b"humidity 62 %\nbattery 14.4")
        assert eventually(lambda: len(listening.got.readings) >= 5)
        line.send(b"1 V\n")
        assert eventually(lambda: len(listening.got.readings) >= 6)
    assert listening.values() == [
        ("heart", 1.4),
        ("water_in", 12.5),
        ("flow", 2e-5),
        ("humidity", 0.62),
        ("humidity", 0.62),
        ("battery", 14.41),
    ]
    assert listening.intake.untaken() == ()


def test_torn_lines_and_garbage_are_told_and_the_next_good_line_counts(line: Line) -> None:
    chance = random.Random(11)
    with Listening(line) as listening:
        line.send(b"\n")
        for number in range(60):
            noise = chance.randbytes(chance.randrange(1, 30)).replace(b"\n", b"?")
            line.send(noise.replace(b"\r", b"?") + b"\n")
            line.send(f"heart {80 + number % 3} /min\n".encode())
            line.send(b'[{"n":"heart","v":8\n')
            assert eventually(lambda n=number: len(listening.got.readings) >= n + 1)
    assert [channel for channel, _ in listening.values()] == ["heart"] * 60
    assert sum(each.count for each in listening.intake.untaken()) >= 110


def test_a_port_that_is_unplugged_is_opened_again(line: Line) -> None:
    with Listening(line) as listening:
        line.send(b"\nheart 84\n")
        assert eventually(lambda: len(listening.got.readings) == 1)
        line.unplug()
        assert eventually(lambda: not listening.source.link.connected)
        assert listening.source.link.trouble
        line.plug_in()
        assert eventually(lambda: listening.source.link.connected)
        time.sleep(0.05)
        line.send(b"\nheart 85\n")
        assert eventually(lambda: len(listening.got.readings) == 2)


def test_a_port_that_is_not_there_is_told(tmp_path: Path) -> None:
    source = SerialSource(str(tmp_path / "none"), "A", intake(), Collected(), clock)
    source.start()
    assert eventually(lambda: "No such file" in source.link.trouble)
    source.stop()


@given(st.lists(st.binary(max_size=30), max_size=20), st.randoms(use_true_random=False))
def test_lines_are_the_same_however_the_bytes_come(
    lines: list[bytes], chance: random.Random
) -> None:
    # Given lines behind a torn one, cut into any pieces
    lines = [each.replace(b"\n", b"").replace(b"\r", b"") for each in lines]
    stream = b"torn\n" + b"".join(each + b"\r\n" for each in lines)
    cuts = sorted(chance.randrange(len(stream) + 1) for _ in range(5))
    pieces = [stream[a:b] for a, b in zip([0, *cuts], [*cuts, len(stream)], strict=True)]
    # When they are put together, then the whole lines come out
    cutter = LineCutter()
    found = [line for piece in pieces for line in cutter.cut(piece)]
    assert found == [each for each in lines if each.strip()]


def test_a_line_without_end_is_let_go() -> None:
    cutter = LineCutter()
    assert cutter.cut(b"\n" + b"x" * (LONGEST_LINE + 1)) == []
    assert cutter.too_long == 1
    assert cutter.cut(b"rest\nheart 84\n") == [b"heart 84"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("heart 84 /min", Record("heart", 84.0, "/min")),
        ("heart=84", Record("heart", 84.0)),
        ("urn:dev:x:heart\t-8.4e1", Record("urn:dev:x:heart", -84.0)),
        (f"heart 84 /min*{line_sum('heart 84 /min')}", Record("heart", 84.0, "/min")),
        (f"heart 84 /min*{line_sum('heart 84 /min').lower()}", Record("heart", 84.0, "/min")),
    ],
)
def test_lines(text: str, expected: Record) -> None:
    assert parse_line(text) == expected


def test_the_sum_of_a_line_is_that_of_a_known_sentence() -> None:
    # Source: NMEA 0183, the sentence of most manuals, from memory: its sum is 47.
    sentence = "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    assert line_sum(sentence) == "47"


def test_a_lost_byte_shows_by_the_sum() -> None:
    whole = f"heart 184 /min*{line_sum('heart 184 /min')}"
    assert parse_line(whole).value == 184.0
    with pytest.raises(MessageError, match="something was lost"):
        parse_line(whole.replace("184", "18"))


@pytest.mark.parametrize(
    "text", ["", "84", "heart", "heart rate 84", "heart nan", "heart 8,4", "é 1"]
)
def test_what_is_no_line_is_refused(text: str) -> None:
    with pytest.raises(MessageError, match="no line"):
        parse_line(text)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    assert said_of(parse_line, text)
    assert said_of(lambda each: parse_value("x", each), text)
