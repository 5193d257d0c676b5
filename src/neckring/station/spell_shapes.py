"""Which keys each activity needs and takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from neckring.station.fault import Fault, listed
from neckring.station.fields import UnacceptableError
from neckring.station.measured import Measured
from neckring.station.nodes import Node, Step, path_words
from neckring.station.run import ACTIVITIES, CARRIED_ON, Spell
from neckring.station.validation import MISSING, Expected, fields_by_key, read_words

MOVING = ("walk", "carry", "ride")
ON_FOOT = ("walk", "carry")
ALWAYS = ("spell", *CARRIED_ON, "metabolic_rate", "load", "note")

ON_FOOT_SPEED = Measured("speed", "0.05 m/s", "3 m/s")
"""Nobody in a heavy suit moves faster on foot (assumed)."""


@dataclass(frozen=True)
class Shape:
    """The keys of one sort of spell.

    Attributes:
        words: The sort, for messages.
        needs: Keys it must have.
        takes: Keys it may have beside them and those every spell may have.
    """

    words: str
    needs: tuple[str, ...]
    takes: tuple[str, ...] = ()


ALONG_A_PATH = Shape("along a path", ("from", "to", "speed"))
ABOUT_A_PLACE = Shape("about one place", ("place", "for", "speed"), ("grade", "terrain"))
IN_A_PLACE = Shape("in a place", ("place", "for"))
OF_KNOWN_RATE = Shape("in a place", ("place", "for", "metabolic_rate"))


def shape_of(spell: Node) -> Shape | None:
    """The sort of a spell as written; None when its activity is not known."""
    activity = spell.text_of("spell")
    if activity not in ACTIVITIES:
        return None
    if activity == "work":
        return OF_KNOWN_RATE
    if activity not in MOVING:
        return IN_A_PLACE
    about = "place" in spell.entries and not {"from", "to"} & set(spell.entries)
    return ABOUT_A_PLACE if about else ALONG_A_PATH


def shape_faults(spell: Node, path: tuple[Step, ...]) -> Iterator[Fault]:
    """Hold one spell against the keys its activity needs and takes.

    Args:
        spell: As written.
        path: Where it stands in its file.
    """
    shape, activity = shape_of(spell), spell.text_of("spell")
    if shape is None:
        return
    sort = f"{activity} {shape.words}"
    known = fields_by_key(Spell)
    needs = (*shape.needs, "load") if activity == "carry" else shape.needs
    for key in needs:
        if key not in spell.entries:
            accepted = Expected.of_field(known[key]).words()
            yield _fault(spell, path, (key,), MISSING, f"for {sort}, {accepted}")
    taken = (*shape.needs, *shape.takes, *ALWAYS)
    for key, entry in spell.entries.items():
        if key in known and key not in taken:
            words = f"for {sort}: {listed(taken)}"
            spot = entry.key
            field = path_words((*path, key))
            yield Fault(spot.file, spot.line, spot.column, field, "a key out of place", words)
    yield from _speed_fault(spell, path, activity or "")


def _speed_fault(spell: Node, path: tuple[Step, ...], activity: str) -> Iterator[Fault]:
    speed = spell.text_of("speed")
    if activity not in ON_FOOT or speed is None:
        return
    written = fields_by_key(Spell)["speed"].metadata[0]
    try:
        written.read(speed, ())
    except UnacceptableError:
        return  # Told with the field itself.
    try:
        ON_FOOT_SPEED.read(speed)
    except UnacceptableError as refused:
        read = read_words(spell.child("speed"))
        words = f"for {activity}, {ON_FOOT_SPEED.accepted()}"
        yield _fault(spell, path, ("speed",), read, words, refused.hint)


def _fault(
    spell: Node,
    path: tuple[Step, ...],
    keys: tuple[str, ...],
    read: str,
    accepted: str,
    hint: str = "",
) -> Fault:
    spot = spell.find(keys)[1]
    field = path_words((*path, *keys))
    return Fault(spot.file, spot.line, spot.column, field, read, accepted, hint)
