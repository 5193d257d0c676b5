"""Power loss: nothing acknowledged is lost when a disk keeps no more than what was synced.

A real desk, several clients tapping, runs over a recorder of every call to its files; so does a
store of readings. From the record a disk that keeps only its word (`book_disk.py`) makes what may
be left at any instant; book or store is opened on that, as after a reboot. Every instant of a
recorded life is one at which power may fail, so that one life serves for many. The next life goes
on from what one of them left.

Controls, which must lose something: synchronous=OFF, synchronous=NORMAL, folders not synced.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

import pytest
from book_disk import TOLD, Disk, Image, lay_out, read_trace, taken_up
from book_life import BOOK, CLIENTS, STATION, deed_of, told
from readings_life import CHANNELS, STORE, batches

from neckring.live.entries import BookError, Entry, Stamp
from neckring.live.readings_file import ReadingsError
from neckring.live.readings_store import ReadingsStore
from neckring.live.sqlite_book import SqliteBook

SOAK = os.environ.get("NECKRING_SOAK") == "1"
LIVES, INSTANTS, STEPS = (25, 40, 60) if SOAK else (4, 6, 25)
SEED_OF_CONTROLS = 5
"""One with which the write-ahead log is seldom emptied: that is when the disk is synced anyway."""
HERE = Path(__file__).parent

pytestmark = pytest.mark.skipif(
    shutil.which("gcc") is None or not sys.platform.startswith("linux"),
    reason="not installed: gcc, or this is not Linux: calls to files cannot be recorded",
)


@pytest.fixture(scope="module")
def recorder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    source, library = HERE / "book_recorder.c", tmp_path_factory.mktemp("recorder") / "recorder.so"
    subprocess.run(
        ("gcc", "-Wall", "-O1", "-fPIC", "-shared", "-o", library, source, "-ldl", "-lpthread"),
        check=True,
    )
    return library


@dataclass(frozen=True)
class Outcome:
    """What a power loss cost of what clients had been told."""

    told: int
    lost: int


@dataclass(frozen=True)
class Trial:
    """What lives, and how what is left of it is held against what clients were told."""

    program: str
    what_is_left: Callable[[Path, dict[tuple[int, int], int]], int]
    synchronous: str = "FULL"


def lost_of_a_book(folder: Path, promised: dict[tuple[int, int], int]) -> int:
    """Open the book, count what was promised and is not there, and tap once more."""
    try:
        book = SqliteBook(folder / BOOK, STATION)
    except BookError:
        return len(promised) or 1
    entries = list(book.entries())
    lost = sum(not stands(entries, tap, number) for tap, number in promised.items())
    if not lost:
        in_order_once(entries)
    if entries:
        assert book.append(entries[0].deed, entries[0].stamp) == entries[0]
    new = book.append(deed_of(CLIENTS, 1), book_stamp(entries))
    assert new.number == len(entries) + 1
    book.close()
    return lost


def book_stamp(entries: list[Entry]) -> Stamp:
    return entries[-1].stamp if entries else Stamp(1.8e9, 0.0, 0.0)


def stands(entries: list[Entry], tap: tuple[int, int], number: int) -> bool:
    """Whether a tap stands just where its client was told, as it was tapped."""
    return number <= len(entries) and entries[number - 1].deed == deed_of(*tap)


def in_order_once(entries: list[Entry]) -> None:
    """Each client's taps stand once, in the order in which they were made."""
    assert [entry.number for entry in entries] == list(range(1, len(entries) + 1))
    for client in range(CLIENTS):
        keys = [e.deed.key for e in entries if e.deed.device == f"tablet {client}"]
        assert keys == [f"c{client}-{tap}" for tap in range(1, len(keys) + 1)]


