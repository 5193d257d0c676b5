"""Several stations' log books read as one story. Pure."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator

from neckring.live.entries import Entry


def merged(chains: Iterable[Iterable[Entry]]) -> Iterator[Entry]:
    """Entries of several stations as one story.

    In the order of the desks' wall clocks, which is all that stations have in common: machine
    clocks begin when each machine does, and run times when each run does. A wall clock that was
    set back does not turn its own chain around: there the latest time so far counts. Equal times
    go by station, then number, so that everybody who merges gets the same.
    """
    yield from (entry for *_, entry in heapq.merge(*map(_timed, chains), key=lambda one: one[:3]))


def _timed(chain: Iterable[Entry]) -> Iterator[tuple[float, str, int, Entry]]:
    latest = float("-inf")
    for entry in chain:
        latest = max(latest, entry.stamp.wall)
        yield latest, entry.station, entry.number, entry
