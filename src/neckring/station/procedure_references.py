"""What procedures say of their kit, of each other and of the people who take part."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from neckring.station.conditions import Word, prefix_of
from neckring.station.fault import Fault, listed
from neckring.station.fields import did_you_mean
from neckring.station.kit_references import (
    WEARERS,
    Files,
    Names,
    Path,
    condition_faults,
    key_fault,
    letter_fault,
    names_of,
)
from neckring.station.nodes import Node


def procedure_faults(kits: Files, procedures: Files) -> Iterator[Fault]:
    """What is wrong between the files of procedures and kits.

    Args:
        kits: File to tree, of all kits; none of which has the code of another.
        procedures: The same of all procedures.
    """
    names = {kit.text_of("code") or "": names_of(kit) for kit in kits.values()}
    by_code = {one.text_of("code") or "": one for one in procedures.values()}
    for procedure in procedures.values():
        kit = procedure.text_of("kit")
        if kit and kit not in names:
            yield _unknown(procedure, ("kit",), "the code of a kit of this station", names)
        yield from _chain_faults(procedure, by_code)
        if kit in names:
            yield from _Reading(procedure, names[kit]).faults()


def _unknown(root: Node, path: Path, what: str, known: Mapping[str, object]) -> Fault:
    text = root.text_of(*path) or ""
    accepted = f"{what}: {listed(sorted(known)) or 'none yet'}"
    return letter_fault(root, path, Word(text, 0), accepted, did_you_mean(text, tuple(known)))


def _chain_faults(procedure: Node, by_code: Mapping[str, Node]) -> Iterator[Fault]:
    """A procedure that begins where one ends which is not there, or which itself begins here."""
    path = ("after",)
    before = procedure.text_of(*path)
    if not before:
        return
    if before not in by_code:
        yield _unknown(procedure, path, "the code of a procedure of this station", by_code)
        return
    earlier = by_code[before]
    for key in ("kit", "wearers"):
        if earlier.text_of(key) != procedure.text_of(key) and earlier.text_of(key):
            accepted = f"a procedure with the same {key}; {before} has {earlier.text_of(key)}"
            yield letter_fault(procedure, path, Word(before, 0), accepted)
    met = {procedure.text_of("code")}
    node: Node | None = earlier
    while node is not None and (code := node.text_of("code")) not in met:
        met.add(code)
        node = by_code.get(node.text_of("after") or "")
    if node is procedure:
        accepted = "a procedure that does not itself begin after this one"
        yield letter_fault(procedure, path, Word(before, 0), accepted)


class _Reading:
    """Reads one procedure against its kit."""

    def __init__(self, procedure: Node, names: Names) -> None:
        self.procedure = procedure
        self.names = names
        self.wearers = WEARERS[: 1 if procedure.text_of("wearers") in (None, "1") else 2]

    def faults(self) -> Iterator[Fault]:
        yield from self._begins()
        yield from condition_faults(self.procedure, ("ends",), self.names, self.wearers)
        steps = self.procedure.child("steps")
        count = len(steps.items) if steps else 0
        for place, step in enumerate(steps.items if steps else []):
            yield from self._step(step, ("steps", place))
        accepted = self.procedure.child("accepted")
        for place, entry in enumerate(accepted.items if accepted else []):
            yield from self._accepted(entry, ("accepted", place), count)

    def _begins(self) -> Iterator[Fault]:
        begins = self.procedure.child("begins")
        for owned, entry in (begins.entries if begins else {}).items():
            whose, thing = prefix_of(owned)
            path = ("begins", owned)
            allowed = ("",) if thing in self.names.shared else self.wearers
            if thing not in self.names.states:
                known = tuple(self.names.states)
                accepted = f"a thing of the kit: {listed(known)}"
                yield key_fault(self.procedure, path, accepted, did_you_mean(thing, known))
            elif whose not in allowed:
                forms = [f"{each}.{thing}" if each else thing for each in allowed]
                yield key_fault(self.procedure, path, listed(forms))
            elif entry.node.text not in self.names.states[thing]:
                states = dict.fromkeys(self.names.states[thing])
                yield _unknown(self.procedure, path, f"a state of {thing}", states)

    def _step(self, step: Node, path: Path) -> Iterator[Fault]:
        for key in ("who", "on"):
            if step.text_of(key) == "B" and "B" not in self.wearers:
                word = Word("B", 0)
                accepted = "A or tender: this procedure has one wearer"
                yield letter_fault(self.procedure, (*path, key), word, accepted)
        for key, known in (("move", self.names.moves), ("check", self.names.signs)):
            name = step.text_of(key)
            if name and name not in known:
                yield _unknown(self.procedure, (*path, key), f"a {_WHAT[key]} of the kit", known)
            elif name:
                yield from self._cannot(step, (*path, key), known[name])
        caution = step.text_of("caution")
        if caution and caution not in self.names.rules:
            rules = dict.fromkeys(self.names.rules)
            yield _unknown(self.procedure, (*path, "caution"), "a rule of the kit", rules)

    def _cannot(self, step: Node, path: Path, by: tuple[str, ...]) -> Iterator[Fault]:
        """Who does it is none of those who can."""
        who = step.text_of("who")
        on = step.text_of("on") or (who if who in WEARERS else "A")
        part = "tender" if who == "tender" else "self" if who == on else "partner"
        if who and part not in by:
            word = Word(self.procedure.text_of(*path) or "", 0)
            accepted = f"something that {_PART[part]} can do; this one is for {listed(by)}"
            yield letter_fault(self.procedure, path, word, accepted)

    def _accepted(self, entry: Node, path: Path, count: int) -> Iterator[Fault]:
        rule, step = entry.text_of("rule"), entry.text_of("step") or ""
        if rule and rule not in self.names.rules:
            rules = dict.fromkeys(self.names.rules)
            yield _unknown(self.procedure, (*path, "rule"), "a rule of the kit", rules)
        if step.isdecimal() and int(step) > count:
            accepted = f"a step of this procedure, which has {count}"
            yield letter_fault(self.procedure, (*path, "step"), Word(step, 0), accepted)


_WHAT = {"move": "move", "check": "sign"}
_PART = {"self": "the wearer alone", "partner": "another wearer", "tender": "a tender"}