def lost_of_readings(folder: Path, promised: dict[tuple[int, int], int]) -> int:
    """Open the readings, and count promised batches that are not there, whole, once, in order."""
    last = max(promised.values(), default=0)
    try:
        store = ReadingsStore(folder / STORE, every=1e6)
    except ReadingsError:
        return last or 1
    found = [store.read(wearer, channel) for wearer in "AB" for channel in CHANNELS]
    store.close()
    count = len(found[0])
    whole = [batches(1, count, wearer, channel) for wearer in "AB" for channel in CHANNELS]
    return max(0, last - count) if found == whole else max(1, last)


BOOKS = Trial("book_life.py", lost_of_a_book)
READINGS = Trial("readings_life.py", lost_of_readings)


def live(recorder: Path, trial: Trial, folder: Path, seed: int) -> Path:
    """One life in a folder, recorded."""
    trace = folder.with_suffix(".trace")
    environment = {
        **os.environ,
        "LD_PRELOAD": str(recorder),
        "NECKRING_FOLDER": str(folder),
        "NECKRING_TRACE": str(trace),
    }
    program = HERE / trial.program
    subprocess.run(
        (sys.executable, program, folder, str(seed), str(STEPS), trial.synchronous),
        env=environment,
        check=True,
        timeout=120,
    )
    return trace


def lose_power(
    recorder: Path, trial: Trial, folder: Path, seed: int, lives: int, instants: int
) -> list[Outcome]:
    """Lives one after the other, each with power lost at many instants."""
    chance = Random(seed)
    image: Image = {}
    outcomes: list[Outcome] = []
    for number in range(lives):
        desk = folder / "desk"
        lay_out(image, desk)
        trace = live(recorder, trial, desk, seed + number)
        left = whatever_is_left(trace, image, desk, chance, instants)
        for each in left:
            promised = told(each.get(TOLD) or b"")
            lay_out({path: each[path] for path in each if path != TOLD}, folder / "left")
            lost = trial.what_is_left(folder / "left", promised)
            outcomes.append(Outcome(len(promised), lost))
            shutil.rmtree(folder / "left")
        image = chance.choice(left)
        shutil.rmtree(desk)
        trace.unlink()
    return outcomes


def whatever_is_left(
    trace: Path, image: Image, folder: Path, chance: Random, count: int
) -> list[Image]:
    """What power loss leaves at some instants of a recorded life, with what was told until then."""
    calls = read_trace(trace)
    instants = set(chance.sample(range(len(calls)), count))
    disk = Disk(image)
    left = []
    for instant, call in enumerate(calls):
        disk.do(call)
        if instant in instants:
            left.append({**disk.after_power_loss(chance), TOLD: disk.told()})
    # The record missed nothing: from it come the very files that the process left.
    assert disk.now() == taken_up(folder)
    return left


@pytest.mark.parametrize("trial", [BOOKS, READINGS], ids=["book", "readings"])
def test_nothing_acknowledged_is_lost_when_power_fails(
    recorder: Path, tmp_path: Path, trial: Trial
) -> None:
    outcomes = lose_power(recorder, trial, tmp_path, 1, LIVES, INSTANTS)
    assert len(outcomes) == LIVES * INSTANTS >= 20
    assert sum(outcome.told for outcome in outcomes) > 10 * len(outcomes)
    assert [outcome for outcome in outcomes if outcome.lost] == []


@pytest.mark.parametrize(
    "trial",
    [
        Trial("book_life.py", lost_of_a_book, "OFF"),
        Trial("book_life.py", lost_of_a_book, "NORMAL"),
        Trial("book_life.py", lost_of_a_book, "no folder"),
        Trial("readings_life.py", lost_of_readings, "OFF"),
    ],
    ids=lambda trial: f"{trial.program} {trial.synchronous}",
)
def test_with_less_syncing_something_is_lost(recorder: Path, tmp_path: Path, trial: Trial) -> None:
    # A control: were nothing lost here, the test above would show nothing.
    outcomes = lose_power(recorder, trial, tmp_path, SEED_OF_CONTROLS, 1, 20)
    assert sum(outcome.lost for outcome in outcomes if outcome.told) > 0
