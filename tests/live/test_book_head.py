"""Heads kept elsewhere, exports and copies: what a chain cannot show by itself."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import subprocess
import threading
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from xml.etree import ElementTree

import pytest
from book_life import deed_of
from book_worlds import few
from hypothesis import assume, given
from hypothesis import strategies as st
from test_book_sqlite import NOW, tampered

from neckring.live.book_export import backup, read_export, verify_export, write_export
from neckring.live.book_head import IN_WORDS, compare, picture_of, read_head, text_of, words_of
from neckring.live.chain import BrokenChainError
from neckring.live.entries import BookError, Head
from neckring.live.open_book import open_book, read_book
from neckring.live.sqlite_book import SqliteBook

digests = st.text("0123456789abcdef", min_size=64, max_size=64)
stations = st.text(st.characters(codec="utf-8"), min_size=1, max_size=12)
heads = st.builds(Head, stations, st.integers(0, 10**9), digests)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[SqliteBook]:
    opened = SqliteBook(tmp_path / "run" / "log.sqlite", "TQ1")
    for tap in range(1, 9):
        opened.append(deed_of(0, tap), NOW)
    yield opened
    opened.close()


@given(heads)
def test_a_head_reads_back_from_its_text_however_it_is_spaced(head: Head) -> None:
    text = text_of(head)
    assert read_head(text) == head
    assert read_head(f"  {text[:20]} \n {text[20:]}\n") == head
    assert text.isascii()


@given(heads, st.data())
def test_a_mistyped_head_is_told_from_another_book(head: Head, data: st.DataObject) -> None:
    text = text_of(head)
    at = data.draw(st.integers(0, len(text) - 1))
    letter = data.draw(st.sampled_from("0123456789abcdefxyz:-"))
    wrong = text[:at] + letter + text[at + 1 :]
    assume(wrong.lower() != text.lower())
    # Four letters of check let one mistyped head in 65,536 through: none of those drawn here.
    with pytest.raises(BookError, match=r"no head of a log book|wrong or missing"):
        read_head(wrong)


@pytest.mark.parametrize(
    "text", ["", "hello", "https://example.org/x", ":::::", "neckring-head:::"]
)
def test_what_is_no_head_is_answered_with_what_is_accepted(text: str) -> None:
    with pytest.raises(BookError, match="accepted: neckring-head:STATION:COUNT:DIGEST:CHECK"):
        read_head(text)


def dots_of(picture: str) -> list[list[int]]:
    """The dark dots of the SVG's one path of horizontal strokes, as rows of 0 and 1."""
    root = ElementTree.fromstring(picture)
    space = "{http://www.w3.org/2000/svg}"
    (path,) = [e for e in root.iter(f"{space}path") if e.get("stroke")]
    size = round(float(root.get("width") or 0) / 4.0)
    rows = [[0] * size for _ in range(size)]
    x = y = 0.0
    for letter, numbers in re.findall(r"([Mmh])([-\d. ]+)", path.get("d") or ""):
        along, *down = (float(n) for n in numbers.split())
        if letter == "h":
            for dot in range(int(x), int(x + along)):
                rows[int(y)][dot] = 1
            x += along
        else:
            x, y = (along, down[0]) if letter == "M" else (x + along, y + down[0])
    return rows


@pytest.mark.skipif(shutil.which("zbarimg") is None, reason="not installed: zbar-tools")
def test_an_independent_reader_reads_the_picture(tmp_path: Path, book: SqliteBook) -> None:
    # Given the picture of a head, drawn eight pixels a dot
    head = book.head()
    rows = dots_of(picture_of(head))
    image = tmp_path / "head.pgm"
    lines = [b"".join((b"\0" if dot else b"\xff") * 8 for dot in row) * 8 for row in rows]
    side = 8 * len(rows)
    image.write_bytes(f"P5\n{side} {side}\n255\n".encode() + b"".join(lines))

    # When another program reads it, then it is the head
    read = subprocess.run(
        ("zbarimg", "--raw", "-q", "-Sqr.enable", image), capture_output=True, text=True, check=True
    )
    assert read_head(read.stdout) == head


