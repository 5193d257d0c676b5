"""What the files say of one another: codes, references, and where the wearer is at each spell."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass, field, replace

from neckring.station.console_references import console_faults
from neckring.station.fault import Fault, listed, quoted
from neckring.station.fields import CODE, did_you_mean
from neckring.station.fit_references import fit_faults
from neckring.station.help import ALONG
from neckring.station.kit_references import kit_faults
from neckring.station.nodes import Node, Step, path_words
from neckring.station.procedure_references import procedure_faults
from neckring.station.run import CARRIED_ON
from neckring.station.spell_shapes import shape_faults
from neckring.station.validation import MISSING

Trees = Mapping[str, Mapping[str, Node]]
"""Kind of file to path to tree."""


@dataclass(frozen=True)
class Site:
    """Places and paths as written, whether or not all else about them is in order.

    Attributes:
        places: Codes; None when station.yaml tells none.
        ways: Where a path leads from each place.
        reaches: Where the umbilical reaches; None when there is no facility.
        sound: Whether paths and reaches name places that are there.
    """

    places: tuple[str, ...] | None
    ways: dict[str, set[str]] = field(default_factory=dict)
    reaches: tuple[str, ...] | None = None
    sound: bool = True

    def joined_to(self, place: str) -> set[str]:
        """The places that can be reached from a place along paths, itself among them."""
        reached, waiting = {place}, [place]
        while waiting:
            beyond = self.ways.get(waiting.pop(), set()) - reached
            reached |= beyond
            waiting += beyond
        return reached


def reference_faults(trees: Trees, unread: Set[str] = frozenset()) -> Iterator[Fault]:
    """Check everything that one part of the files says of another.

    One fault is told once: what only follows from it is not told as well.

    Args:
        trees: All files that could be read.
        unread: Kinds of which something could not be read.
    """
    unsure = set(unread)
    for kind in ("suit", "wearer", "run", "kit", "procedure"):
        used_twice = list(_codes_used_twice(kind, trees[kind]))
        nameless = any(not node.text_of("code") for node in trees[kind].values())
        unsure |= {kind} if used_twice or nameless else set()
        yield from used_twice
    station = next(iter(trees["station"].values()), None)
    site = site_of(station) if station is not None else Site(None)
    if station is not None:
        at_fault = list(_site_faults(station, site))
        yield from at_fault
        to_itself = any(start in ends for start, ends in site.ways.items())
        site = replace(site, sound=not at_fault and not to_itself)
    yield from _kits_and_procedures(trees, unsure)
    if "suit" not in unsure:
        yield from fit_faults(trees["suit"], trees["wearer"])
    for run in trees["run"].values():
        for kind in ("wearer", "suit"):
            if kind not in unsure:
                yield from _unknown_code(run, (kind,), kind, codes(trees[kind]))
        yield from _tender_faults(run, site)
        known = None if "wearer" in unsure else codes(trees["wearer"])
        yield from _partner_faults(run, known)
        yield from _Course(run, site).faults()


def _kits_and_procedures(trees: Trees, unsure: Set[str]) -> Iterator[Fault]:
    kits, procedures = trees.get("kit", {}), trees.get("procedure", {})
    for kit in kits.values():
        yield from kit_faults(kit)
    if not unsure & {"kit", "procedure"}:
        yield from procedure_faults(kits, procedures)
    if "kit" not in unsure:
        for suit in trees["suit"].values():
            yield from _unknown_code(suit, ("kit",), "kit", codes(kits))
    station = next(iter(trees["station"].values()), None)
    if station is not None and not unsure & {"kit", "procedure"}:
        yield from console_faults(station, kits, procedures)


def codes(files: Mapping[str, Node]) -> tuple[str, ...]:
    """The codes in files of one kind."""
    return tuple(sorted({code for node in files.values() if (code := node.text_of("code"))}))


def site_of(station: Node) -> Site:
    """Places and paths of a station's file."""
    places = station.child("places")
    ways: dict[str, set[str]] = defaultdict(set)
    paths = station.child("paths")
    for path in paths.items if paths else []:
        start, end = path.text_of("from"), path.text_of("to")
        if start and end:
            ways[start].add(end)
            ways[end].add(start)
    facility = station.child("facility")
    reaches = facility.child("reaches") if facility else None
    return Site(
        tuple(places.entries) if places and _well_named(places) else None,
        dict(ways),
        tuple(item.text or "" for item in reaches.items) if reaches else None,
    )


