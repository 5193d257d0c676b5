"""Two runs of a day that want one suit, or one wearer: told, not refused."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
from tests.station.faulty import write_demo

from neckring.station.loading import load_station
from neckring.station.same_day import outing_time

SECOND = """code: second
title: Again in the yard
wearer: {wearer}
suit: wagtail
date: {date}
start: "{start}"
outing:
  - {{spell: stand, place: bay, for: 12 min, cooling: none, air: none, helmet: off}}
"""


@pytest.fixture
def station(tmp_path: Path) -> Path:
    write_demo(tmp_path)
    return tmp_path


def told(station: Path, start: str, wearer: str = "W4", date: str = "2026-11-27") -> list[str]:
    """Warnings with a second run beside yard-walk, which is in kit KB from 10:00 to 10:56."""
    second = SECOND.format(start=start, wearer=wearer, date=date)
    (station / "runs" / "second.yaml").write_text(second, encoding="utf-8")
    return [str(warning) for warning in load_station(station).warnings]


def test_the_demo_warns_of_nothing_and_its_outing_takes_as_long_as_planned(station) -> None:
    loaded = load_station(station)
    assert loaded.warnings == ()
    took = outing_time(loaded.station, loaded.runs["yard-walk"])
    assert took == pytest.approx(datetime.timedelta(minutes=56), abs=datetime.timedelta(minutes=1))


def test_two_at_once_in_one_suit(station) -> None:
    (warning,) = told(station, "10:20")
    assert warning.startswith('runs/second.yaml:4:7: suit: read "wagtail"; accepted: another suit')
    assert "yard-walk has it before; kit_items.yaml lists kit KB of it" in warning


def test_one_after_the_other_before_the_garment_is_dry(station) -> None:
    (warning,) = told(station, "15:00")
    # 10:56 and twelve hours to dry and one to clean
    assert "a start from 23:56 on, when the cooling garment that yard-walk wore is dry" in warning
    # and late enough for that, it is too late for the run of the next morning, over midnight
    (warning,) = told(station, "23:57")
    assert warning.startswith("runs/floor-partner.yaml:")
    assert "a start from 13:09 on, when the cooling garment that second wore is dry" in warning
    assert told(station, "10:00", date="2026-11-30") == []


def test_one_wearer_in_two_runs_at_once(station) -> None:
    warnings = told(station, "10:20", wearer="W3")
    assert any('wearer: read "W3"; accepted: another wearer' in one for one in warnings)
    assert not any("wearer: read" in one for one in told(station, "11:00", wearer="W3"))


def test_a_second_kit_of_the_suit_is_enough_for_two(station) -> None:
    path = station / "kit_items.yaml"
    text = path.read_text(encoding="utf-8")
    kits = "  KB: {words: kit B, suit: wagtail}\n"
    assert kits in text
    path.write_text(text.replace(kits, f"{kits}  KC: {{words: kit C, suit: wagtail}}\n"))
    assert told(station, "10:20") == []


def test_without_a_list_of_kit_a_suit_is_there_once_and_nothing_is_known_of_drying(station) -> None:
    (station / "kit_items.yaml").unlink()
    (warning,) = told(station, "10:20")
    assert "a start from 10:56 on: yard-walk has it before" in warning
    assert told(station, "15:00") == []
