"""A log book in a file: once each, never changed, one writer, found out when tampered with."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
from book_life import deed_of
from book_worlds import deeds, few, in_memory, stamps
from hypothesis import given
from hypothesis import strategies as st

from neckring.live.book_schema import sqlite_warnings
from neckring.live.chain import BrokenChainError
from neckring.live.entries import BookError, Deed, Entry, Stamp
from neckring.live.open_book import open_book, read_book
from neckring.live.sqlite_book import SqliteBook

HERE = Path(__file__).parent
SOAK = os.environ.get("NECKRING_SOAK") == "1"
FLIPS = 3000 if SOAK else 60
NOW = Stamp(1.8e9, 100.0, 5.0)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[SqliteBook]:
    opened = SqliteBook(tmp_path / "run" / "log.sqlite", "TQ1")
    yield opened
    opened.close()


def closed_book(path: Path, taps: int) -> list[Entry]:
    """A book with some entries, closed again."""
    book = SqliteBook(path, "TQ1")
    entries = [book.append(deed_of(0, tap), NOW) for tap in range(1, taps + 1)]
    book.close()
    return entries


@few
@given(st.lists(st.tuples(deeds, stamps), max_size=8))
def test_what_is_appended_is_read_back_once_and_in_order(
    taken: list[tuple[Deed, Stamp]],
) -> None:
    with in_memory() as folder:
        append_and_read_back(Path(folder) / "log.sqlite", taken)


def append_and_read_back(path: Path, taken: list[tuple[Deed, Stamp]]) -> None:
    # Given a new book
    book = SqliteBook(path, "TQ1")

    # When deeds are appended, each twice, some with a key that stands there
    first = {}
    for deed, stamp in taken:
        entry = book.append(deed, stamp)
        assert book.append(deed, stamp) == entry
        assert first.setdefault(deed.key, entry) == entry

    # Then each key stands once, with what came with it first, and so after opening it again
    expected = sorted(first.values(), key=lambda entry: entry.number)
    assert list(book.entries()) == expected
    assert list(book.entries(after=2)) == expected[2:]
    assert [book.find(key) for key in first] == list(first.values())
    head = book.head()
    book.close()
    again = read_book(path)
    assert (list(again.entries()), again.head(), head.count) == (expected, head, len(first))
    again.close()


def test_eight_clients_at_once_are_each_recorded_once(book: SqliteBook) -> None:
    # Given eight clients, each of whose taps arrives twice at once
    def client(number: int) -> None:
        answers[number] = [book.append(deed_of(number // 2, tap), NOW).number for tap in range(40)]

    answers: dict[int, list[int]] = {}
    threads = [threading.Thread(target=client, args=(number,)) for number in range(16)]

    # When all tap
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    # Then both were told the same number, and each tap stands once, in its client's order
    assert all(answers[number] == answers[number + 1] for number in range(0, 16, 2))
    assert book.verify().count == 8 * 40
    told = [number for client in range(0, 16, 2) for number in answers[client]]
    assert sorted(told) == list(range(1, 321))
    assert all(numbers == sorted(numbers) for numbers in answers.values())


def test_a_deed_that_cannot_be_written_down_spoils_no_other(book: SqliteBook) -> None:
    with pytest.raises(BookError, match=r"'note' cannot be written down: the number nan"):
        book.append(Deed(**{**vars(deed_of(0, 1)), "body": {"x": float("nan")}}), NOW)
    assert book.append(deed_of(0, 1), NOW).number == 1


def test_a_closed_book_says_so(book: SqliteBook) -> None:
    book.close()
    with pytest.raises(BookError, match="closed"):
        book.append(deed_of(0, 1), NOW)


FORBIDDEN = [
    "UPDATE entry SET text = 'x' WHERE number = 1",
    "UPDATE entry SET number = 9 WHERE number = 2",
    "DELETE FROM entry WHERE number = 2",
    "DELETE FROM entry",
    "INSERT OR REPLACE INTO entry VALUES (1, 'k', 't', 'p', 'd')",
    "REPLACE INTO entry SELECT 3, key, text, previous, digest FROM entry WHERE number = 1",
    "INSERT INTO entry VALUES (5, 'k', 't', 'p', 'd')",
    "INSERT INTO entry VALUES (3, 'k', 't', 'not the digest before', 'd')",
    "INSERT OR REPLACE INTO entry SELECT 3, key, text, digest, 'd' FROM entry WHERE number = 2",
    "INSERT INTO entry VALUES ('three', 'k', 't', 'p', 'd')",
    "UPDATE book SET station = 'TQ2'",
    "DELETE FROM book",
]


@pytest.mark.parametrize("statement", FORBIDDEN)
def test_the_file_itself_refuses_changes(tmp_path: Path, statement: str) -> None:
    # Given a book, and another program that opens its file
    entries = closed_book(tmp_path / "log.sqlite", 2)
    other = sqlite3.connect(tmp_path / "log.sqlite")

    # When it changes, takes away, or puts in between, then the file refuses
    with pytest.raises(sqlite3.Error, match=r"log book|datatype|mismatch"):
        other.execute(statement)
    other.rollback()
    assert other.execute("SELECT digest FROM entry").fetchall() == [(e.digest,) for e in entries]
    other.close()


def tampered(path: Path, *statements: str) -> None:
    """Somebody who knows how takes the triggers away first."""
    with sqlite3.connect(path) as other:
        for (name,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"):
            other.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            other.execute(statement)
    other.close()


TAMPERED = {
    "UPDATE entry SET text = replace(text, 'T1', 'T2') WHERE number = 3": (3, "not what was"),
    "UPDATE entry SET key = 'other' WHERE number = 2": (2, "stands under the key 'other'"),
    "UPDATE entry SET digest = previous WHERE number = 4": (4, "not what was written"),
    "DELETE FROM entry WHERE number = 2": (2, "it is missing; entry 3 stands in its place"),
    "DELETE FROM entry WHERE number = 1": (1, "it is missing"),
    "UPDATE entry SET text = CAST(x'ff' || text AS TEXT) WHERE number = 5": (5, "not what was"),
}


@pytest.mark.parametrize(("statement", "place"), TAMPERED.items())
def test_a_chain_that_does_not_verify_is_refused_with_the_place(
    tmp_path: Path, statement: str, place: tuple[int, str]
) -> None:
    # Given a book that somebody changed
    path = tmp_path / "log.sqlite"
    closed_book(path, 5)
    tampered(path, statement)

    # When it is opened, to write or to look, then it is refused, and where is said
    for opening in (lambda: open_book(path, "TQ1"), lambda: read_book(path)):
        with pytest.raises(BrokenChainError, match=place[1]) as caught:
            opening()
        assert caught.value.number == place[0]
        assert str(caught.value).startswith(f"{path}: entry {place[0]}: ")


def refusal_or_same(path: Path, entries: list[Entry]) -> str:
    """Why a file is refused; where it is not, it holds just these entries."""
    try:
        book = read_book(path)
    except BookError as error:
        return str(error)
    assert list(book.entries()) == entries
    assert all(book.find(entry.deed.key) == entry for entry in entries)
    book.close()
    return ""


def test_any_byte_of_the_file_may_change_and_no_entry_does_unseen(tmp_path: Path) -> None:
    # Given a closed book
    path = tmp_path / "log.sqlite"
    entries = closed_book(path, 30)
    whole = path.read_bytes()
    chance = Random(7)
    refused = 0

    # When one byte of its file is another
    for _ in range(FLIPS):
        at = chance.randrange(len(whole))
        path.write_bytes(
            whole[:at] + bytes([whole[at] ^ chance.randrange(1, 256)]) + whole[at + 1 :]
        )
        for beside in ("-wal", "-shm"):
            path.with_name(path.name + beside).unlink(missing_ok=True)

        # Then it is refused in words, or holds just what it held
        refusal = refusal_or_same(path, entries)
        refused += bool(refusal)
        assert refusal == "" or refusal.startswith(str(path))
    assert refused > FLIPS / 4


def test_a_second_console_is_refused_in_words_and_a_reader_is_not(book: SqliteBook) -> None:
    # Given an open book with an entry
    entry = book.append(deed_of(0, 1), NOW)

    # When another console opens it, then it is told who has it
    with pytest.raises(BookError, match=rf"another console .* \(process {os.getpid()}\)"):
        open_book(book.where, "TQ1")

    # And whoever only looks sees what is there, and what is appended meanwhile
    looking = read_book(book.where)
    assert list(looking.entries()) == [entry]
    later = book.append(deed_of(0, 2), NOW)
    assert (looking.find(later.deed.key), looking.head()) == (later, book.head())
    looking.close()

    # And the next console gets it once this one is closed
    book.close()
    open_book(book.where, "TQ1").close()


def test_a_reader_cannot_write(book: SqliteBook) -> None:
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        read_book(book.where)._reader._connection.execute("DELETE FROM entry")


def not_a_book(path: Path) -> None:
    path.write_text("a shopping list, long enough to be taken for a file of some kind" * 10)


def somebody_elses(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE recipes (name TEXT)")


def another_station_s(path: Path) -> None:
    SqliteBook(path, "TQ2").close()


def of_a_newer_version(path: Path) -> None:
    closed_book(path, 1)
    with sqlite3.connect(path) as other:
        other.execute("PRAGMA user_version = 2")


WRONG = {
    not_a_book: "no log book of neckring",
    somebody_elses: "no log book of neckring; it was left as it is",
    another_station_s: "log book of station 'TQ2', not 'TQ1'",
    of_a_newer_version: "newer neckring",
    Path.mkdir: "this is a folder; accepted: the path of a file",
}


@pytest.mark.parametrize("make", WRONG)
def test_a_wrong_file_is_refused_in_words_and_left_as_it_is(tmp_path: Path, make) -> None:
    path = tmp_path / "log.sqlite"
    make(path)
    before = None if path.is_dir() else path.read_bytes()
    with pytest.raises(BookError, match=WRONG[make]):
        open_book(path, "TQ1")
    assert before is None or path.read_bytes() == before


@pytest.mark.parametrize(
    ("where", "why"),
    [
        ("mysql://host/base", "accepted: the path of a file, .* or postgresql://"),
        ("postgresql://host/base?x=1", "cannot be read"),
        ("/dev/null/run/log.sqlite", "folder cannot be made"),
    ],
)
def test_what_is_typed_wrongly_is_answered_with_what_is_accepted(where: str, why: str) -> None:
    with pytest.raises(BookError, match=why):
        open_book(where, "TQ1")


def test_a_book_that_is_not_there_is_not_made_by_looking(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="there is no such log book"):
        read_book(tmp_path / "log.sqlite")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("version", "faulty"),
    [
        ("3.6.23", False), ("3.7.0", True), ("3.40.1", True), ("3.44.5", True), ("3.44.6", False),
        ("3.50.6", True), ("3.50.7", False), ("3.51.2", True), ("3.51.3", False), ("3.53.0", False),
    ],
)  # fmt: skip
def test_versions_with_the_fault_of_the_write_ahead_log_are_named(
    version: str, faulty: bool
) -> None:
    # Source: sqlite.org on its "WAL-reset bug", as quoted: 3.7.0 to 3.51.2; mended in 3.51.3, and
    # for older lines in 3.44.6 and 3.50.7.
    assert bool(sqlite_warnings(version)) == faulty


FILLING = HERE / "book_filling.py"


def limit_of_files() -> None:
    """No file may grow beyond this; a write beyond fails, as on a full disk."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, resource.RLIM_INFINITY))


