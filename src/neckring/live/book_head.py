"""The head of a log book kept elsewhere: on paper as a QR code, on a second device, as text.

A book whose last entries were cut off verifies by itself. Only somebody who kept its head can tell.
"""

from __future__ import annotations

import io
from hashlib import sha256
from typing import Literal, Protocol
from urllib.parse import quote, unquote

from neckring.live.entries import BookError, Head

MARK = "neckring-head"
CHECK_LETTERS = 4
DIGEST_LETTERS = 64
GROUP = 8
"""Letters of the digest side by side on paper."""
Comparison = Literal["same", "longer", "cut", "another chain"]
IN_WORDS: dict[Comparison, str] = {
    "same": "The log book is as it was when this head was kept.",
    "longer": "The log book has gone on since this head was kept; all before it is as it was.",
    "cut": "Entries are missing at the end of the log book: it had more when this head was kept.",
    "another chain": "This head is of another log book, or what stood before it was changed.",
}


class HeadedBook(Protocol):
    """A book that can be compared."""

    def head(self) -> Head:
        """The end of the chain."""

    def head_at(self, number: int) -> Head | None:
        """The head as it was when an entry was the last."""


def text_of(head: Head) -> str:
    """A head as one line for a QR code, a message, or the keyboard."""
    said = f"{MARK}:{quote(head.station, safe='')}:{head.count}:{head.digest}"
    return f"{said}:{_check(said)}"


def read_head(text: str) -> Head:
    """Read back what `text_of` wrote; white space and capitals do not matter.

    Raises:
        BookError: When it is no such line, or was mistyped.
    """
    parts = "".join(text.split()).split(":")
    if len(parts) != 5 or parts[0].lower() != MARK:
        raise BookError(
            f"this is no head of a log book: read {text[:60]!r}; "
            f"accepted: {MARK}:STATION:COUNT:DIGEST:CHECK"
        )
    station, count, digest, check = unquote(parts[1]), *parts[2:]
    head_parts = (count.isascii() and count.isdigit(), len(digest) == DIGEST_LETTERS)
    if not all(head_parts) or check.lower() != _check(":".join((MARK, parts[1], count, digest))):
        raise BookError("a letter of this head is wrong or missing: read it once more")
    return Head(station, int(count), digest.lower())


def words_of(head: Head) -> str:
    """A head for people to read and to compare by eye."""
    digest = " ".join(head.digest[at : at + GROUP] for at in range(0, DIGEST_LETTERS, GROUP))
    return f"Station {head.station}, {head.count} entries, {digest}"


def picture_of(head: Head, scale: float = 4.0) -> str:
    """A head as a QR code: an SVG element to be set into a page.

    Args:
        head: Which.
        scale: Width of one dot [pixels].

    Source: ISO/IEC 18004, as the library segno writes it; error correction M or better.
    """
    import segno

    picture = io.BytesIO()
    segno.make(text_of(head), error="m", micro=False).save(
        picture,
        kind="svg",
        scale=scale,
        xmldecl=False,
        svgns=True,
        title=f"Head of the log book: {words_of(head)}",
    )
    return picture.getvalue().decode()


def compare(book: HeadedBook, kept: Head) -> Comparison:
    """Hold a book against a head of it that was kept elsewhere."""
    now = book.head()
    if kept.station != now.station:
        return "another chain"
    if kept.count > now.count:
        return "cut"
    if book.head_at(kept.count) != kept:
        return "another chain"
    return "same" if kept.count == now.count else "longer"


def _check(said: str) -> str:
    """A few letters by which a mistyped one is found."""
    mark, station, rest = said.split(":", 2)
    return sha256(f"{mark}:{station}:{rest.lower()}".encode()).hexdigest()[:CHECK_LETTERS]