def test_the_picture_says_what_it_is_to_those_who_do_not_see_it(book: SqliteBook) -> None:
    title = ElementTree.fromstring(picture_of(book.head())).find(
        "{http://www.w3.org/2000/svg}title"
    )
    assert title is not None
    assert words_of(book.head()) in (title.text or "")


def cut(path: Path, count: int) -> None:
    tampered(path, f"DELETE FROM entry WHERE number > {count}")


def test_a_cut_tail_is_seen_only_by_whoever_kept_the_head(book: SqliteBook) -> None:
    # Given a head kept elsewhere, and a book that then lost its last five entries
    kept = book.head()
    book.close()
    cut(Path(book.where), 3)

    # When it is opened, then it verifies: only the head shows it
    again = open_book(book.where, "TQ1")
    assert again.verify().count == 3
    assert compare(again, kept) == "cut"

    # And when it has been written on to the same length, then it is another chain
    for tap in range(20, 25):
        again.append(deed_of(0, tap), NOW)
    assert compare(again, kept) == "another chain"
    again.close()


def test_a_book_is_compared_with_heads_of_every_age(book: SqliteBook) -> None:
    kept = book.head()
    assert compare(book, kept) == "same"
    assert compare(book, Head("TQ1", 0, "0" * 64)) == "another chain"
    assert compare(book, Head("TQ2", kept.count, kept.digest)) == "another chain"
    assert compare(book, Head("TQ1", kept.count, "0" * 64)) == "another chain"
    book.append(deed_of(0, 9), NOW)
    assert compare(book, kept) == "longer"
    early = book.head_at(0)
    assert early is not None
    assert compare(book, early) == "longer"
    assert set(IN_WORDS) == {"same", "longer", "cut", "another chain"}


def test_an_export_verifies_with_a_few_lines_that_know_nothing_of_us(
    tmp_path: Path, book: SqliteBook
) -> None:
    # Given an exported book
    path = tmp_path / "log.jsonl"
    assert write_export(book.entries(), path) == 8

    # When somebody verifies it with what any language has: these bodies need no canonical form
    # but Python's own with sorted keys
    before = sha256(b"").hexdigest()
    for line in path.read_text("utf-8").splitlines():
        data = json.loads(line)
        entry = re.fullmatch(r'\{"digest":"\w+","entry":(.*),"previous":"\w+"\}', line)
        assert entry is not None
        assert sha256((before + entry[1]).encode()).hexdigest() == data["digest"]
        assert data["previous"] == before
        before = data["digest"]

    # Then it ends at the book's head, and reads back as the same entries
    assert before == book.head().digest
    assert verify_export(path) == book.head()
    assert list(read_export(path)) == list(book.entries())


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("exported")
    book = SqliteBook(folder / "log.sqlite", "TQ1")
    for tap in range(1, 5):
        book.append(deed_of(1, tap), NOW)
    write_export(book.entries(), folder / "log.jsonl")
    book.close()
    return (folder / "log.jsonl").read_bytes()


@few
@given(data=st.data())
def test_every_change_of_one_byte_of_an_export_is_found_on_its_line(
    tmp_path_factory: pytest.TempPathFactory, exported: bytes, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(exported) - 1))
    byte = data.draw(st.integers(0, 255))
    assume(byte != exported[at])
    path = tmp_path_factory.getbasetemp() / "changed.jsonl"
    path.write_bytes(exported[:at] + bytes([byte]) + exported[at + 1 :])
    with pytest.raises(BrokenChainError) as caught:
        verify_export(path)
    assert caught.value.number == exported[:at].count(b"\n") + 1
    assert str(caught.value).startswith(f"{path}: entry ")


