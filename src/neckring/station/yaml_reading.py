"""YAML 1.2 text to a tree of nodes, without ever expanding more than a person would write.

The tree is built from ruamel.yaml's events, not from its constructors: every value keeps its line
and column, stays the text it was written as, and nothing in a file can make an object.
"""

from __future__ import annotations

from collections.abc import Iterator

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentEndEvent,
    DocumentStartEvent,
    Event,
    MappingStartEvent,
    ScalarEvent,
    SequenceStartEvent,
    StreamEndEvent,
    StreamStartEvent,
)

from neckring.station.fault import Fault, quoted
from neckring.station.files import FileFault
from neckring.station.nodes import Entry, Node, Spot
from neckring.station.yaml_words import plain_words

DEEPEST = 20
"""Levels of nesting; a station needs six."""

MOST_NODES = 20_000
"""Values in a file once its aliases are counted as often as they are used."""

MOST_ALIASES = 100

_COMMON_TAG = "tag:yaml.org,2002:"
_NOTHING = ("", "~", "null", "Null", "NULL")
_AROUND = (StreamStartEvent, StreamEndEvent, DocumentStartEvent, DocumentEndEvent)


def read_yaml(text: str, file: str) -> tuple[Node, list[Fault]]:
    """Read one file's text.

    Args:
        text: The whole file.
        file: Its path relative to the station.

    Returns:
        The tree and the faults which do not spoil it (keys written twice and the like).

    Raises:
        FileFault: The text is not one YAML document.
    """
    reader = _Reader(text, file)
    root = reader.document()
    return root, reader.faults


