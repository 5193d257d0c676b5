"""What kits and procedures say of their own things, states, conditions, moves, signs and rules."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from neckring.station.conditions import ConditionText, Is, Word, prefix_of, read_condition
from neckring.station.fault import Fault, listed, quoted
from neckring.station.fields import UnacceptableError, did_you_mean
from neckring.station.nodes import Node, Step, path_words

Path = tuple[Step, ...]
Files = Mapping[str, Node]

# Where conditions stand in a kit: group, and the keys in each of its entries.
CONDITIONS = {
    "moves": ("needs", "actor_needs", "only_if"),
    "signs": ("when",),
    "rules": ("never",),
    "breakdowns": ("needs",),
}
CHANGES = {"moves": ("changes", "half"), "breakdowns": ("changes",)}
RELIEF = ("inside", "fresh_air", "out", "cooling")
WEARERS = ("A", "B")


@dataclass(frozen=True)
class Names:
    """What a kit's file names, whether or not all else in it is in order.

    Attributes:
        states: Of each thing.
        shared: Things that all wearers share.
        conditions: Names of conditions.
        moves: Who can do each.
        signs: Who can notice each.
        rules: Codes.
    """

    states: dict[str, tuple[str, ...]] = field(default_factory=dict)
    shared: frozenset[str] = frozenset()
    conditions: frozenset[str] = frozenset()
    moves: dict[str, tuple[str, ...]] = field(default_factory=dict)
    signs: dict[str, tuple[str, ...]] = field(default_factory=dict)
    rules: frozenset[str] = frozenset()


def names_of(kit: Node) -> Names:
    """The names in a kit's file."""
    things = _group(kit, "things")
    return Names(
        {name: _texts(thing.child("states")) for name, thing in things.items()},
        frozenset(name for name, thing in things.items() if thing.text_of("of") == "all"),
        frozenset(_group(kit, "conditions")),
        {name: _texts(move.child("by")) for name, move in _group(kit, "moves").items()},
        {name: _texts(sign.child("by")) for name, sign in _group(kit, "signs").items()},
        frozenset(_group(kit, "rules")),
    )


def _group(root: Node, name: str) -> dict[str, Node]:
    node = root.child(name)
    return {key: entry.node for key, entry in node.entries.items()} if node else {}


def _texts(node: Node | None) -> tuple[str, ...]:
    return tuple(item.text or "" for item in node.items) if node else ()


def letter_fault(root: Node, path: Path, word: Word, accepted: str, hint: str = "") -> Fault:
    """A fault of one word inside the text at a path."""
    node, spot = root.find(path)
    if node is not None:
        spot = node.letter_spot(word.at)
    read = quoted(word.text)
    return Fault(spot.file, spot.line, spot.column, path_words(path), read, accepted, hint)


def key_fault(root: Node, path: Path, accepted: str, hint: str = "") -> Fault:
    """A fault of the key at the end of a path."""
    spot = root.key_spot(path)
    read = quoted(str(path[-1]))
    return Fault(spot.file, spot.line, spot.column, path_words(path), read, accepted, hint)


def condition_at(root: Node, path: Path) -> ConditionText | None:
    """The condition at a path; None when there is none that can be read."""
    text = root.text_of(*path)
    if not text:
        return None
    try:
        return read_condition(text)
    except UnacceptableError:
        return None


def condition_faults(
    root: Node, path: Path, names: Names, prefixes: tuple[str, ...]
) -> Iterator[Fault]:
    """Names in a condition that are not in its kit.

    Args:
        root: The file.
        path: Of the condition.
        names: Of the kit.
        prefixes: What may stand before the point in a name; "" for no point.
    """
    condition = condition_at(root, path)
    if condition is None:
        return
    for named in condition.names():
        whose, name = prefix_of(named.name.text)
        accepted = f"a condition of the kit: {listed(sorted(names.conditions)) or 'none yet'}"
        if name in names.states:
            accepted = f'a state after it, as in "{named.name.text} is {names.states[name][0]}"'
        if name not in names.conditions:
            near = did_you_mean(name, (*sorted(names.conditions), *names.states))
            yield letter_fault(root, path, named.name, accepted, near)
        elif whose not in prefixes:
            yield _prefix_fault(root, path, named.name, prefixes)
    for statement in condition.statements():
        yield from _statement_faults(root, path, statement, names, prefixes)


