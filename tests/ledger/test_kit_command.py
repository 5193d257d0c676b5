"""`neckring kit` as it is typed; the ledger on disk, and what a kill leaves of it."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from tests.ledger.shelf import sheet
from tests.station.faulty import write_demo

from neckring.kit_command import kit
from neckring.ledger.ledger_state import fold
from neckring.ledger.records import Act
from neckring.live.entries import BookError
from neckring.records.ledger_book import (
    LedgerRefusedError,
    ledger_book,
)
from neckring.records.ledger_entries import FILE, read_records
from neckring.records.ledger_standing import read_standing


@pytest.fixture
def station(tmp_path: Path) -> Path:
    write_demo(tmp_path)
    return tmp_path


def typed(station: Path, *words: str) -> Result:
    deed = words and not words[0].startswith("-") and "--by" not in words
    by = ["--by", "T1"] if deed else []
    return CliRunner().invoke(kit, [*words, "--station", str(station), *by])


def test_the_state_of_every_kit_with_its_reasons(station) -> None:
    found = typed(station)
    assert found.exit_code == 0
    assert "KA (kit A): NO-GO" in found.output
    assert "FA2, air flow of the fan at the helmet inlet: never measured" in found.output
    assert "invented data" in found.output
    assert all(len(line) <= 80 and line.isascii() for line in found.output.splitlines())
    assert typed(station, "--strict").exit_code == 1


def test_an_item_counted_out_twice_is_refused_and_nothing_is_lost(station) -> None:
    assert (
        "entry 1: FA1 out for run yard-walk"
        in typed(station, "out", "FA1", "--run", "yard-walk").output
    )
    again = typed(station, "out", "FA1")
    assert again.exit_code == 2
    assert "not recorded: FA1 is out already: entry 1" in again.stderr
    assert [record.text("item") for record in read_records(station / "kept")] == ["FA1"]


def test_a_day_with_a_kit(station) -> None:
    # Given a battery, a fan that fails its check, pins out and one lost
    for words in (
        ("out", "bag-a", "pins", "3", "--run", "yard-walk"),
        ("in", "bag-a", "pins", "2", "--run", "yard-walk"),
        ("lost", "bag-a", "pins", "1", "--run", "yard-walk", "--words", "in the gravel"),
        ("cycle", "BA", "--charge", "11.8 Ah", "--voltage", "14.8 V"),
        ("check", "FA1", "fan_flow", "80 L/min"),
        ("fault", "HA", "fogs", "--words", "again"),
        ("accept", "6", "--words", "short run", "--by", "L1"),
        ("stocked", "bag-a", "pins", "1", "--words", "found"),
    ):
        found = typed(station, *words)
        assert found.exit_code == 0, (words, found.output)
    # When the state is asked for as JSON
    told = json.loads(typed(station, "--kit", "KA", "--json").output)
    # Then it holds all of it
    words = [reason["words"] for reason in told["kits"][0]["reasons"]]
    assert told["records"] == 8
    assert any("read 80 L/min" in one for one in words)
    assert any("fogs for every wearer" in one and "accepted by L1" in one for one in words)
    assert not any("pins" in one for one in words)
    text = typed(station, "--kit", "KA").output
    assert "175 Wh" in text


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("check", "FA1", "fan_flow", "80 kPa"), 'read "80 kPa" (a pressure); accepted: a flow'),
        (("check", "FA1", "fan_flow", "80"), "accepted: a flow"),
        (("check", "RA", "full", "7 +/- 1 kg"), "without a spread"),
        (("cycle", "BA", "--charge", "4 V"), "--charge: read"),
        (("out", "FA1", "--run", "yard-wlk"), 'did you mean yard-walk?'),
        (("out", "bag-a"), "say which piece and how many"),
        (("out", "FA1", "pins", "2"), "is one item with a serial"),
        (("out", "FA1", "--at", "yesterday"), 'as in "2026-11-27 10:05"'),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_told_in_words_and_nothing_is_written(station, words, told) -> None:
    found = typed(station, *words)
    assert found.exit_code == 2
    assert told in found.stderr
    assert not list(read_records(station / "kept"))


def test_whoever_records_is_somebody_of_the_station(station) -> None:
    found = CliRunner().invoke(kit, ["out", "FA1", "--station", str(station), "--by", "Maria"])
    assert found.exit_code == 2
    assert 'no person has the code "Maria"' in found.stderr


def test_only_the_lead_accepts_a_fault(station) -> None:
    typed(station, "fault", "HA", "fogs")
    found = typed(station, "accept", "1", "--words", "short run")
    assert found.exit_code == 2
    assert "the lead, who alone accepts a fault: L1" in found.stderr
    assert len(list(read_records(station / "kept"))) == 1


def test_without_a_list_of_kit_it_says_so(station) -> None:
    (station / "kit_items.yaml").unlink()
    found = typed(station)
    assert found.exit_code == 2
    assert found.stderr.startswith("kit_items.yaml: nothing (no such file)")


def test_the_same_key_sent_again_writes_nothing_new(tmp_path) -> None:
    with ledger_book(tmp_path, sheet(), lambda: 100.0) as book:
        first = book.take(Act.OUT, "T1", {"item": "F1"}, key="tap-1")
        assert book.take(Act.OUT, "T1", {"item": "F1"}, key="tap-1") == first
        with pytest.raises(LedgerRefusedError, match="out already"):
            book.take(Act.OUT, "T1", {"item": "F1"}, key="tap-2")
    assert fold(read_records(tmp_path)).last == first


def test_the_state_read_again_is_the_state_as_it_was(tmp_path) -> None:
    with ledger_book(tmp_path, sheet(), lambda: 100.0) as book:
        book.take(Act.OUT, "T1", {"bag": "red", "piece": "pins", "count": 3, "run": "R1"})
        book.take(Act.CYCLE, "T1", {"item": "B1", "charge": 36000.25, "voltage": 14.5})
        book.take(Act.CHECK, "T1", {"item": "F1", "check": "flow", "value": 0.5, "passed": True,
                                    "part": "fan"})  # fmt: skip
        assert read_standing(tmp_path).ledger == book.state


def test_a_record_that_was_changed_is_found(tmp_path) -> None:
    # Given a ledger in which somebody changes who had it
    with ledger_book(tmp_path, sheet(), lambda: 100.0) as book:
        book.take(Act.OUT, "T1", {"item": "F1"})
    raw = sqlite3.connect(tmp_path / FILE)
    raw.execute("DROP TRIGGER entry_stays")
    raw.execute("UPDATE entry SET text = replace(text, 'T1', 'T2')")
    raw.commit()
    raw.close()
    # When it is read, then that is told
    with pytest.raises(BookError):
        read_standing(tmp_path)


WRITER = """
import sys
from pathlib import Path
from neckring.ledger.records import Act
from neckring.records.ledger_book import ledger_book
from shelf import sheet
with ledger_book(Path(sys.argv[1]), sheet(), lambda: 100.0) as book:
    while True:
        for act in (Act.OUT, Act.IN):
            print(book.take(act, "T1", {"item": "F1"}).number, flush=True)