@pytest.mark.parametrize("change", ["deleted", "swapped", "doubled", "unfinished"])
def test_every_change_of_a_whole_line_is_found(
    tmp_path: Path, exported: bytes, change: str
) -> None:
    first, second, third, last = exported.splitlines(keepends=True)
    changed = {
        "deleted": [first, third, last],
        "swapped": [first, third, second, last],
        "doubled": [first, second, second, third, last],
        "unfinished": [first, second, third, last[:-1]],
    }
    path = tmp_path / "changed.jsonl"
    path.write_bytes(b"".join(changed[change]))
    with pytest.raises(BrokenChainError) as caught:
        verify_export(path)
    assert (
        caught.value.number == {"deleted": 2, "swapped": 2, "doubled": 3, "unfinished": 4}[change]
    )


def test_an_export_is_there_whole_or_not_at_all(tmp_path: Path, book: SqliteBook) -> None:
    # Given a book that cannot be read to its end
    Path(tmp_path / "log.jsonl").write_text("what was there before")

    def failing():
        yield from list(book.entries())[:3]
        raise BookError("the disk failed")

    # When it is exported, then what was there before stays
    with pytest.raises(BookError, match="the disk failed"):
        write_export(failing(), tmp_path / "log.jsonl")
    assert (tmp_path / "log.jsonl").read_text() == "what was there before"
    assert [path.name for path in tmp_path.iterdir() if "unfinished" in path.name] == []


@pytest.mark.parametrize("path", ["nowhere/log.jsonl", "."])
def test_an_export_that_cannot_be_written_or_read_is_told(
    tmp_path: Path, book: SqliteBook, path: str
) -> None:
    with pytest.raises(BookError, match="cannot be written"):
        write_export(book.entries(), tmp_path / path)
    with pytest.raises(BookError, match="cannot be read"):
        verify_export(tmp_path / path)


def test_a_copy_made_while_clients_tap_verifies_and_is_one_file(
    tmp_path: Path, book: SqliteBook
) -> None:
    # Given clients that tap all the time
    def tap() -> None:
        number = 100
        while not enough.is_set():
            number += 1
            book.append(deed_of(2, number), NOW)

    enough = threading.Event()
    tapping = threading.Thread(target=tap)
    tapping.start()

    # When copies are made meanwhile
    heads = [backup(Path(book.where), tmp_path / f"copy {n}.sqlite") for n in range(4)]
    enough.set()
    tapping.join()

    # Then each is the book as it was at some instant, in one file, and can be gone on with
    assert [compare(book, head) for head in heads[:-1]] == ["longer"] * 3
    for number, head in enumerate(heads):
        path = tmp_path / f"copy {number}.sqlite"
        copy = read_book(path)
        assert copy.head() == head
        copy.close()
    assert not list(tmp_path.glob("copy*-wal")) + list(tmp_path.glob("*unfinished*"))
    going_on = open_book(tmp_path / "copy 0.sqlite", "TQ1")
    assert going_on.append(deed_of(3, 1), NOW).number == heads[0].count + 1
    going_on.close()


def test_a_copy_of_what_is_damaged_is_refused_and_none_is_left(
    tmp_path: Path, book: SqliteBook
) -> None:
    book.close()
    tampered(Path(book.where), "UPDATE entry SET digest = previous WHERE number = 4")
    with pytest.raises(BrokenChainError, match="entry 4"):
        backup(Path(book.where), tmp_path / "copy.sqlite")
    with pytest.raises(BookError, match="no such log book"):
        backup(tmp_path / "nothing.sqlite", tmp_path / "copy.sqlite")
    assert [path.name for path in tmp_path.iterdir()] == ["run"]


def test_the_file_can_be_read_with_sqlite_alone(book: SqliteBook) -> None:
    # A book outlives this program: what stands in it can be read with any SQLite.
    with sqlite3.connect(book.where) as other:
        (actor,) = other.execute("SELECT text ->> '$.deed.actor' FROM entry").fetchone()
    assert actor == "T1"
