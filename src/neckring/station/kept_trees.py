"""Trees of files that were read before, kept in a file: what has not changed is not parsed again.

To parse a station takes a third of the time in which a console that was killed is back. A tree is
known by the digest of the whole text of its file and of its path, and holds nothing that the text
does not say.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

from neckring.station.fault import Fault
from neckring.station.nodes import Entry, Node, Spot

ReadTree: TypeAlias = Callable[[str, str], tuple[Node, tuple[Fault, ...]]]
"""Text and path of a file to its tree and what was wrong with it."""


@dataclass
class KeptTrees:
    """Trees by the digest of their text.

    Attributes:
        path: Of the file in which they are kept; one that cannot be read costs time, no more.
        version: Of what parses; a file of another one counts for nothing.
        read: Parses.
        asked: Trees of this time, as they are kept.
        new: Whether one of them was not known.
    """

    path: Path
    version: str
    read: ReadTree
    asked: dict[str, Any] = field(default_factory=dict)
    new: bool = False

    def __post_init__(self) -> None:
        """Take up what the file says."""
        self._known: dict[str, Any] = {}
        with suppress(OSError, ValueError, KeyError, TypeError):
            written = json.loads(self.path.read_text(encoding="utf-8"))
            if written["version"] == self.version:
                self._known = dict(written["trees"])

    def tree_of(self, text: str, file: str) -> tuple[Node, tuple[Fault, ...]]:
        """The tree of a file's text, and what was wrong with it.

        Args:
            text: All of it.
            file: Its path relative to the station.
        """
        digest = hashlib.sha256(f"{file}\0{text}".encode("utf-8", "surrogatepass")).hexdigest()
        if digest in self._known:
            with suppress(ValueError, TypeError, AttributeError):
                tree = node_from(self._known[digest], file)
                self.asked[digest] = self._known[digest]
                return tree, ()
        tree, told = self.read(text, file)
        # Something that was complained of is read again, so that it is complained of again.
        if not told:
            self.asked[digest], self.new = data_of(tree), True
        return tree, told

    @property
    def text(self) -> str:
        """What is to stand in the file."""
        told = {"version": self.version, "trees": self.asked}
        return json.dumps(told, ensure_ascii=False, separators=(",", ":"))


def data_of(node: Node) -> list[Any]:
    """A tree as JSON: line, column, opening, and text, list or mapping; each key with its place."""
    value: Any = node.value
    if isinstance(value, list):
        value = [data_of(item) for item in value]
    elif isinstance(value, dict):
        value = {
            name: [entry.key.line, entry.key.column, data_of(entry.node)]
            for name, entry in value.items()
        }
    return [node.spot.line, node.spot.column, node.opening, value]


def node_from(data: Any, file: str) -> Node:  # noqa: ANN401 - whatever JSON a file holds
    """The tree again.

    Args:
        data: As `data_of` makes it.
        file: In which everything stands.

    Raises:
        ValueError: It is something else.
        TypeError: It is something else.
    """
    line, column, opening, value = data
    spot = Spot(file, line, column)
    if isinstance(value, str):
        return Node(spot, value, opening)
    if isinstance(value, list):
        return Node(spot, [node_from(item, file) for item in value], opening)
    return Node(
        spot,
        {
            name: Entry(Spot(file, at, beside), node_from(inner, file))
            for name, (at, beside, inner) in value.items()
        },
        opening,
    )
