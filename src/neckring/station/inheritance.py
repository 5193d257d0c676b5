"""Suits that extend another suit: they state only what differs."""

from __future__ import annotations

from neckring.station.fault import Fault, quoted
from neckring.station.fields import did_you_mean
from neckring.station.nodes import Entry, Node

OWN = ("code", "name", "about", "extends")
"""Keys that every suit states itself."""


def fill_suits(
    suits: dict[str, Node], all_read: bool = True
) -> tuple[dict[str, Node], set[str], list[Fault]]:
    """Fill each suit with what it takes from the suit it extends.

    Args:
        suits: Tree of each file.
        all_read: Whether every suit's file could be read; if not, one that is not there may be in
            a file that could not.

    Returns:
        The filled trees; the files that could not be filled; the faults.
    """
    filler = _Filler(suits, all_read)
    filled = {file: filler.filled(file) for file in suits}
    return filled, filler.unfilled, filler.faults


class _Filler:
    """Fills suits one by one; holds what was found on the way."""

    def __init__(self, suits: dict[str, Node], all_read: bool) -> None:
        self.suits = suits
        self.all_read = all_read
        self.files: dict[str, str] = {}
        for file, node in suits.items():
            self.files.setdefault(node.text_of("code") or "", file)
        self.unfilled: set[str] = set()
        self.faults: list[Fault] = []

    def filled(self, file: str, chain: tuple[str, ...] = ()) -> Node:
        node = self.suits[file]
        wanted = node.text_of("extends")
        if not wanted:
            return node
        chain = (*chain, file)
        parent = self.files.get(wanted)
        if parent is None or parent in chain:
            self._cannot_fill(node, wanted, parent, chain)
            return node
        whole = self.filled(parent, chain)
        if parent in self.unfilled:
            self.unfilled.add(file)
        return merged(whole, node, leave_out=OWN)

    def _cannot_fill(
        self, node: Node, wanted: str, parent: str | None, chain: tuple[str, ...]
    ) -> None:
        file = chain[-1]
        self.unfilled.add(file)
        if parent is None and not self.all_read:
            return
        if parent is None:
            known = tuple(sorted(code for code in self.files if code))
            hint = did_you_mean(wanted, known)
            self._complain(node, quoted(wanted), "the code of another suit of this station", hint)
            return
        circle = chain[chain.index(parent) :]
        self.unfilled.update(circle)
        # Each circle is met from each of its suits; tell it once.
        if parent == min(circle):
            codes = [self.suits[member].text_of("code") or "" for member in (*circle, parent)]
            read = f"{quoted(wanted)} (a circle: {' extends '.join(codes)})"
            self._complain(node, read, "the code of a suit that does not build on this one")

    def _complain(self, node: Node, read: str, accepted: str, hint: str = "") -> None:
        spot = node.entries["extends"].node.spot
        fault = Fault(spot.file, spot.line, spot.column, "extends", read, accepted, hint)
        if fault not in self.faults:
            self.faults.append(fault)


def merged(below: Node, above: Node, leave_out: tuple[str, ...] = ()) -> Node:
    """Lay one tree over another: groups are merged key by key, all else is replaced.

    Args:
        below: What fills the gaps.
        above: What stands.
        leave_out: Keys that do not fill gaps.
    """
    if not (below.entries and above.entries):
        return above
    entries = {key: entry for key, entry in below.entries.items() if key not in leave_out}
    for key, entry in above.entries.items():
        under = entries.get(key)
        node = merged(under.node, entry.node) if under else entry.node
        entries[key] = Entry(entry.key, node)
    return Node(above.spot, entries)
