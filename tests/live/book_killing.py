"""Kills a desk again and again, each time while clients tap: run as a program, since it forks.

book_killing.py BOOK FOLDER SEED KILLS: BOOK is a file, or a database. Half of the kills come from
outside at any instant, while the book is opened too; half strike between the commit and the reply.
The next desk goes on with the same book, and each client with the tap that it was not told of.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from random import Random

from book_life import STATION, live, next_taps, told

from neckring.live.book_writer import ChainWriter
from neckring.live.open_book import open_book

LONGEST_LIFE = 0.05
"""Before the kill from outside [s], from the fork on."""
MOST_WRITES = 12
ENDLESS = 10**6


def die_between_commit_and_reply(chance: Random) -> None:
    """Let this process kill itself once a commit is on disk and nobody was told of it."""
    left = chance.randint(1, MOST_WRITES)
    write = ChainWriter.write

    def written(self, batch):
        nonlocal left
        outcomes = write(self, batch)
        left -= 1
        if not left:
            os.kill(os.getpid(), signal.SIGKILL)
        return outcomes

    ChainWriter.write = written


def one_life(where: str, tell: int, known: bytes, chance: Random | None) -> None:
    """Of a desk, until it is killed; with `chance` by itself."""
    if chance is not None:
        die_between_commit_and_reply(chance)
    live(open_book(where, STATION), next_taps(told(known)), ENDLESS, tell)


def main() -> None:
    where, folder, seed, kills = sys.argv[1], Path(sys.argv[2]), *map(int, sys.argv[3:5])
    chance = Random(seed)
    tell = os.open(folder / "told", os.O_RDWR | os.O_CREAT | os.O_APPEND)
    for kill in range(kills):
        known = os.pread(tell, 10**8, 0)
        by_itself = kill % 2 == 1
        desk = os.fork()
        if not desk:
            try:
                one_life(where, tell, known, Random(f"{seed} {kill}") if by_itself else None)
            finally:
                os._exit(1)
        if not by_itself:
            time.sleep(chance.uniform(0.0, LONGEST_LIFE))
            os.kill(desk, signal.SIGKILL)
        _, status = os.waitpid(desk, 0)
        if not os.WIFSIGNALED(status):
            sys.exit(f"desk {kill} ended by itself before it was killed")


if __name__ == "__main__":
    main()
