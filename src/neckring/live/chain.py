"""The chain of a log book: each entry's digest covers the entry before, so that a change shows.

Pure. What is digested is the canonical JSON of an entry, byte for byte as it stands in the book.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from neckring.live.book_json import canonical, parsed
from neckring.live.entries import SCHEMA, BookError, Deed, Entry, Head, Kind, Role, Stamp

NOTHING_BEFORE = sha256(b"").hexdigest()
"""What the first entry names as the digest before it: that of no bytes."""
LONGEST_KEY = 200


@dataclass(frozen=True)
class Row:
    """One entry as it stands in a book.

    Attributes:
        number: From 1, without a gap.
        key: The deed's.
        text: The entry's canonical JSON, without `previous` and `digest`.
        previous: Digest of the entry before.
        digest: SHA-256 over `previous` (its 64 letters) and `text`, in UTF-8; hexadecimal.
    """

    number: int
    key: str
    text: str
    previous: str
    digest: str


class BrokenChainError(BookError):
    """A chain that does not verify.

    Attributes:
        number: Of the first entry at which it does not.
        what: What differs there.
    """

    def __init__(self, number: int, what: str, where: str = "") -> None:
        super().__init__(f"{where}{': ' if where else ''}entry {number}: {what}")
        self.number = number
        self.what = what


@contextmanager
def placed(where: str) -> Iterator[None]:
    """Put the name of a book before what is wrong with its chain."""
    try:
        yield
    except BrokenChainError as error:
        raise BrokenChainError(error.number, error.what, where) from None


def empty(station: str) -> Head:
    """The head of a chain without an entry."""
    return Head(station, 0, NOTHING_BEFORE)


def digest_of(previous: str, text: str) -> str:
    """Digest of an entry's text with the digest before it.

    Source: FIPS 180-4 (2015), SHA-256.
    """
    return sha256(previous.encode("ascii", "replace") + text.encode()).hexdigest()


def next_row(head: Head, deed: Deed, stamp: Stamp) -> Row:
    """The row of a deed behind the head of a chain.

    Raises:
        BookError: When the deed cannot be written down.
    """
    if not deed.key or len(deed.key) > LONGEST_KEY or not deed.key.isprintable():
        raise BookError(
            f"a deed's key must be 1 to {LONGEST_KEY} printable letters, not {deed.key[:60]!r}"
        )
    number = head.count + 1
    try:
        text = canonical(_written(number, head.station, SCHEMA, deed, stamp))
    except ValueError as error:
        raise BookError(f"this {deed.kind.value!r} cannot be written down: {error}") from None
    return Row(number, deed.key, text, head.digest, digest_of(head.digest, text))


def entry_of(row: Row) -> Entry:
    """The entry of a row, each of whose parts is held against the others.

    Raises:
        BrokenChainError: When they do not fit.
    """
    texts = all(isinstance(part, str) for part in (row.key, row.text, row.previous, row.digest))
    if not texts or digest_of(row.previous, row.text) != row.digest:
        raise BrokenChainError(row.number, "its text, or its digest, is not what was written")
    try:
        entry = _read(row, parsed(row.text))
    except (ValueError, KeyError, TypeError, AttributeError):
        raise BrokenChainError(row.number, "its text is not that of an entry") from None
    if entry.number != row.number:
        raise BrokenChainError(row.number, f"its text calls it entry {entry.number}")
    if entry.deed.key != row.key:
        raise BrokenChainError(row.number, f"it stands under the key {row.key!r} of another deed")
    return entry


def verified(rows: Iterable[Row], head: Head) -> Iterator[Entry]:
    """The entries of rows that go on a chain, each verified before it is given.

    Args:
        rows: In order.
        head: Of the chain before them; `empty` for a whole one.

    Raises:
        BrokenChainError: At the first that does not follow.
    """
    for row in rows:
        entry = following(row, head)
        head = Head(head.station, entry.number, entry.digest)
        yield entry


def following(row: Row, head: Head) -> Entry:
    """The entry of a row that must be the next of a chain.

    Raises:
        BrokenChainError: When it is not.
    """
    expected = head.count + 1
    if row.number != expected:
        raise BrokenChainError(expected, f"it is missing; entry {row.number} stands in its place")
    entry = entry_of(row)
    if row.previous != head.digest:
        raise BrokenChainError(expected, f"it does not follow what stands as entry {head.count}")
    if entry.station != head.station:
        raise BrokenChainError(
            expected, f"it is of station {entry.station!r}, not {head.station!r}"
        )
    return entry


def row_text(entry: Entry) -> str:
    """What of an entry is digested: the canonical JSON of all but `previous` and `digest`."""
    return canonical(_written(entry.number, entry.station, entry.schema, entry.deed, entry.stamp))


def _written(number: int, station: str, schema: int, deed: Deed, stamp: Stamp) -> dict[str, Any]:
    """An entry as plain data."""
    return {
        "deed": {
            "actor": deed.actor,
            "body": deed.body,
            "device": deed.device,
            "key": deed.key,
            "kind": deed.kind.value,
            "offset": deed.offset,
            "role": deed.role.value,
            "tapped_at": deed.tapped_at,
        },
        "number": number,
        "schema": schema,
        "stamp": {
            "monotonic": stamp.monotonic,
            "run_time": stamp.run_time,
            "wall": stamp.wall,
        },
        "station": station,
    }


def _read(row: Row, data: Any) -> Entry:  # noqa: ANN401 - whatever JSON a file holds
    """An entry from plain data; raises what Python raises where a part is missing or strange."""
    schema = data["schema"]
    if schema > SCHEMA:
        raise BrokenChainError(
            row.number,
            f"it was written by a newer neckring (schema {schema}, this one reads up to {SCHEMA})",
        )
    deed, stamp = data["deed"], data["stamp"]
    return Entry(
        number=data["number"],
        station=data["station"],
        schema=schema,
        deed=Deed(
            key=deed["key"],
            kind=Kind(deed["kind"]),
            actor=deed["actor"],
            role=Role(deed["role"]),
            device=deed["device"],
            body=dict(deed["body"]),
            tapped_at=_seconds(deed["tapped_at"]),
            offset=_seconds(deed["offset"]),
        ),
        stamp=Stamp(float(stamp["wall"]), float(stamp["monotonic"]), float(stamp["run_time"])),
        previous=row.previous,
        digest=row.digest,
    )


def _seconds(value: float | None) -> float | None:
    return None if value is None else float(value)
