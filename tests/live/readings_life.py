"""A store of readings that a test watches or ends: run as a program.

readings_life.py FOLDER SEED BATCHES SYNCHRONOUS. Batch after batch of readings comes; once a batch
is said to be on disk, its number goes into the file "told".
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from random import Random

from neckring.live import readings_store, sqlite_rows
from neckring.live.reading import Flaw, Reading

STORE = Path("run") / "readings.sqlite"
CHANNELS = ("core", "flow", "heart")
NEVER = 1e6


def batch(number: int) -> list[Reading]:
    """The same batch is always the same; some are far apart, so that blocks are closed."""
    chance = Random(number)
    return [
        Reading(
            wearer,
            channel,
            round(chance.uniform(0.0, 40.0), 2) if number % 3 else chance.gauss(0.0, 1.0),
            None if number % 5 == 0 else 1.8e9 + number,
            1e5 + 7.0 * number,
            7.0 * number,
            frozenset({Flaw.FROZEN}) if number % 4 == 0 else frozenset(),
        )
        for wearer in "AB"
        for channel in CHANNELS
    ]


def batches(first: int, last: int, wearer: str, channel: str) -> list[Reading]:
    """What came of one channel in some batches, in order."""
    every = (reading for number in range(first, last + 1) for reading in batch(number))
    return [each for each in every if (each.wearer, each.channel) == (wearer, channel)]


def main() -> None:
    folder, seed, count = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    readings_store.CHECKPOINT_AT = Random(seed).choice((5, 1000))
    if sys.argv[4] != "FULL":

        def otherwise(connection, checkpoint_at):
            sqlite_rows.durable(connection, checkpoint_at)
            connection.execute(f"PRAGMA synchronous = {sys.argv[4]}")

        readings_store.durable = otherwise
    tell = os.open(folder / "told", os.O_RDWR | os.O_CREAT | os.O_APPEND)
    store = readings_store.ReadingsStore(folder / STORE, every=NEVER)
    # Only whole batches are written, so what stands there says where to go on.
    first = 1 + len(store.read("A", "core"))
    for number in range(first, first + count):
        store.add(batch(number))
        store.flush()
        os.write(tell, f"0 {number} {number}\n".encode())
    if seed % 2:
        store.close()


if __name__ == "__main__":
    main()
