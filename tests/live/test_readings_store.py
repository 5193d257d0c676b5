"""Readings: kept to the bit, a second at most lost, the log book never held up by them."""

from __future__ import annotations

import csv
import io
import math
import os
import signal
import sqlite3
import struct
import subprocess
import sys
import threading
import time
from pathlib import Path
from random import Random

import numpy as np
import pytest
from book_life import told
from book_worlds import few, in_memory, readings
from hypothesis import given
from hypothesis import strategies as st
from readings_life import CHANNELS, STORE, batch, batches

from neckring.live.reading import Flaw, Reading
from neckring.live.readings_blocks import FLAW_BITS, columns_of, pack, readings_of, unpack
from neckring.live.readings_export import write_csv
from neckring.live.readings_file import ReadingsError, ReadingsReader, Summary
from neckring.live.readings_store import ReadingsStore

HERE = Path(__file__).parent
SOAK = os.environ.get("NECKRING_SOAK") == "1"
KILLS = 60 if SOAK else 4
NEVER = 1e6


def bits(reading: Reading) -> tuple[object, ...]:
    """A reading with each number as its bits, so that NaN equals itself and 0 not -0."""
    numbers = (reading.value, reading.source_time, reading.received, reading.run_time)
    packed = tuple(None if n is None else struct.pack("<d", n) for n in numbers)
    return (reading.wearer, reading.channel, *packed, reading.flaws)


def of(channel: str, values: list[float], every: float = 1.0, **more: object) -> list[Reading]:
    """Readings of wearer A at even times."""
    return [
        Reading("A", channel, value, None, 1e5 + every * n, every * n, **more)
        for n, value in enumerate(values)
    ]


@few
@given(st.lists(readings, max_size=40))
def test_what_is_packed_is_unpacked_to_the_bit(taken: list[Reading]) -> None:
    columns = unpack(pack(columns_of(taken, range(len(taken)))))
    assert columns.channel.tolist() == list(range(len(taken)))
    back = readings_of(columns, "A", "core")
    assert [bits(r)[2:] for r in back] == [bits(r)[2:] for r in taken]


@pytest.mark.parametrize(
    "value",
    [-0.0, math.nan, math.inf, 5e-324, 1.7976931348623157e308, 0.1 + 0.2, 2.0**53, 9e15 + 0.5,
     -9.2e18, 1e22, struct.unpack("<d", b"\x01\0\0\0\0\0\xf8\x7f")[0]],
)  # fmt: skip
def test_strange_numbers_stay_what_they_are(value: float) -> None:
    taken = of("core", [36.5, value, 36.6])
    back = readings_of(unpack(pack(columns_of(taken, [1, 1, 1]))), "A", "core")
    assert [bits(reading) for reading in back] == [bits(reading) for reading in taken]


@pytest.mark.parametrize("damage", [b"", b"x", pack(columns_of([], []))[:-3]])
def test_damaged_bytes_are_told(damage: bytes) -> None:
    with pytest.raises(ValueError, match="damaged readings"):
        unpack(damage)


def test_every_flaw_has_a_bit_of_its_own() -> None:
    assert set(FLAW_BITS) == set(Flaw)
    assert sorted(FLAW_BITS.values()) == [1 << n for n in range(len(Flaw))]


def test_ten_minutes_at_ten_hertz_take_few_bytes() -> None:
    # Given readings as instruments send them: drift and noise of 0.01, times to the microsecond
    chance = np.random.default_rng(1)
    values = np.round(30.0 + np.cumsum(chance.normal(0.0, 0.01, 600)), 2)
    times = np.round(1e5 + np.arange(600) / 10.0 + chance.uniform(0.0, 1e-3, 600), 6)
    taken = [
        Reading("A", "core", v, None, t, round(t - 1e5, 6))
        for v, t in zip(values.tolist(), times.tolist(), strict=True)
    ]
    # Then a reading, its two times included, takes less than a fifth of its 24 bytes
    assert len(pack(columns_of(taken, [1] * 600))) < 600 * 24 / 5


@few
@given(st.lists(st.lists(readings, max_size=12), max_size=8), st.data())
def test_what_is_added_is_read_back_in_order_and_to_the_bit(
    taken: list[list[Reading]], data: st.DataObject
) -> None:
    with in_memory() as folder:
        path = Path(folder) / "readings.sqlite"
        store = ReadingsStore(path, every=NEVER)
        for each in taken:
            store.add(each)
            match data.draw(st.sampled_from(["wait", "flush", "reopen"])):
                case "flush":
                    store.flush()
                case "reopen":
                    store.close()
                    store = ReadingsStore(path, every=NEVER)
        every = [reading for each in taken for reading in each]
        hold(store, every)
        store.close()
        reader = ReadingsReader(path)
        hold(reader, every)
        reader.close()


