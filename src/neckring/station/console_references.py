"""What the key `console` says of procedures and their kit, and is not so."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

from neckring.station.conditions import Word
from neckring.station.fault import Fault, listed
from neckring.station.fields import did_you_mean
from neckring.station.kit_references import (
    Files,
    Names,
    Path,
    condition_faults,
    letter_fault,
    names_of,
)
from neckring.station.nodes import Node


def console_faults(station: Node, kits: Files, procedures: Files) -> Iterator[Fault]:
    """What is wrong between the console, the procedures it serves and their kit.

    Args:
        station: The tree of station.yaml.
        kits: File to tree, of all kits; none of which has the code of another.
        procedures: The same of all procedures.
    """
    if station.child("console") is None:
        return
    by_code = {one.text_of("code") or "": one for one in procedures.values()}
    names = {kit.text_of("code") or "": names_of(kit) for kit in kits.values()}
    served = list(_codes(station, "procedures"))
    yield from _unknown(station, by_code)
    known = [(path, by_code[code]) for path, code in served if code in by_code]
    if known:
        cards = [(path, by_code[c]) for path, c in _codes(station, "cards") if c in by_code]
        yield from _one_kit(station, known[0][1], known[1:] + cards)
        if len(known) == len(served):
            yield from _one_after_another(station, known)
        yield from _clock_faults(station, names.get(known[0][1].text_of("kit") or ""))


def _codes(station: Node, key: str) -> Iterator[tuple[Path, str]]:
    found, _ = station.find(("console", key))
    for place, item in enumerate(found.items if found else []):
        if item.text:
            yield ("console", key, place), item.text


def _unknown(station: Node, by_code: Mapping[str, Node]) -> Iterator[Fault]:
    for key in ("procedures", "cards"):
        able = [c for c, one in by_code.items() if key == "procedures" or one.text_of("when")]
        what = "the code of a procedure of this station"
        what += ", one for an emergency, which says when" if key == "cards" else ""
        for path, code in _codes(station, key):
            if code not in able:
                accepted = f"{what}: {listed(sorted(able)) or 'none yet'}"
                near = did_you_mean(code, tuple(able))
                yield letter_fault(station, path, Word(code, 0), accepted, near)


def _one_kit(station: Node, first: Node, others: list[tuple[Path, Node]]) -> Iterator[Fault]:
    """All are done with one kit, by as many wearers; a card may be for one wearer alone."""
    kit, wearers = first.text_of("kit"), first.text_of("wearers") or "1"
    for path, other in others:
        text = station.text_of(*path) or ""
        if other.text_of("kit") != kit:
            accepted = f"a procedure with the kit of the first one, {kit}"
            yield letter_fault(station, path, Word(text, 0), accepted)
        alone = "1" if path[1] == "cards" else wearers
        if (other.text_of("wearers") or "1") not in (wearers, alone):
            accepted = f"a procedure for as many wearers as the first one, {wearers}"
            yield letter_fault(station, path, Word(text, 0), accepted)


def _one_after_another(station: Node, served: list[tuple[Path, Node]]) -> Iterator[Fault]:
    """Each begins where the one before it ends: otherwise it was proved from another state."""
    for (_, before), (path, one) in pairwise(served):
        code = before.text_of("code") or ""
        if one.text_of("after") != code:
            after = one.text_of("after")
            accepted = f"a procedure that begins after {code}, the one before it"
            hint = f"it says after: {after}" if after else "it says nothing of what it is after"
            text = station.text_of(*path) or ""
            yield letter_fault(station, path, Word(text, 0), accepted, hint)


def _clock_faults(station: Node, names: Names | None) -> Iterator[Fault]:
    clocks, _ = station.find(("console", "clocks"))
    for place, _clock in enumerate(clocks.items if clocks and names else []):
        for key in ("starts", "ends"):
            path = ("console", "clocks", place, key)
            assert names is not None
            yield from condition_faults(station, path, names, ("", "partner"))
