"""A log book in memory: the same promises as the one on disk, as far as memory can keep them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field

from neckring.live.entries import SCHEMA, BookError, Deed, Entry, Head, Stamp


def digest_of(previous: str, deed: Deed, stamp: Stamp, number: int) -> str:
    """Of an entry with the one before it."""
    said = [
        previous,
        number,
        deed.key,
        deed.kind,
        deed.actor,
        deed.role,
        deed.device,
        dict(deed.body),
        deed.tapped_at,
        deed.offset,
        [stamp.wall, stamp.monotonic, stamp.run_time],
    ]
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


@dataclass
class MemoryBook:
    """Append-only and chained; can be told to fail, before or after it has written."""

    station: str = "demo"
    written: list[Entry] = field(default_factory=list)
    by_key: dict[str, Entry] = field(default_factory=dict)
    fails_before: bool = False
    fails_after: bool = False

    def append(self, deed: Deed, stamp: Stamp) -> Entry:
        if self.fails_before:
            raise BookError("the disk is full")
        if deed.key not in self.by_key:
            number = len(self.written) + 1
            previous = self.written[-1].digest if self.written else ""
            digest = digest_of(previous, deed, stamp, number)
            entry = Entry(number, self.station, SCHEMA, deed, stamp, previous, digest)
            self.written.append(entry)
            self.by_key[deed.key] = entry
        if self.fails_after:
            raise BookError("it is not known whether it was written")
        return self.by_key[deed.key]

    def find(self, key: str) -> Entry | None:
        return self.by_key.get(key)

    def entries(self, after: int = 0) -> Iterator[Entry]:
        yield from self.written[after:]

    def head(self) -> Head:
        last = self.written[-1] if self.written else None
        return Head(self.station, len(self.written), last.digest if last else "")

    def close(self) -> None:
        """Nothing to let go of."""
