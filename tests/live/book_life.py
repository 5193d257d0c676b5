"""The life of a desk that a test watches or ends: several clients tap, and are told.

Run as a program: book_life.py FOLDER SEED TAPS SYNCHRONOUS. Each client makes one tap after the
other, and begins, as a tablet does, with the one it was not yet told of. What clients are told goes
into the file "told" with one write each: "client tap number", once the book has answered.
"""

from __future__ import annotations

import os
import sys
import threading
from contextlib import suppress
from pathlib import Path
from random import Random

from neckring.live import sqlite_book, sqlite_rows
from neckring.live.entries import BookError, Deed, Entry, Kind, LogBook, Role, Stamp

STATION = "TQ1"
CLIENTS = 4
MOST_SENDINGS = 20
BOOK = Path("run") / "log.sqlite"


def deed_of(client: int, tap: int) -> Deed:
    """The same tap is always the same deed; some bodies fill pages, some are small."""
    chance = Random(f"{client} {tap}")
    body = {"words": "x" * chance.choice((0, 5, 40, 400, 5000)), "tap": tap, "share": 0.1 * tap}
    tapped_at = 1.8e9 + tap
    return Deed(
        f"c{client}-{tap}", Kind.NOTE, "T1", Role.TENDER, f"tablet {client}", body, tapped_at
    )


def told(text: bytes) -> dict[tuple[int, int], int]:
    """Number of the entry that clients were told for each tap; a torn last line was not sent."""
    whole = text[: text.rfind(b"\n") + 1].decode().split("\n")[:-1]
    return {(int(c), int(t)): int(n) for c, t, n in (line.split() for line in whole)}


def next_taps(known: dict[tuple[int, int], int]) -> list[int]:
    """For each client the first tap it was not told of."""
    return [1 + max((t for c, t in known if c == client), default=0) for client in range(CLIENTS)]


def tap(book: LogBook, client: int, first: int, taps: int, tell: int) -> None:
    """One client: a tap after the other, each told of before the next is made."""
    for number in range(first, first + taps):
        entry = sent_until_recorded(book, client, number)
        os.write(tell, f"{client} {number} {entry.number}\n".encode())


def sent_until_recorded(book: LogBook, client: int, number: int) -> Entry:
    """A tablet keeps a tap that was not recorded, and sends it again; not for ever here."""
    for _ in range(MOST_SENDINGS - 1):
        with suppress(BookError):
            return book.append(deed_of(client, number), Stamp(1.8e9 + number, number, number))
    return book.append(deed_of(client, number), Stamp(1.8e9 + number, number, number))


def live(book: LogBook, firsts: list[int], taps: int, tell: int) -> None:
    """All clients at once."""
    threads = [
        threading.Thread(target=tap, args=(book, client, first, taps, tell))
        for client, first in enumerate(firsts)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def synchronous(setting: str) -> None:
    """Sync otherwise: controls, in which a test must fail."""
    if setting == "no folder":
        sqlite_book.sync_folder = lambda folder: None
        return

    def otherwise(connection, checkpoint_at):
        sqlite_rows.durable(connection, checkpoint_at)
        connection.execute(f"PRAGMA synchronous = {setting}")

    sqlite_book.durable = otherwise


def main() -> None:
    folder, seed, taps = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    chance = Random(seed)
    sqlite_book.CHECKPOINT_AT = chance.choice((5, 20, 1000))
    synchronous(sys.argv[4])
    tell = os.open(folder / "told", os.O_RDWR | os.O_CREAT | os.O_APPEND)
    known = told(os.pread(tell, 10**8, 0))
    book = sqlite_book.SqliteBook(folder / BOOK, STATION)
    live(book, next_taps(known), taps, tell)
    if chance.random() < 0.5:
        book.close()


if __name__ == "__main__":
    main()