class _Reader:
    """Reads one document; holds the events still to come and what was met so far."""

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self.faults: list[Fault] = []
        self.lines = text.splitlines()
        self.events = self._guarded(YAML(typ="safe", pure=True).parse(text))
        self.anchors: dict[str, tuple[Node, int] | None] = {}
        self.nodes = 0
        self.aliases = 0

    def document(self) -> Node:
        root = None
        for event in self.events:
            if isinstance(event, DocumentStartEvent) and root is not None:
                accepted = "one document: everything above the line ---"
                raise self._stop(self._spot(event), "a second document", accepted)
            if not isinstance(event, _AROUND):
                root = self._node(event, 0)
        if root is None or root.value == "":
            raise self._stop(Spot(self.file, 1, 1), "an empty file", "keys with their values")
        return root

    def _guarded(self, events: Iterator[Event]) -> Iterator[Event]:
        try:
            yield from events
        except MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            line, column = (mark.line, mark.column) if mark else (0, 0)
            spot = Spot(self.file, line + 1, column + 1)
            raise self._stop(spot, *plain_words(error, self._letters_at(line, column))) from None
        except FileFault:
            raise
        except Exception as error:
            read = f"text that is not YAML ({type(error).__name__})"
            raise self._stop(Spot(self.file, 1, 1), read, "keys with their values") from None

    def _letters_at(self, line: int, column: int) -> str:
        return self.lines[line][column:] if line < len(self.lines) else ""

    def _stop(self, spot: Spot, read: str, accepted: str, hint: str = "") -> FileFault:
        return FileFault(Fault(spot.file, spot.line, spot.column, "file", read, accepted, hint))

    def _complain(self, spot: Spot, field: str, read: str, accepted: str, hint: str = "") -> None:
        self.faults.append(Fault(spot.file, spot.line, spot.column, field, read, accepted, hint))

    def _spot(self, event: Event) -> Spot:
        return Spot(self.file, event.start_mark.line + 1, event.start_mark.column + 1)

    def _node(self, event: Event, depth: int) -> Node:
        spot = self._spot(event)
        self._count(1, spot)
        if depth > DEEPEST:
            raise self._stop(spot, "very deep nesting", f"at most {DEEPEST} levels")
        if isinstance(event, AliasEvent):
            return self._aliased(event, spot)
        tag, anchor = str(getattr(event, "tag", None)), getattr(event, "anchor", None)
        if tag not in ("!", "None"):
            self._complain(
                spot,
                "file",
                f"the tag {quoted(tag.replace(_COMMON_TAG, '!!'))}",
                "values without tags",
            )
        if anchor is None:
            return self._content(event, spot, depth)
        before = self.nodes
        self.anchors[anchor] = None
        node = self._content(event, spot, depth)
        self.anchors[anchor] = (node, self.nodes - before + 1)
        return node

    def _content(self, event: Event, spot: Spot, depth: int) -> Node:
        if isinstance(event, ScalarEvent):
            plain = event.style in (None, "")
            text = "" if plain and event.value in _NOTHING else str(event.value)
            return Node(spot, text, _opening(event))
        if isinstance(event, SequenceStartEvent):
            return Node(spot, [self._node(e, depth + 1) for e in self._until_closed()])
        if isinstance(event, MappingStartEvent):
            return Node(spot, self._mapping(depth))
        raise self._stop(spot, "text that is not YAML", "keys with their values")

    def _until_closed(self) -> Iterator[Event]:
        for event in self.events:
            if type(event).__name__ in ("SequenceEndEvent", "MappingEndEvent"):
                return
            yield event

    def _mapping(self, depth: int) -> dict[str, Entry]:
        entries: dict[str, Entry] = {}
        inherited: list[Entry] = []
        events = self._until_closed()
        for event in events:
            key = self._node(event, depth + 1)
            value = self._node(next(events), depth + 1)
            # Nothing has no place of its own: the parser puts it on the next line.
            entry = Entry(key.spot, Node(key.spot, "") if value.value == "" else value)
            self._add(entries, inherited, key, entry)
        for entry in inherited:
            self._merge(entries, entry)
        return entries

    def _add(
        self, entries: dict[str, Entry], inherited: list[Entry], key: Node, entry: Entry
    ) -> None:
        if not key.text:
            read = "nothing before the colon" if key.text == "" else "a list or a group as a key"
            self._complain(key.spot, "file", read, "a key in one word")
        elif key.text == "<<":
            inherited.append(entry)
        elif key.text in entries:
            first = entries[key.text].key.line
            read = f"the key a second time (first on line {first})"
            self._complain(key.spot, key.text[:40], read, "each key once")
        else:
            entries[key.text] = entry

    def _merge(self, entries: dict[str, Entry], entry: Entry) -> None:
        sources = entry.node.items or [entry.node]
        for source in sources:
            if not source.entries:
                accepted = "an alias of a group of keys, as in <<: *name"
                self._complain(entry.key, "<<", "something that is no group of keys", accepted)
            for key, value in source.entries.items():
                entries.setdefault(key, value)

    def _aliased(self, event: AliasEvent, spot: Spot) -> Node:
        self.aliases += 1
        if self.aliases > MOST_ALIASES:
            raise self._stop(spot, f"more than {MOST_ALIASES} aliases", "values written out")
        if event.anchor not in self.anchors:
            raise self._stop(
                spot,
                f"the alias *{event.anchor} of nothing",
                "an alias of an anchor written above it",
                "put text that begins with * in quotes",
            )
        met = self.anchors[event.anchor]
        if met is None:
            raise self._stop(spot, f"the alias *{event.anchor} inside itself", "values written out")
        node, size = met
        self._count(size, spot)
        return node

    def _count(self, more: int, spot: Spot) -> None:
        self.nodes += more
        if self.nodes > MOST_NODES:
            raise self._stop(
                spot,
                f"more than {MOST_NODES} values, aliases counted as often as they are used",
                "a file of the length a person writes",
            )


def _opening(event: ScalarEvent) -> int | None:
    """Letters before a text begins; None where it may be broken over lines or escaped."""
    mark = 0 if event.style in (None, "") else 1
    length = event.end_mark.index - event.start_mark.index
    return mark if length == len(str(event.value)) + 2 * mark else None