def test_a_file_that_may_not_grow_gives_a_clear_error_and_the_book_goes_on(tmp_path: Path) -> None:
    # Given a process whose files may not grow beyond a size, which it may raise itself
    done = subprocess.run(
        (sys.executable, FILLING, tmp_path, "limit"),
        preexec_fn=limit_of_files,
        capture_output=True,
        text=True,
        timeout=60,
    )
    # Then it saw what book_filling.py says
    assert (done.returncode, done.stderr) == (0, "")
    assert "the disk failed to read or write; nothing of this was recorded" in done.stdout


def may_mount() -> bool:
    return (
        shutil.which("unshare") is not None
        and subprocess.run(
            ("unshare", "-m", "mount", "-t", "tmpfs", "tmpfs", "/mnt"), capture_output=True
        ).returncode
        == 0
    )


@pytest.mark.skipif(not may_mount(), reason="no right to mount a small disk")
def test_a_full_disk_gives_a_clear_error_and_the_book_goes_on(tmp_path: Path) -> None:
    # Given a disk of half a megabyte that only this process sees
    mount = f"mount -t tmpfs -o size=512k tmpfs {tmp_path} && exec {sys.executable} {FILLING}"
    done = subprocess.run(
        ("unshare", "-m", "sh", "-c", f"{mount} {tmp_path} disk"),
        capture_output=True,
        text=True,
        timeout=60,
    )
    # Then it saw what book_filling.py says
    assert (done.returncode, done.stderr) == (0, "")
    assert "the disk is full: nothing of this was recorded" in done.stdout
