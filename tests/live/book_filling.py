"""Fills a disk with a log book until it refuses, makes room, and goes on: run as a program.

book_filling.py FOLDER limit|disk: with a limit on files, or a small disk that a file fills up.
"""

from __future__ import annotations

import resource
import sys
from pathlib import Path

from book_life import deed_of

from neckring.live.entries import BookError, Stamp
from neckring.live.sqlite_book import SqliteBook

NOW = Stamp(1.8e9, 100.0, 5.0)


def fill_until_refused(book: SqliteBook) -> tuple[int, str]:
    """Tap until the book says that it cannot; gives the last tap that it took, and why."""
    for tap in range(1, 10_000):
        try:
            assert book.append(deed_of(0, tap), NOW).number == tap
        except BookError as error:
            return tap - 1, str(error)
    raise AssertionError("the disk was never full")


def make_room(how: str, ballast: Path) -> None:
    if how == "limit":
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
    else:
        ballast.unlink()


def main() -> None:
    folder, how = Path(sys.argv[1]), sys.argv[2]
    ballast = folder / "ballast"
    ballast.write_bytes(bytes(200_000))
    book = SqliteBook(folder / "log.sqlite", "TQ1")

    # Until the disk is full each tap is recorded; then one is refused in words, and the next too.
    taken, why = fill_until_refused(book)
    assert taken > 10
    for tap in (taken + 1, taken + 2):
        try:
            book.append(deed_of(0, tap), NOW)
        except BookError:
            continue
        # A smaller one may still find room.
        assert book.find(deed_of(0, tap).key) is not None
    print(why)

    # What was acknowledged stands, can be read while the disk is full, and nothing else does.
    standing = [entry.deed.key for entry in book.entries()]
    assert standing[:taken] == [deed_of(0, tap).key for tap in range(1, taken + 1)]
    assert book.head().count == len(standing)

    # With room the same book goes on by itself, and the refused taps are recorded once.
    make_room(how, ballast)
    for tap in range(taken + 1, taken + 20):
        book.append(deed_of(0, tap), NOW)
    keys = [entry.deed.key for entry in book.entries()]
    assert sorted(keys) == sorted(deed_of(0, tap).key for tap in range(1, taken + 20))
    book.close()

    # And it verifies when it is opened again.
    book = SqliteBook(folder / "log.sqlite", "TQ1")
    assert book.head().count == len(keys)
    book.close()


if __name__ == "__main__":
    main()