def _statement_faults(
    root: Node, path: Path, statement: Is, names: Names, prefixes: tuple[str, ...]
) -> Iterator[Fault]:
    whose, thing = prefix_of(statement.thing.text)
    if thing not in names.states:
        accepted = f"a thing of the kit: {listed(names.states)}"
        yield letter_fault(
            root, path, statement.thing, accepted, did_you_mean(thing, tuple(names.states))
        )
        return
    allowed = ("",) if thing in names.shared else prefixes
    if whose not in allowed:
        yield _prefix_fault(root, path, statement.thing, allowed)
    for state in statement.states:
        if state.text not in names.states[thing]:
            accepted = f"a state of {thing}: {listed(names.states[thing])}"
            near = did_you_mean(state.text, names.states[thing])
            yield letter_fault(root, path, state, accepted, near)


def _prefix_fault(root: Node, path: Path, word: Word, prefixes: tuple[str, ...]) -> Fault:
    name = prefix_of(word.text)[1]
    forms = [f"{whose}.{name}" if whose else name for whose in prefixes]
    return letter_fault(root, path, word, listed(forms))


def change_faults(root: Node, path: Path, names: Names) -> Iterator[Fault]:
    """Things and states that a change names and the kit does not."""
    node, _ = root.find(path)
    for thing, entry in (node.entries if node else {}).items():
        here = (*path, thing)
        if thing not in names.states:
            near = did_you_mean(thing, tuple(names.states))
            yield key_fault(root, here, f"a thing of the kit: {listed(names.states)}", near)
        elif entry.node.text not in names.states[thing]:
            text = entry.node.text or ""
            accepted = f"a state of {thing}: {listed(names.states[thing])}"
            near = did_you_mean(text, names.states[thing])
            yield letter_fault(root, here, Word(text, 0), accepted, near)


def kit_faults(kit: Node) -> Iterator[Fault]:
    """What a kit's file says of itself and is not so."""
    names = names_of(kit)
    yield from _one_name_each(kit, names)
    both = ("", "partner")
    for name in _group(kit, "conditions"):
        yield from condition_faults(kit, ("conditions", name), names, both)
    yield from _circles(kit)
    for group, keys in CONDITIONS.items():
        for name in _group(kit, group):
            for key in keys:
                prefixes = ("",) if key == "actor_needs" else both
                yield from condition_faults(kit, (group, name, key), names, prefixes)
    for key in RELIEF:
        yield from condition_faults(kit, ("relief", key), names, both)
    for group, keys in CHANGES.items():
        for name in _group(kit, group):
            for key in keys:
                yield from change_faults(kit, (group, name, key), names)
    for name, move in _group(kit, "moves").items():
        shows = move.text_of("shows")
        if shows and shows not in names.signs:
            path = ("moves", name, "shows")
            accepted = f"a sign of the kit: {listed(names.signs) or 'none yet'}"
            near = did_you_mean(shows, tuple(names.signs))
            yield letter_fault(kit, path, Word(shows, 0), accepted, near)


def _one_name_each(kit: Node, names: Names) -> Iterator[Fault]:
    """One name for one thing: a code used for two sorts, or words used for two things."""
    for name in sorted(names.conditions & set(names.states)):
        yield key_fault(kit, ("conditions", name), "a name that no thing has")
    for group in ("things", "moves", "signs", "rules"):
        first: dict[str, str] = {}
        for name, entry in _group(kit, group).items():
            words = " ".join((entry.text_of("words") or "").lower().split())
            if words and words in first:
                accepted = f"words that no other of the {group} has"
                hint = f"{first[words]} has them too"
                path: Path = (group, name, "words")
                yield letter_fault(kit, path, Word(entry.text_of("words") or "", 0), accepted, hint)
            first.setdefault(words, name)


def _circles(kit: Node) -> Iterator[Fault]:
    """Conditions that need themselves."""
    needs = {}
    for name in _group(kit, "conditions"):
        condition = condition_at(kit, ("conditions", name))
        named = condition.names() if condition else ()
        needs[name] = {prefix_of(each.name.text)[1] for each in named}
    for name in needs:
        reached, waiting = set[str](), [name]
        while waiting:
            beyond = needs.get(waiting.pop(), set()) - reached
            reached |= beyond
            waiting += beyond
        if name in reached:
            path = ("conditions", name)
            accepted = "a condition that does not need itself, not even through others"
            yield letter_fault(kit, path, Word(kit.text_of(*path) or "", 0), accepted)