"""


def test_what_was_answered_is_there_after_a_kill(tmp_path) -> None:
    # Given a program that counts out and in as fast as it can
    beside = str(Path(__file__).parent)
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(tmp_path)],
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": beside},
    )
    assert writer.stdout is not None
    answered = [int(writer.stdout.readline()) for _ in range(25)]
    # When it is killed
    writer.send_signal(signal.SIGKILL)
    rest = [int(line) for line in writer.stdout.read().split()]
    writer.wait()
    # Then every answer stands in the ledger, in order, and it can be gone on with
    numbers = [record.number for record in read_records(tmp_path)]
    assert numbers[: len(answered) + len(rest)] == [*answered, *rest]
    with ledger_book(tmp_path, sheet(), lambda: 100.0) as book:
        act = Act.IN if book.state.item("F1").out else Act.OUT
        assert book.take(act, "T1", {"item": "F1"}).number == len(numbers) + 1


def test_kits_of_a_run_are_judged_at_its_start_with_what_else_wants_them(station) -> None:
    # given a second run that wants the suit of another of the same day
    yard = (station / "runs" / "yard-walk.yaml").read_text(encoding="utf-8")
    again = yard.replace("code: yard-walk", "code: again").replace('"10:00"', '"10:30"')
    (station / "runs" / "again.yaml").write_text(again, encoding="utf-8")
    # when its kits are asked for, then only they are told of, and the other run is
    found = typed(station, "--run", "again")
    assert "KB (kit B)" in found.output
    assert "KA (kit A)" not in found.output
    assert "yard-walk has it before" in found.stderr
    # and what is out for it does not speak against it, but against the other
    typed(station, "out", "FB1", "--run", "again")
    typed(station, "out", "bag-b", "pins", "2", "--run", "again")
    assert "still out" not in typed(station, "--run", "again").output
    assert "pins" not in typed(station, "--run", "again").output
    other = typed(station, "--run", "yard-walk").output
    assert "FB1, helmet fan: still out for run again" in other
    assert "10 of 12 pins, 2 out" in other


def test_a_run_without_a_kit_and_a_kit_of_another_suit_are_refused(station) -> None:
    found = typed(station, "--run", "yard-walk", "--kit", "KA")
    assert found.exit_code == 2
    assert 'read "yard-walk", in suit wagtail; accepted kits of this suit: KB' in found.stderr
    assert "did you mean yard-walk?" in typed(station, "--run", "yard-wlk").stderr


def test_what_goes_out_although_it_is_grounded_is_warned_of(station) -> None:
    typed(station, "fault", "HA", "ring")
    found = typed(station, "out", "HA", "--run", "floor-survey")
    assert found.exit_code == 0
    assert "entry 2: HA out for run floor-survey" in found.output
    assert "WARNING: HA, helmet: neck ring does not seat, fault 1" in found.stderr
