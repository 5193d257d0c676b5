"""Changes as people type them, `suit.air.fans=1`: where each leads, and faults that point at it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import get_origin

from neckring.station.fault import Fault, StationFaults, listed, quoted
from neckring.station.fields import did_you_mean
from neckring.station.loading import MODELS
from neckring.station.nodes import Node, Step, path_words
from neckring.station.validation import Expected, fields_by_key
from neckring.station.written import Written

FILE = "compare"
"""Stands for the file in faults of changes: line 2 is the second change, column 1 its key."""

KINDS = ("run", "station", "suit", "wearer")
"""Kinds of file in which something may be changed; the run first, as it names suit and wearer."""

CODES = ("suit", "wearer")
"""Keys of the run that may be written without `run.`."""

FIXED = ("code", "extends")
"""Keys by which files name one another; they cannot be changed."""


@dataclass(frozen=True)
class Change:
    """One change as written.

    Attributes:
        number: Counted from 1.
        key: As written, for example "run.outing.3.speed".
        value: As written.
        kind: Kind of file it changes.
        steps: The key's parts inside that file.
    """

    number: int
    key: str
    value: str
    kind: str
    steps: tuple[str, ...]

    def refused(self, read: str, accepted: str, hint: str = "") -> StationFaults:
        """The exception for a key that leads nowhere."""
        return StationFaults([Fault(FILE, self.number, 1, self.key, read, accepted, hint)])


def read_changes(changes: Sequence[tuple[str, str]]) -> tuple[list[Change], list[Fault]]:
    """Take keys apart.

    Args:
        changes: Keys and values as written.

    Returns:
        Changes of the run first; the faults of the others.
    """
    made: list[Change] = []
    faults: list[Fault] = []
    for number, (key, value) in enumerate(changes, start=1):
        try:
            change = _change(number, key.strip(), value.strip())
            if any((one.kind, one.steps) == (change.kind, change.steps) for one in made):
                raise change.refused("the same key a second time", "each key once")
            made.append(change)
        except StationFaults as refused:
            faults += refused.faults
    return sorted(made, key=lambda one: KINDS.index(one.kind)), faults


def _change(number: int, key: str, value: str) -> Change:
    head, *steps = _parts(key)
    if head in CODES and not steps:
        return Change(number, key, value, "run", (head,))
    change = Change(number, key, value, head, tuple(steps))
    if head not in KINDS:
        begins = listed(f"{kind}." for kind in sorted(KINDS))
        accepted = f"{', '.join(sorted(CODES))}, or a key that begins with {begins}"
        raise change.refused(quoted(key), accepted, _meant(head, steps))
    return change


def _parts(key: str) -> list[str]:
    """A list's number may stand in brackets, as messages write it."""
    return re.sub(r"\[([0-9]+)\]", r".\1", key).split(".")


def _meant(head: str, steps: list[str]) -> str:
    homes = [f"{kind}.{head}" for kind in KINDS if head in fields_by_key(MODELS[kind])]
    begins = [kind for kind in KINDS if did_you_mean(head, (kind,))]
    return next((f'did you mean "{".".join((one, *steps))}"?' for one in homes + begins), "")


def path_of_change(change: Change, root: Node) -> tuple[Step, ...]:
    """Find the path in a file to which a change's key leads.

    Args:
        change: What is to be changed.
        root: The file's tree.

    Raises:
        StationFaults: The key leads nowhere, or not to a single value.
    """
    path: list[Step] = []
    expected, here = Expected(MODELS[change.kind]), root
    for text in change.steps:
        open_steps = _steps_from(expected, here, fixed=() if path else FIXED)
        if text not in open_steps:
            raise _leads_nowhere(change, text, expected, open_steps)
        path.append(int(text) - 1 if _is_list(expected) else text)
        inside = here.child(path[-1])
        expected = settled(expected.inside(path[-1]), inside)
        if inside is None and expected.model is not None and needs_keys(expected.model):
            accepted = f"a group that is there; {path_words(tuple(path))} is not"
            raise change.refused(quoted(change.key), accepted)
        here = inside or Node(root.spot, {})
    if expected.kind is None:
        further = _step_words(expected, _steps_from(expected, here, () if path else FIXED))
        raise change.refused(quoted(change.key), f"one value; go on with {further}")
    return tuple(path)


def settled(expected: Expected, here: Node | None) -> Expected:
    """What is expected, without the choice to leave it out; of other choices the fitting one.

    Args:
        expected: With its choices.
        here: What stands there: a group takes the choice that is one. Else the first choice.
    """
    options = expected.options()
    if here is not None and here.entries:
        options = sorted(options, key=lambda option: option.model is None)
    return options[0] if options else expected


def needs_keys(group: type[Written]) -> bool:
    """Whether a group has keys that cannot be left out."""
    return any(field.is_required() for field in group.model_fields.values())


def _is_list(expected: Expected) -> bool:
    return get_origin(expected.annotation) is tuple


def _steps_from(expected: Expected, here: Node, fixed: tuple[str, ...] = ()) -> tuple[str, ...]:
    """What may come next in a key; nothing behind a single value."""
    if expected.kind is not None:
        return ()
    if expected.model is not None:
        return tuple(key for key in fields_by_key(expected.model) if key not in fixed)
    if _is_list(expected):
        return tuple(str(number) for number in range(1, len(here.items) + 1))
    return tuple(here.entries)


def _step_words(expected: Expected, steps: tuple[str, ...]) -> str:
    if expected.kind is not None:
        return "nothing more, as one value stands there"
    if _is_list(expected):
        return f"a number from 1 to {len(steps)}" if steps else "nothing, as the list is empty"
    return listed(steps)


def _leads_nowhere(
    change: Change, text: str, expected: Expected, steps: tuple[str, ...]
) -> StationFaults:
    read = f"{quoted(text)} in {quoted(change.key)}" if text else f"a gap in {quoted(change.key)}"
    hint = "" if _is_list(expected) else did_you_mean(text, steps)
    return change.refused(read, _step_words(expected, steps), hint)


def told_at_change(fault: Fault, kind: str, changes: Sequence[Change]) -> Fault:
    """Tell a fault of a changed file at the change that brought it about.

    When several may have, it is the one whose key is nearest to the fault's field; what is wrong
    with a run may also follow from a change of the station.

    Args:
        fault: As told of the file.
        kind: Of the file.
        changes: All that were made; at least one.
    """

    def nearness(one: Change) -> tuple[bool, int, bool, int]:
        is_same = one.kind == kind
        may_follow = kind == "run" and one.kind == "station"
        common = _common(one, fault.field) if is_same else 0
        return (is_same or may_follow, common, may_follow, one.number)

    change = max(changes, key=nearness)
    is_own = (kind, tuple(_parts(fault.field))) == (change.kind, change.steps)
    field = change.key if is_own else f"{kind}.{fault.field}"
    at_value = len(change.key) + 2
    return Fault(FILE, change.number, at_value, field, fault.read, fault.accepted, fault.hint)


def _common(change: Change, field: str) -> int:
    pairs = zip(change.steps, _parts(field), strict=False)
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))
