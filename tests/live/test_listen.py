"""`neckring listen`: what arrives, and what it is taken for."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from tests.live.brokers import MOSQUITTO, NO_MOSQUITTO, Mosquitto
from tests.live.test_sensors_mqtt import Suit
from tests.station.faulty import DIPPER, write_demo

from neckring.cli import main

PAST = """time,wearer,name,value,unit
0,A,heart,84,
0,A,water_in,54,[degF]
0,A,water_out,59,
0,A,co2,0.8,
0,A,humidity,450,%
0,A,hart,84,
1,A,heart,85,
"""


@pytest.fixture
def station(tmp_path: Path) -> Path:
    folder = tmp_path / "quarry"
    write_demo(folder)
    (folder / "past.csv").write_text(PAST)
    return folder


def listen(station: Path, *words: str) -> Result:
    typed = ["listen", *words, "--station", str(station)]
    return CliRunner().invoke(main, typed, env={"COLUMNS": "140"})


def replayed(station: Path, file: str = "past.csv") -> list[dict[str, Any]]:
    end = listen(station, "dipper", "--file", str(station / file), "--json", "--speed", "1000")
    assert end.exit_code == 0, end.output
    return [json.loads(line) for line in end.stdout.splitlines()]


def test_json_lines_say_what_each_was_taken_for(station: Path) -> None:
    lines = replayed(station)
    readings = {line["name"]: line for line in lines if "untaken" not in line}
    assert readings["water_in"]["value"] == pytest.approx(12.222, abs=1e-3)
    assert readings["water_in"]["unit"] == "Cel"
    assert readings["water_in"]["taken_for"] == "water_inlet_temperature"
    assert readings["heart"]["value"] == pytest.approx(85 / 60)
    assert readings["water_out"]["flaws"] == ["unit mistaken"]
    assert readings["humidity"]["flaws"] == ["unit mistaken"]  # 450 per mille would fit
    assert readings["co2"]["unit"] == "Pa"
    assert readings["heart"]["stands_on"] == ["heart"]
    (untaken,) = (line["untaken"] for line in lines if "untaken" in line)
    assert (untaken["name"], untaken["why"]) == ("hart", "no sensor of the suit has this name")


def test_what_it_prints_can_be_played_again(station: Path) -> None:
    # Given what was printed of a file
    first = replayed(station)
    text = "\n".join(json.dumps(line) for line in first)
    (station / "again.jsonl").write_text(text)
    # When that is played, then the same readings come
    again = replayed(station, "again.jsonl")
    wanted = [(line["name"], line["value"]) for line in first if "untaken" not in line]
    found = [(line["name"], line["value"]) for line in again if "untaken" not in line]
    assert [name for name, _ in found] == [name for name, _ in wanted]
    assert [value for _, value in found] == pytest.approx([value for _, value in wanted])


def test_the_table_shows_every_channel_its_state_and_what_was_not_taken(station: Path) -> None:
    end = listen(station, "dipper", "--file", str(station / "past.csv"), "--speed", "1000")
    assert end.exit_code == 0
    rows = {cells[1].strip(): cells for line in end.output.splitlines() if (cells := _cells(line))}
    assert [cell.strip() for cell in rows["heart"]][:4] == ["A", "heart", "heart rate", "85 bpm"]
    assert "good" in rows["heart"][5]
    assert "it would fit in [degF]" in rows["water_out"][5]
    assert "nothing came yet" in rows["battery"][5]
    assert "no sensor of the suit has this name" in end.output


def _cells(line: str) -> list[str]:
    cells = line.replace("┃", "│").split("│")[1:-1]
    return cells if len(cells) == 6 else []


@pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)
def test_it_listens_to_a_broker_until_its_time_is_up(station: Path, tmp_path: Path) -> None:
    # Given a broker, and the command that listens in a process of its own
    broker = Mosquitto(tmp_path)
    broker.start()
    words = ["listen", "--mqtt", broker.url, "--json", "--for", "1.5", "--station", str(station)]
    start = "from neckring.cli import main; main()"
    listening = subprocess.Popen(
        [sys.executable, "-c", start, *words], stdout=subprocess.PIPE, text=True
    )
    # When a suit sends all the while, by its code as no wearer is named
    suit = Suit(broker.port)
    while listening.poll() is None:
        suit.send("neckring/wagtail/heart", "84")
        time.sleep(0.1)
    output = listening.communicate(timeout=20)[0]
    suit.stop()
    broker.kill()
    # Then it was heard
    first = json.loads(output.splitlines()[0])
    assert (first["wearer"], first["name"], first["flaws"]) == ("wagtail", "heart", [])
    assert listening.returncode == 0


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        ((), 2, "give one of --mqtt"),
        (("--mqtt", "x", "--serial", "y"), 2, "give one of --mqtt"),
        (("heron", "--mqtt", "mqtt://x"), 2, 'no suit has the code "heron"'),
        (("dipper", "--mqtt", "http://x"), 2, "accepted: mqtt://HOST:PORT"),
        (("dipper", "--file", "none.csv"), 2, "No such file"),
        (("dipper", "--serial", "/dev/none", "--for", "0.5"), 1, "no reading came"),
    ],
)
def test_what_cannot_be_done_is_said(
    station: Path, words: tuple[str, ...], status: int, said: str
) -> None:
    end = listen(station, *words)
    assert (end.exit_code, said in end.output) == (status, True), end.output


def test_a_suit_without_sensors_is_told_where_to_write_them(station: Path) -> None:
    # Given a suit whose list of sensors was taken out
    text = (station / DIPPER).read_text()
    (station / DIPPER).write_text(re.sub(r"\nsensors:\n(?:  .*\n)+", "\n", text))
    end = listen(station, "dipper", "--file", str(station / "past.csv"))
    assert end.exit_code == 2
    assert "suit dipper has no sensors" in end.output