def _well_named(places: Node) -> bool:
    return bool(places.entries) and all(CODE.fullmatch(code) for code in places.entries)


def fault_at(
    root: Node, path: tuple[Step, ...], accepted: str, hint: str = "", read: str = ""
) -> Fault:
    """A fault of the text at a path."""
    node, spot = root.find(path)
    said = read or (quoted(node.text or "") if node else MISSING)
    return Fault(spot.file, spot.line, spot.column, path_words(path), said, accepted, hint)


def _codes_used_twice(kind: str, files: Mapping[str, Node]) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for file, node in sorted(files.items()):
        code = node.text_of("code")
        if code and code in first:
            yield fault_at(
                node, ("code",), f"a code which no other {kind} has", f"{first[code]} has it too"
            )
        elif code:
            first[code] = file


def _unknown_code(
    run: Node, path: tuple[Step, ...], kind: str, known: tuple[str, ...]
) -> Iterator[Fault]:
    code = run.text_of(*path)
    if code and code not in known:
        accepted = f"the code of a {kind} of this station: {listed(known) or 'there is none yet'}"
        yield fault_at(run, path, accepted, did_you_mean(code, known))


def _tender_faults(run: Node, site: Site) -> Iterator[Fault]:
    path = ("help", "tender")
    tender, start = run.text_of(*path), _start_of(run)
    if site.places is None or not tender or tender == ALONG or not CODE.fullmatch(tender):
        return
    if tender not in site.places:
        accepted = f"the word {ALONG}, or a place of station.yaml: {listed(site.places)}"
        yield fault_at(run, path, accepted, did_you_mean(tender, (ALONG, *site.places)))
    elif site.sound and start in site.places and tender not in site.joined_to(start):
        joined = listed(sorted(site.joined_to(start)))
        accepted = f"a place that paths join to {start}, where the outing begins: {joined}"
        yield fault_at(run, path, accepted, "station.yaml lists the paths")


def _start_of(run: Node) -> str:
    first = run.find(("outing", 0))[0]
    return (first.text_of("from") or first.text_of("place") or "") if first else ""


def _partner_faults(run: Node, known: tuple[str, ...] | None) -> Iterator[Fault]:
    path = ("help", "partner")
    partner = run.text_of(*path)
    if partner and partner == run.text_of("wearer"):
        yield fault_at(run, path, "the code of another wearer than the run's own")
    elif known is not None:
        yield from _unknown_code(run, path, "wearer", known)


def _place_called_along(station: Node) -> Fault:
    path = ("places", ALONG)
    spot = station.key_spot(path)
    accepted = "another code for a place: this word says that a tender walks along"
    return Fault(spot.file, spot.line, spot.column, path_words(path), quoted(ALONG), accepted)


def _site_faults(station: Node, site: Site) -> Iterator[Fault]:
    if site.places is None:
        return
    if ALONG in site.places:
        yield _place_called_along(station)
    paths = station.child("paths")
    met: set[frozenset[str]] = set()
    for i, path in enumerate(paths.items if paths else []):
        for end in ("from", "to"):
            yield from _unknown_place(station, ("paths", i, end), site.places)
        both = frozenset((path.text_of("from") or "", path.text_of("to") or ""))
        if both in met:
            accepted = "one path between two places, walked in either direction"
            yield fault_at(station, ("paths", i), accepted, read="a second path between them")
        met.add(both)
    for i, _ in enumerate(site.reaches or ()):
        yield from _unknown_place(station, ("facility", "reaches", i), site.places)


def _unknown_place(root: Node, path: tuple[Step, ...], places: tuple[str, ...]) -> Iterator[Fault]:
    node, _ = root.find(path)
    if node is not None and node.text and node.text not in places:
        accepted = f"a place of station.yaml: {listed(places)}"
        yield fault_at(root, path, accepted, did_you_mean(node.text, places))


