"""Proposals put into the text of the station's files: only a value's own letters are replaced.

Comments, order, quotation marks and line ends stay as they are. A value that is not written yet
gets a line of its own behind what stands beside it. A value that stands in another file than the
one meant, or at an anchor that others share, is not touched: that is said instead.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from neckring.calibration.findings import Place
from neckring.station.loading import LoadedStation
from neckring.station.nodes import Node, Step, path_words


@dataclass(frozen=True)
class Amended:
    """The station's files as they would be.

    Attributes:
        texts: File to its new text; only files that change.
        before: File to its text now; of the same files.
        refused: Why some proposals are not in it, in words.
    """

    texts: Mapping[str, str]
    before: Mapping[str, str]
    refused: tuple[str, ...]

    @property
    def diff(self) -> str:
        """All changes as one unified diff; empty for none."""
        return "".join(
            line
            for file in sorted(self.texts)
            for line in _diff_lines(file, self.before[file], self.texts[file])
        )


@dataclass(frozen=True)
class _Edit:
    line: int
    column: int
    old: str
    new: str


def amended(
    loaded: LoadedStation, proposals: Iterable[tuple[Place, str]], texts: Mapping[str, str]
) -> Amended:
    """Put proposals into files.

    Args:
        loaded: The station as read.
        proposals: Place and the text that should stand there.
        texts: Every file of suits, wearers and kits as it is written, by path in the station.
    """
    edits: dict[str, list[_Edit]] = {}
    refused = []
    for place, new in proposals:
        file = file_of(loaded, place)
        found = _edit(loaded, place, file, new, texts.get(file, ""))
        if isinstance(found, str):
            refused.append(f"{place.kind} {place.code}, {path_words(place.path)}: {found}")
        elif found.old != new:
            edits.setdefault(file, []).append(found)
    changed = {file: _applied(texts[file], mine) for file, mine in edits.items()}
    return Amended(changed, {file: texts[file] for file in changed}, tuple(refused))


def file_of(loaded: LoadedStation, place: Place) -> str:
    """The file in which a suit, wearer or kit is written."""
    trees = loaded.trees[place.kind].items()
    return next(file for file, tree in trees if tree.text_of("code") == place.code)


def _edit(loaded: LoadedStation, place: Place, file: str, new: str, text: str) -> _Edit | str:
    """What is to be replaced where; or why nothing can be."""
    root = loaded.trees[place.kind][file]
    node, _ = root.find(place.path)
    write = f"write {new} by hand"
    if node is None:
        return _inserted(root, place.path, file, new, text) or (
            f"it is not written in {file}; {write}"
        )
    if node.text is None:
        return f"it is written in several parts in {file}; {write}"
    if node.spot.file != file:
        return f"it is written in {node.spot.file}, on which others build; {write}"
    if sum(1 for each in _nodes(root) if each is node) > 1:
        return f"others share the value at {file}:{node.spot.line}; {write}"
    if node.opening is None:
        return f"the value at {file}:{node.spot.line} is broken over lines; {write}"
    column = node.spot.column + node.opening
    lines = text.splitlines(keepends=True)
    here = lines[node.spot.line - 1][column - 1 :] if node.spot.line <= len(lines) else ""
    if not here.startswith(node.text):
        return f"{file}:{node.spot.line} does not read {node.text} any more; {write}"
    return _Edit(node.spot.line, column, node.text, new)


def _inserted(root: Node, path: tuple[Step, ...], file: str, new: str, text: str) -> _Edit | None:
    """A line of its own behind the last value that stands on one line beside it; None without."""
    parent, _ = root.find(path[:-1])
    lines = text.splitlines(keepends=True)
    if parent is None or parent.spot.line > len(lines):
        return None
    in_braces = lines[parent.spot.line - 1][parent.spot.column - 1 :].startswith("{")
    if in_braces or sum(1 for each in _nodes(root) if each is parent) > 1:
        return None
    for entry in reversed(list(parent.entries.values())):
        at = entry.key.line - 1
        if entry.node.opening is None or at >= len(lines) or entry.key.file != file:
            continue
        line = lines[at].rstrip("\r\n")
        indent = line[: entry.key.column - 1]
        if entry.node.spot.line == entry.key.line and not indent.strip():
            end = lines[at][len(line) :] or "\n"
            return _Edit(at + 1, len(line) + 1, "", f"{end}{indent}{path[-1]}: {new}")
    return None


def _nodes(node: Node) -> Iterator[Node]:
    yield node
    for entry in node.entries.values():
        yield from _nodes(entry.node)
    for item in node.items:
        yield from _nodes(item)


def _applied(text: str, edits: Iterable[_Edit]) -> str:
    lines = text.splitlines(keepends=True)
    # From the end of each line on, so that columns before it still count.
    for edit in sorted(edits, key=lambda one: (one.line, one.column), reverse=True):
        line, at = lines[edit.line - 1], edit.column - 1
        lines[edit.line - 1] = _kept_comment(line[:at], edit, line[at + len(edit.old) :])
    return "".join(lines)


def _kept_comment(before: str, edit: _Edit, after: str) -> str:
    """The line with its comment in the column where it stood, when there is room."""
    gap = len(after) - len(after.lstrip(" "))
    if after[gap : gap + 1] != "#":
        return f"{before}{edit.new}{after}"
    wanted = max(1, gap + len(edit.old) - len(edit.new))
    return f"{before}{edit.new}{' ' * wanted}{after[gap:]}"


def _diff_lines(file: str, old: str, new: str) -> Iterator[str]:
    before, after = old.splitlines(keepends=True), new.splitlines(keepends=True)
    for line in difflib.unified_diff(before, after, f"a/{file}", f"b/{file}"):
        yield line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n"