def hold(store: ReadingsReader, every: list[Reading]) -> None:
    """Each channel's readings, in order, once each, whole or in part; and their summaries."""
    for channel in {(reading.wearer, reading.channel) for reading in every}:
        mine = [reading for reading in every if (reading.wearer, reading.channel) == channel]
        assert [bits(r) for r in store.read(*channel)] == [bits(r) for r in mine]
        some = [r for r in mine if 10.0 <= r.run_time < 1000.0]
        assert [bits(r) for r in store.read(*channel, 10.0, 1000.0)] == [bits(r) for r in some]
        summaries = store.summaries(*channel)
        used = [r.value for r in mine if r.good and not math.isnan(r.value)]
        assert sum(s.count for s in summaries) == len(mine)
        assert sum(s.good for s in summaries) == sum(r.good for r in mine)
        assert min((s.low for s in summaries if s.low is not None), default=None) == min(
            used, default=None
        )
        assert max((s.high for s in summaries if s.high is not None), default=None) == max(
            used, default=None
        )


def test_a_minute_makes_a_block_with_its_summary_of_good_readings(tmp_path: Path) -> None:
    # Given two minutes of a channel with one impossible reading in the first
    store = ReadingsStore(tmp_path / "readings.sqlite", every=NEVER)
    taken = of("core", [36.0 + 0.01 * n for n in range(121)])
    taken[7] = Reading("A", "core", 900.0, None, 1e5 + 7, 7.0, frozenset({Flaw.IMPOSSIBLE}))

    # When they come, written every second
    for reading in taken:
        store.add([reading])
        store.flush()

    # Then there are two blocks whose summaries leave the impossible one out
    first, second = store.summaries("A", "core")
    assert first == Summary(0.0, 60.0, 61, 60, 36.0, 36.6)
    assert (second.begins, second.ends, second.count) == (61.0, 120.0, 60)
    assert store.read("A", "core") == taken
    with sqlite3.connect(tmp_path / "readings.sqlite") as other:
        assert other.execute("SELECT count(*) FROM block").fetchone() == (1,)
    store.close()


def test_the_thread_of_the_store_writes_by_itself(tmp_path: Path) -> None:
    store = ReadingsStore(tmp_path / "readings.sqlite", every=0.01)
    store.add(of("core", [36.0, 36.1]))
    looking = ReadingsReader(tmp_path / "readings.sqlite")
    for _ in range(500):
        if looking.read("A", "core"):
            break
        time.sleep(0.01)
    assert looking.read("A", "core") == of("core", [36.0, 36.1])
    looking.close()
    store.close()


def test_many_threads_add_while_others_read(tmp_path: Path) -> None:
    # Given six threads that each add to a channel of their own while blocks are closed
    def feed(number: int) -> None:
        for reading in of(f"c{number}", [float(n) for n in range(130)]):
            store.add([reading])
            seen = len(store.read("A", f"c{number}", reading.run_time))
            assert seen == 1

    store = ReadingsStore(tmp_path / "readings.sqlite", every=0.002)
    feeding = [threading.Thread(target=feed, args=(number,)) for number in range(6)]
    for thread in feeding:
        thread.start()
    for thread in feeding:
        thread.join()
    store.close()

    # Then each channel has all of its readings, once and in order
    reader = ReadingsReader(tmp_path / "readings.sqlite")
    assert sorted(reader.channels()) == [("A", f"c{number}") for number in range(6)]
    for number in range(6):
        values = [reading.value for reading in reader.read("A", f"c{number}")]
        assert values == [float(n) for n in range(130)]
    reader.close()


def test_kill_9_costs_nothing_that_was_said_to_be_on_disk(tmp_path: Path) -> None:
    chance = Random(4)
    for _ in range(KILLS):
        # Given a store that is killed at some instant after it has begun to write
        writing = subprocess.Popen(
            (sys.executable, HERE / "readings_life.py", tmp_path, "2", "100000", "FULL")
        )
        before = len(promised(tmp_path))
        while len(promised(tmp_path)) <= before + chance.randrange(40):
            time.sleep(0.001)
        writing.send_signal(signal.SIGKILL)
        writing.wait()

    # Then all of which it was said stands there, whole, once and in order
    reader = ReadingsReader(tmp_path / STORE)
    count = len(reader.read("A", "core"))
    assert count >= max(promised(tmp_path).values())
    for wearer in "AB":
        for channel in CHANNELS:
            assert reader.read(wearer, channel) == batches(1, count, wearer, channel)
    reader.close()


def promised(folder: Path) -> dict[tuple[int, int], int]:
    path = folder / "told"
    return told(path.read_bytes()) if path.exists() else {}