class _Course:
    """Follows one run from spell to spell."""

    def __init__(self, run: Node, site: Site) -> None:
        self.run = run
        self.site = site
        self.here: str | None = None
        self.state: dict[str, str] = {}
        self.is_out = False

    def faults(self) -> Iterator[Fault]:
        outing = self.run.child("outing")
        for i, spell in enumerate(outing.items if outing else []):
            path: tuple[Step, ...] = ("outing", i)
            yield from shape_faults(spell, path)
            yield from self._moves(spell, path)
            stated = {key: text for key in CARRIED_ON if (text := spell.text_of(key))}
            self.state |= stated
            yield from self._unstated(spell, path, first=i == 0)
            yield from self._out_of_reach(spell, path)

    def _moves(self, spell: Node, path: tuple[Step, ...]) -> Iterator[Fault]:
        places = self.site.places
        if places is not None:
            for key in ("place", "from", "to"):
                yield from _unknown_place(self.run, (*path, key), places)
        start = spell.text_of("from") or spell.text_of("place")
        end = spell.text_of("to") or spell.text_of("place")
        jumps = list(self._jump(path, "from" if spell.text_of("from") else "place", start))
        yield from jumps
        if spell.text_of("from") and spell.text_of("to"):
            missing = list(self._no_path(path, start or "", end or ""))
            yield from missing
            jumps += missing
        known = places is None or end in places
        # After a jump, or without a path, it is not known which of two spells is wrong.
        self.here = end if known and not jumps else None

    def _jump(self, path: tuple[Step, ...], key: str, start: str | None) -> Iterator[Fault]:
        known = self.site.places is None or start in self.site.places
        if start and known and self.here and start != self.here:
            accepted = f"{quoted(self.here)}, where the spell before ends"
            yield fault_at(self.run, (*path, key), accepted, "a walk between them may be missing")

    def _no_path(self, path: tuple[Step, ...], start: str, end: str) -> Iterator[Fault]:
        places = self.site.places
        if places is None or not self.site.sound or not {start, end} <= set(places):
            return
        ways = self.site.ways.get(start, set())
        if end not in ways:
            leads = listed(sorted(ways)) or "nowhere yet"
            accepted = f"a place to which a path leads; from {start} they lead to {leads}"
            yield fault_at(self.run, (*path, "to"), accepted, "station.yaml lists the paths")

    def _unstated(self, spell: Node, path: tuple[Step, ...], first: bool) -> Iterator[Fault]:
        needed = ["cooling", "air", "helmet"] if first else []
        if spell.text_of("cooling") == "pack" and "valve" not in self.state:
            needed.append("valve")
        for key in needed:
            if key not in spell.entries:
                why = "the first spell states it" if first else "cooling by the pack needs it"
                yield fault_at(self.run, (*path, key), _STATED[key], why)

    def _out_of_reach(self, spell: Node, path: tuple[Step, ...]) -> Iterator[Fault]:
        was_out, self.is_out = self.is_out, False
        supplied = [key for key in ("cooling", "air") if self.state.get(key) == "facility"]
        touched = [place for end in ("place", "from", "to") if (place := spell.text_of(end))]
        reaches = self.site.reaches
        outside = [place for place in touched if reaches is not None and place not in reaches]
        if not supplied or not self.site.sound or self.site.places is None:
            return
        if reaches is not None and not outside:
            return
        self.is_out = True
        read = f"{listed(supplied)} from the facility"
        if outside:
            read = f"{read} at {outside[0]}"
        nowhere = "nowhere, as station.yaml has no facility"
        if reaches is not None:
            nowhere = "nowhere, as the facility's reaches is empty"
        within = listed(reaches) if reaches else nowhere
        stated = [key for key in supplied if key in spell.entries]
        if was_out and not stated:
            return
        at = (*path, stated[0]) if stated else path
        hint = "" if stated else "it carries on from the spell before"
        accepted = f"facility supply only where its umbilical reaches: {within}"
        yield fault_at(self.run, at, accepted, hint, read=read)


_STATED = {
    "cooling": "none, facility or pack",
    "air": "none, facility or pack",
    "helmet": "on or off",
    "valve": "the valve's opening from 0 % to 100 % (in %)",
}
