"""kill -9 of the desk at any instant: whatever was acknowledged stands once, in order, verified.

What this shows is that a killed desk leaves a whole book and that the next one goes on with it. It
shows nothing about power loss: the system keeps what a killed process wrote (test_power_loss.py).
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from book_life import CLIENTS, STATION, deed_of, told

from neckring.live.entries import LogBook
from neckring.live.open_book import open_book

SOAK = os.environ.get("NECKRING_SOAK") == "1"
BOOKS, KILLS = (10, 100) if SOAK else (1, 40)
KILLING = Path(__file__).with_name("book_killing.py")


def kill(where: str, folder: Path, seed: int, kills: int) -> dict[tuple[int, int], int]:
    """Kill a desk over and over; gives what its clients were told."""
    subprocess.run(
        (sys.executable, KILLING, where, folder, str(seed), str(kills)), check=True, timeout=600
    )
    return told((folder / "told").read_bytes())


def hold_against(book: LogBook, promised: dict[tuple[int, int], int]) -> None:
    """Every acknowledged tap stands once, where its client was told; each client's in order."""
    entries = list(book.entries())
    assert [entry.number for entry in entries] == list(range(1, len(entries) + 1))
    for tap, number in promised.items():
        assert entries[number - 1].deed == deed_of(*tap)
    for client in range(CLIENTS):
        keys = [e.deed.key for e in entries if e.deed.device == f"tablet {client}"]
        assert keys == [f"c{client}-{tap}" for tap in range(1, len(keys) + 1)]


@pytest.mark.parametrize("seed", range(BOOKS))
def test_a_killed_desk_loses_nothing_it_acknowledged(tmp_path: Path, seed: int) -> None:
    # Given clients that tap, and a desk that is killed and started again
    where = str(tmp_path / "run" / "log.sqlite")
    promised = kill(where, tmp_path, seed, KILLS)

    # When the book is opened for the last time
    book = open_book(where, STATION)

    # Then it verifies, and holds what was acknowledged
    assert len(promised) > KILLS
    hold_against(book, promised)
    book.close()
