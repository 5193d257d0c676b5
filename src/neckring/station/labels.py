"""Labels and tags of a kit: what stands on it, who reads it, how lines are told apart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Annotated, Literal

from pydantic import Field

from neckring.station.fault import listed
from neckring.station.fields import Code, Formed, Plain, Text, UnacceptableError, Word, did_you_mean
from neckring.station.measured import Measured
from neckring.station.written import Complaint, Written
from neckring.units import Quantity

Name = Annotated[str, Code()]
Reader = Literal["wearer in a mirror", "partner"]
Through = Literal["air", "clear visor", "curved or fogged visor"]
Shape = Literal["triangle up", "triangle down", "circle", "diamond", "square", "cross"]
Flow = Literal["to the wearer", "from the wearer"]
Colour = Literal[
    "black", "orange", "sky blue", "bluish green", "yellow", "blue", "vermillion", "reddish purple"
]

CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
PRINTABLE = frozenset(f"{CAPITALS}0123456789 -+/.")


def _read_text(text: str) -> str:
    tidy = " ".join(text.split())
    if not tidy or len(tidy) > 30:
        raise UnacceptableError
    if not set(tidy) <= PRINTABLE:
        upper = tidy.upper()
        hint = f'write "{upper}"' if set(upper) <= PRINTABLE else ""
        raise UnacceptableError(hint=hint)
    return tidy


def _read_letter(text: str) -> str:
    if len(text) != 1 or text not in CAPITALS:
        near = text.upper()
        hint = f'write "{near}"' if len(near) == 1 and near in CAPITALS else ""
        raise UnacceptableError(hint=hint)
    return text


# Small letters are lower than capitals, so that the height would not be what was worked out.
CAPITAL_TEXT = Formed(
    _read_text, "up to 30 capitals, figures, spaces and - + / . (small letters read worse)", "LOCK"
)
LETTER = Formed(_read_letter, "one capital from A to Z", "C")
Distance = Annotated[Quantity, Measured("length", "0.1 m", "10 m", spread=False)]


class Label(Written):
    """Something to be read on the kit.

    Attributes:
        text: What stands on it.
        on: The thing that carries it; None when it is no thing of the kit.
        read_by: Who reads it. For a wearer in a mirror it is printed mirrored, with a copy for
            the partner that is not.
        distance: From the eye to the label; by way of the mirror, when there is one [m].
        seen_through: What lies between.
    """

    text: Annotated[str, CAPITAL_TEXT]
    on: Name | None = None
    read_by: Annotated[Reader, Word()]
    distance: Distance
    seen_through: Annotated[Through, Word()] = "air"


class Tag(Written):
    """What marks both ends of one hose, line, cable or valve.

    Attributes:
        words: What it carries.
        letter: Told apart first.
        shape: Told apart in the dark of a visor, and by those who see no colours.
        rings: How many run round the hose.
        connector: What keys it, so that no other fits.
        colour: Last, and never alone.
        flow: Which way it flows; None for neither.
        on: The thing that carries it; None when it is no thing of the kit.
        distance: From the eye to the tag [m].
        seen_through: What lies between.
        copies: How many are printed: line and port make two.
    """

    words: Annotated[str, Text(40)]
    letter: Annotated[str, LETTER]
    shape: Annotated[Shape, Word()]
    rings: Annotated[int, Plain(1, 4, whole=True)]
    connector: Annotated[str, Text(60)]
    colour: Annotated[Colour, Word()]
    flow: Annotated[Flow | None, Word()] = None
    on: Name | None = None
    distance: Distance
    seen_through: Annotated[Through, Word()] = "air"
    copies: Annotated[int, Plain(1, 12, whole=True)] = 2


Labels = Annotated[dict[Name, Label], Field(max_length=60)]
Tags = Annotated[dict[Name, Tag], Field(max_length=20)]


def label_complaints(
    labels: Mapping[str, Label], tags: Mapping[str, Tag], things: Iterable[str]
) -> Iterator[Complaint]:
    """Tags that could be taken for one another, and labels on what is no thing of the kit.

    Args:
        labels: Of the kit.
        tags: Of the kit.
        things: Codes of its things.
    """
    known = tuple(things)
    for group, entries in (("labels", labels), ("tags", tags)):
        for name, entry in entries.items():
            if entry.on is not None and entry.on not in known:
                near = did_you_mean(entry.on, known)
                yield Complaint(
                    (group, name, "on"), f"a thing of the kit: {listed(known)}", hint=near
                )
    yield from _alike(tags)


def _alike(tags: Mapping[str, Tag]) -> Iterator[Complaint]:
    for key in ("letter", "shape", "connector"):
        first: dict[str, str] = {}
        for name, tag in tags.items():
            value = " ".join(str(getattr(tag, key)).lower().split())
            if value in first:
                accepted = f"a {key} that no other tag has: they are told apart by it"
                yield Complaint(("tags", name, key), accepted, hint=f"{first[value]} has it too")
            first.setdefault(value, name)
