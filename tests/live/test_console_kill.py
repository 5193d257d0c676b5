"""kill -9 of the whole console while 8 devices tap and 2 suits stream, over HTTP.

Under NECKRING_SOAK=1 it is killed 1,000 times, some 35 a minute. As with the book alone
(test_book_kill.py) this says nothing about power loss.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import pytest
from book_worlds import in_memory
from brokers import free_port
from console_clients import PEOPLE, SOURCE_DIGEST, Busy, Suit, Tablet, count_of
from demo_day import DEMO, sheet

from neckring.live.entries import Entry, Kind
from neckring.live.open_book import open_book
from neckring.live.readings_file import ReadingsReader
from neckring.served_run.wanted import LOG_BOOK, READINGS, SESSIONS
from neckring.web.console_parts import Kept
from neckring.web.session_file import SessionFile

SOAK = os.environ.get("NECKRING_SOAK") == "1"
RUNS, KILLS = (10, 100) if SOAK else (1, 8)
DEVICES = 8
LONGEST = 3600.0
KILLING = Path(__file__).with_name("console_killing.py")


@contextmanager
def killing(kept: Path, port: int, seed: int) -> Iterator[subprocess.Popen[str]]:
    """The program that kills; ended whatever happens here."""
    command = (sys.executable, KILLING, DEMO, kept, str(port), str(seed), str(KILLS))
    process = subprocess.Popen(
        [str(part) for part in command],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=(kept / "stderr").open("w"),
        text=True,
        start_new_session=True,
    )
    try:
        yield process
    finally:
        if process.poll() is None:
            os.killpg(process.pid, 9)
            process.wait()


def pins_of(lines: IO[str]) -> dict[str, str]:
    """PINs by part, as the console prints them."""
    pins: dict[str, str] = {}
    for line in lines:
        if found := re.match(r"\s+(lead|tender|medic|wall|trainer)\s+(\S+)\s*$", line):
            pins[found[1]] = found[2]
        if "Ctrl-C" in line:
            return pins
    raise AssertionError("the console printed no PINs")


def paired(port: int, pins: dict[str, str]) -> list[Tablet]:
    found = []
    for number in range(DEVICES):
        role, person = PEOPLE[number % len(PEOPLE)]
        found.append(Tablet(port, f"d{number}").pair(pins[role], person))
    return found


def lives_and_dies(kept: Path, seed: int) -> Busy:
    """Devices and suits beside a console that is killed again and again."""
    port = free_port()
    SessionFile(kept / SESSIONS).save(Kept(sources={"bench": SOURCE_DIGEST}))
    with killing(kept, port, seed) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        tablets = paired(port, pins_of(process.stdout))
        busy = Busy(tablets, [Suit(port, "A"), Suit(port, "B")]).start()
        try:
            process.stdin.write("go\n")
            process.stdin.flush()
            for line in process.stdout:
                if line == "last\n":
                    break
            else:
                raise AssertionError((kept / "stderr").read_text())
            # The last console answers what was not answered yet, and some more.
            time.sleep(1.0)
        finally:
            busy.stop()
        process.stdin.close()
        assert process.wait(60) == 0, (kept / "stderr").read_text()
    return busy


def hold_against(entries: list[Entry], busy: Busy) -> None:
    """Every acknowledged tap stands once, where its device was told, each device's in order."""
    assert [entry.number for entry in entries] == list(range(1, len(entries) + 1))
    keys = [entry.deed.key for entry in entries]
    assert len(set(keys)) == len(keys)
    for tablet in busy.tablets:
        assert len(tablet.told) == tablet.taps
        for key, number in tablet.told.items():
            assert entries[number - 1].deed.key == key
            assert entries[number - 1].deed.kind is Kind.NOTE
        own = [key for key in keys if key.startswith(f"{tablet.name}-")]
        assert own == [f"{tablet.name}-{tap}" for tap in range(1, tablet.taps + 1)]


def hold_readings(kept: Path, suits: list[Suit]) -> None:
    """What is kept of each suit is in order and once; at a kill only what came last is missing."""
    reader = ReadingsReader(kept / READINGS)
    for suit in suits:
        values = reader.columns(suit.wearer, "helmet_air").value
        counts = [count_of(float(value)) for value in values]
        assert counts == sorted(set(counts))
        missing = [n for n in suit.acknowledged if n not in set(counts)]
        # A hole ends where a new console began; there are no more holes than kills.
        holes = sum(n - 1 not in missing for n in missing)
        assert holes <= KILLS
        # The last console was ended in order: all that it took is there.
        assert suit.acknowledged[-1] in counts
    reader.close()


@pytest.mark.parametrize("seed", range(RUNS))
def test_a_killed_console_loses_nothing_it_acknowledged(seed: int) -> None:
    with in_memory() as folder:
        # Given devices that tap, suits that stream, and a console that is killed and started again
        kept = Path(folder)
        busy = lives_and_dies(kept, seed)

        # When its book is opened for the last time, then it verifies
        book = open_book(kept / LOG_BOOK, sheet().station)
        entries = list(book.entries())
        assert book.verify().count == len(entries)
        book.close()

        # And it holds what was acknowledged, once and in order
        hold_against(entries, busy)
        hold_readings(kept, busy.suits)
        assert sum(entry.deed.kind is Kind.RESTARTED for entry in entries) >= KILLS // 2
        # Half of the kills came between commit and reply: devices that sent again were told so
        assert sum(len(tablet.known) for tablet in busy.tablets) > 0
