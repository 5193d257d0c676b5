"""What is wrong in what a person wrote: where it stands, what was read, what is accepted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass

LONGEST_SHOWN = 60
"""Longer text is cut in messages."""


@dataclass(frozen=True, order=True)
class Fault:
    """One fault, or one warning, in one file.

    Attributes:
        file: Path relative to the station's folder.
        line: Line of the offending value, counted from 1.
        column: Column of the offending value, counted from 1.
        field: Where in the file's structure, for example "outing[3].speed"; lists count from 1.
        read: What was read, quoted when it is text of the file.
        accepted: What is accepted there.
        hint: What was probably meant; may be empty.
    """

    file: str
    line: int
    column: int
    field: str
    read: str
    accepted: str
    hint: str = ""

    def __post_init__(self) -> None:
        """Make every letter of the message one that any terminal and log can show."""
        for name in ("file", "field", "read", "accepted", "hint"):
            object.__setattr__(self, name, visible(getattr(self, name)))

    def __str__(self) -> str:
        """One line: place, field, what was read, what is accepted, hint."""
        parts = [f"read {self.read}", f"accepted: {self.accepted}", self.hint]
        said = "; ".join(part for part in parts if part)
        return f"{self.file}:{self.line}:{self.column}: {self.field}: {said}"

    def as_record(self) -> dict[str, str | int]:
        """The fault as plain data, for JSON."""
        return asdict(self)


class StationFaults(Exception):  # noqa: N818 - it is named after what it carries
    """A station that cannot be used, with every fault found in it.

    Attributes:
        faults: All of them, ordered by file, line and column.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(sorted(set(faults)))
        super().__init__("\n".join(str(fault) for fault in self.faults))


def quoted(text: str) -> str:
    """Put text of a file into quotes for a message: short, and without invisible letters."""
    shown = text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 1]}…"
    return f'"{visible(shown)}"'


def visible(text: str) -> str:
    """Replace letters that cannot be shown by their numbers, and odd spaces by plain ones."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else _escaped(letter) for letter in text)


def _escaped(letter: str) -> str:
    return " " if letter in "\n\t\u00a0\u2009\u202f" else f"\\u{ord(letter):04x}"


def listed(words: Iterable[str], last: str = "or") -> str:
    """Join words for a message: "a, b or c"."""
    names = list(words)
    return f"{', '.join(names[:-1])} {last} {names[-1]}" if len(names) > 1 else "".join(names)