def test_what_the_disk_does_not_take_waits_and_is_written_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Given a store whose file somebody else holds, so that nothing can be written
    store = ReadingsStore(tmp_path / "readings.sqlite", every=NEVER)
    store._connection.execute("PRAGMA busy_timeout = 0")
    store.add(batch(1))
    other = sqlite3.connect(tmp_path / "readings.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")

    # When it writes, then it says why not, keeps what came, and goes on taking more
    with pytest.raises(ReadingsError, match="another program holds the file"):
        store.flush()
    assert "another program holds the file" in store.fault
    store.add(batch(2))
    assert store.read("A", "core") == batches(1, 2, "A", "core")

    # And once the file is free all is written, once
    other.execute("ROLLBACK")
    store.flush()
    assert store.fault == ""
    store.close()
    reader = ReadingsReader(tmp_path / "readings.sqlite")
    assert reader.read("A", "core") == batches(1, 2, "A", "core")
    reader.close()


def test_a_write_whose_end_is_unknown_is_not_done_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Given a write that is on disk although the disk reported a failure
    store = ReadingsStore(tmp_path / "readings.sqlite", every=NEVER)

    class Failing:
        def __init__(self, connection: sqlite3.Connection) -> None:
            self.connection = connection

        def execute(self, statement: str, *values: object) -> sqlite3.Cursor:
            done = self.connection.execute(statement, *values)
            if statement == "COMMIT":
                raise sqlite3.OperationalError("disk I/O error")
            return done

        def __getattr__(self, name: str) -> object:
            return getattr(self.connection, name)

    store.add(batch(1))
    with monkeypatch.context() as failing:
        failing.setattr(store, "_connection", Failing(store._connection))
        with pytest.raises(ReadingsError):
            store.flush()

    # When it is tried again, then everything stands there once
    store.add(batch(2))
    store.flush()
    assert store.read("B", "flow") == batches(1, 2, "B", "flow")
    store.close()


def test_when_the_disk_takes_none_for_too_long_the_oldest_are_given_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("neckring.live.readings_store.MOST_WAITING", 5)
    store = ReadingsStore(tmp_path / "readings.sqlite", every=NEVER)
    store.add(of("core", [float(n) for n in range(8)]))
    assert store.given_up == 3
    assert [reading.value for reading in store.read("A", "core")] == [3.0, 4.0, 5.0, 6.0, 7.0]
    store.close()


def test_a_second_console_is_refused_and_a_reader_is_not(tmp_path: Path) -> None:
    store = ReadingsStore(tmp_path / "readings.sqlite", every=NEVER)
    with pytest.raises(ReadingsError, match="another console"):
        ReadingsStore(tmp_path / "readings.sqlite", every=NEVER)
    ReadingsReader(tmp_path / "readings.sqlite").close()
    store.close()
    store.close()


def test_a_wrong_file_is_refused_in_words_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "readings.sqlite"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE recipes (name TEXT)")
    before = path.read_bytes()
    for opening in (lambda: ReadingsStore(path), lambda: ReadingsReader(path)):
        with pytest.raises(ReadingsError, match="holds no readings of neckring"):
            opening()
    assert path.read_bytes() == before
    with pytest.raises(ReadingsError, match="there are no such readings"):
        ReadingsReader(tmp_path / "nothing.sqlite")
    path.write_bytes(b"not a database at all" * 100)
    with pytest.raises(ReadingsError, match=str(path)):
        ReadingsStore(path)


def test_a_damaged_block_is_told(tmp_path: Path) -> None:
    path = tmp_path / "readings.sqlite"
    store = ReadingsStore(path, every=NEVER)
    store.add(of("core", [1.0, 2.0]))
    store.close()
    with sqlite3.connect(path) as other:
        other.execute("UPDATE block SET data = x'0102'")
    with pytest.raises(ReadingsError, match=f"{path}: damaged readings"):
        ReadingsReader(path).read("A", "core")


@few
@given(st.lists(readings, max_size=20))
def test_a_table_reads_back_the_same_in_the_order_of_run_time(taken: list[Reading]) -> None:
    # Given readings in order, as they come
    taken = sorted(taken, key=lambda reading: reading.run_time)
    with in_memory() as folder:
        store = ReadingsStore(Path(folder) / "readings.sqlite", every=NEVER)
        store.add(taken)

        # When they are written as a table and read by the standard library
        file = io.StringIO(newline="")
        assert write_csv(store, file) == len(taken)
        store.close()
    rows = list(csv.DictReader(io.StringIO(file.getvalue(), newline="")))

    # Then every number is the same again
    times = [float(row["run_time_s"]) for row in rows]
    assert times == [reading.run_time for reading in taken]
    back = [
        Reading(
            row["wearer"],
            row["channel"],
            float(row["value"]),
            float(row["source_time_s"]) if row["source_time_s"] else None,
            float(row["received_s"]),
            float(row["run_time_s"]),
            frozenset(Flaw(word) for word in row["flaws"].split("; ") if word),
        )
        for row in rows
    ]
    assert sorted(map(said, back)) == sorted(map(said, taken))


def said(reading: Reading) -> str:
    """A reading in words, the same for every NaN."""
    return f"{vars(reading) | {'flaws': sorted(reading.flaws)}}"
