"""A past run played again from a file."""

from __future__ import annotations

import math
import time
from pathlib import Path

import pytest
from tests.live.brokers import eventually
from tests.live.sensor_worlds import Collected, intake, wired

from neckring.live.entries import Stamp
from neckring.live.sensors.file_replay import LARGEST_FILE, ReplaySource, parse_past, read_past
from neckring.live.sensors.record import Record
from neckring.live.sensors.source import SourceError

JSON_LINES = """{"time": 0, "wearer": "A", "name": "heart", "value": 84}
{"untaken": {"name": "x"}}

{"time": 0, "wearer": "B", "name": "water_in", "value": 285.15, "unit": "K", "flaws": []}
{"time": 1.5, "wearer": "A", "name": "air", "value": 0.0025, "unit": "m3/s", "actual": true}
"""
CSV = """time, wearer, name, value, unit
0, A, heart, 84,
0, B, water_in, 285.15, K
1.5, A, air, 0.0025, m3/s
"""


def clock() -> Stamp:
    return Stamp(time.time(), time.monotonic(), time.monotonic())


def test_both_forms_say_the_same() -> None:
    # Given a run in either form; only JSON can say that a flow is already as it flows
    as_json, as_csv = parse_past(JSON_LINES, "past.jsonl"), parse_past(CSV, "past.csv")
    assert as_json[:2] == as_csv[:2]
    assert as_json[2].record == Record("air", 0.0025, "m3/s", is_actual=True)
    assert as_csv[2].record == Record("air", 0.0025, "m3/s")
    assert [each.wearer for each in as_json] == ["A", "B", "A"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("time,value\n", "f:1: read time, value; accepted: a line of names"),
        ('{"time": 0', "f:1: not JSON"),
        ('{"time": 0, "wearer": "A", "name": "x"}', "f:1: value: read nothing"),
        ('{"time": 0, "wearer": 5, "name": "x", "value": 1}', "f:1: wearer: read 5"),
        ('{"time": 0, "wearer": "A", "name": "x", "value": true}', "value: read True"),
        ('{"time": 0, "wearer": "A", "name": "x", "value": NaN}', "value: read nan"),
        ('{"time": 0, "wearer": "A", "name": "x", "value": 1, "unit": 5}', "unit: read 5"),
        (
            '{"time": 1, "wearer": "A", "name": "x", "value": 1}\n'
            '{"time": 0, "wearer": "A", "name": "x", "value": 1}',
            "f:2: time: read 0; it may not go back",
        ),
        ("time,wearer,name,value\n0,A,heart,eighty\n", "f:2: value: read 'eighty'"),
        ("time,wearer,name,value\n0,A,heart\n", "f:2: value: read nothing"),
        ('{"time": 0}\n[1]', "f:1: wearer"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(text: str, words: str) -> None:
    with pytest.raises(SourceError) as refused:
        parse_past(text, "f")
    assert words in str(refused.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="No such file"):
        read_past(tmp_path / "none.csv")
    (tmp_path / "latin.csv").write_bytes(b"time\xff")
    with pytest.raises(SourceError, match="byte 5 is not UTF-8"):
        read_past(tmp_path / "latin.csv")
    (tmp_path / "empty.csv").write_text("time,wearer,name,value\n")
    with pytest.raises(SourceError, match="no reading"):
        read_past(tmp_path / "empty.csv")
    with (tmp_path / "huge.csv").open("wb") as file:
        file.truncate(LARGEST_FILE + 1)
    with pytest.raises(SourceError, match="larger than"):
        read_past(tmp_path / "huge.csv")


def test_a_file_is_played_in_order_and_then_ends(tmp_path: Path) -> None:
    # Given a file, played as fast as it goes
    (tmp_path / "past.jsonl").write_text(JSON_LINES)
    got = Collected()
    taker = intake(wired("A", "dipper"), wired("B", "wagtail"))
    source = ReplaySource(tmp_path / "past.jsonl", taker, got, clock, math.inf)
    source.start()
    assert eventually(lambda: source.finished)
    # Then all of it arrives, and an actual flow is not led to actual conditions again
    found = [(r.wearer, r.channel, r.value) for r in got.readings]
    assert found == [
        ("A", "heart", pytest.approx(1.4)),
        ("B", "water_in", pytest.approx(12.0)),
        ("A", "air", 0.0025),
    ]


def test_a_file_is_played_at_its_own_pace_times_the_speed(tmp_path: Path) -> None:
    # Given a file of 1.5 s, played three times as fast by a clock
    (tmp_path / "past.csv").write_text(CSV)
    got = Collected()
    source = ReplaySource(tmp_path / "past.csv", intake(), got, clock, speed=3.0)
    source.start()
    assert eventually(lambda: source.finished)
    # Then the last reading is at least half a second behind the first
    assert got.readings[-1].received - got.readings[0].received >= 0.49


def test_playing_may_be_stopped(tmp_path: Path) -> None:
    (tmp_path / "past.csv").write_text(CSV.replace("1.5,", "3600,"))
    got = Collected()
    source = ReplaySource(tmp_path / "past.csv", intake(), got, clock)
    source.start()
    assert eventually(lambda: got.readings)
    source.stop()
    assert not source.finished
    assert len(got.readings) == 1
