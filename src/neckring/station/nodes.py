"""The tree of what is written in one file, each part with its place in the file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TypeAlias

LONGEST_KEY = 40
"""Longer keys are cut in messages."""

Step: TypeAlias = str | int
Data: TypeAlias = "str | list[Data] | dict[str, Data]"


@dataclass(frozen=True)
class Spot:
    """A place in a file; line and column count from 1."""

    file: str
    line: int
    column: int


@dataclass(frozen=True)
class Entry:
    """A key of a mapping and what stands behind it."""

    key: Spot
    node: Node


@dataclass(frozen=True)
class Node:
    """A text, a list or a mapping, as written.

    Every single value stays the text it was written as: `yes`, `10:00` and `6` are texts whose
    meaning the schema gives. Nothing behind a key is the empty text.

    Attributes:
        spot: Where it begins.
        value: Text, list of nodes, or mapping of keys to entries.
        opening: Letters before a text on one line begins: its quotation mark; None for a text
            over several lines.
    """

    spot: Spot
    value: str | list[Node] | dict[str, Entry]
    opening: int | None = None

    @property
    def text(self) -> str | None:
        """The text; None for a list or a mapping."""
        return self.value if isinstance(self.value, str) else None

    def letter_spot(self, at: int) -> Spot:
        """Where a letter of the text stands; where the text begins when that is not known."""
        if self.opening is None:
            return self.spot
        return replace(self.spot, column=self.spot.column + self.opening + at)

    @property
    def items(self) -> list[Node]:
        """The items of a list; empty for anything else."""
        return self.value if isinstance(self.value, list) else []

    @property
    def entries(self) -> dict[str, Entry]:
        """The entries of a mapping; empty for anything else."""
        return self.value if isinstance(self.value, dict) else {}

    def child(self, step: Step) -> Node | None:
        """The part behind a key, or the item at a position from 0; None when there is none."""
        if isinstance(step, str):
            return self.entries[step].node if step in self.entries else None
        return self.items[step] if 0 <= step < len(self.items) else None

    def text_of(self, *path: Step) -> str | None:
        """The text at the end of a path; None when the path ends before or is not a text."""
        node: Node | None = self
        for step in path:
            node = node.child(step) if node else None
        return node.text if node else None

    def data(self) -> Data:
        """The tree as plain texts, lists and dicts."""
        if isinstance(self.value, str):
            return self.value
        if isinstance(self.value, list):
            return [item.data() for item in self.value]
        return {key: entry.node.data() for key, entry in self.value.items()}

    def find(self, path: tuple[Step, ...]) -> tuple[Node | None, Spot]:
        """Find the part at a path and where a message about it should point.

        Args:
            path: Keys and positions from the root.

        Returns:
            The part, None when it is missing; the spot of its value, or of the key that leads to
            the mapping from which it is missing.
        """
        node, spot = self, self.spot
        for step in path:
            child = node.child(step)
            if child is None:
                return None, spot
            spot = node.entries[step].key if isinstance(step, str) else child.spot
            node = child
        return node, node.spot

    def key_spot(self, path: tuple[Step, ...]) -> Spot:
        """Where the last key of a path stands; the part's own spot for an item of a list."""
        parent, _ = self.find(path[:-1])
        last = path[-1] if path else 0
        if parent is not None and isinstance(last, str) and last in parent.entries:
            return parent.entries[last].key
        return self.find(path)[1]


def path_words(path: tuple[Step, ...]) -> str:
    """Write a path for a message: keys joined by dots, items counted from 1."""
    return "".join(_path_parts(path)).lstrip(".") or "file"


def _path_parts(path: tuple[Step, ...]) -> Iterator[str]:
    for step in path:
        yield f".{step[:LONGEST_KEY]}" if isinstance(step, str) else f"[{step + 1}]"
