"""The little language of conditions: `helmet is seated|locked and not (fan is off or air_lost)`.

A condition joins statements with `and`, `or`, `not` and brackets. A statement is a thing and its
state or states, or the name of another condition. `partner.` before a name means the other
wearer's; `A.` and `B.` mean one wearer's. `and` and `or` are never mixed without brackets: people
read that in two ways.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

from neckring.station.fields import Accepted, Kind, UnacceptableError

FORM = "a condition"
EXAMPLE = "helmet is seated|locked and not fan is off"
LONGEST = 600
DEEPEST = 40
RESERVED = ("and", "or", "not", "is", "always", "never")

_TOKEN = re.compile(r"[A-Za-z][A-Za-z0-9_-]*(?:\.[A-Za-z][A-Za-z0-9_-]*)?|[()|]|\S")
_NAME = re.compile(r"(?:[A-Za-z][A-Za-z0-9_-]*\.)?[A-Za-z][A-Za-z0-9_-]{0,31}")


@dataclass(frozen=True)
class Word:
    """A word of a condition and the number of its first letter, from 0."""

    text: str
    at: int


@dataclass(frozen=True)
class Named:
    """The name of a condition that is written elsewhere."""

    name: Word


@dataclass(frozen=True)
class Is:
    """That a thing is in one of some states, or in none of them."""

    thing: Word
    states: tuple[Word, ...]
    denied: bool = False


@dataclass(frozen=True)
class Denied:
    """That a condition does not hold."""

    part: Phrase


@dataclass(frozen=True)
class Joined:
    """That all parts hold (`and`), or at least one (`or`).

    Without parts it is `always` with `and`, `never` with `or`.
    """

    word: str
    parts: tuple[Phrase, ...]


Phrase: TypeAlias = Named | Is | Denied | Joined
ALWAYS = Joined("and", ())


@dataclass(frozen=True)
class ConditionText:
    """A condition as written and as understood."""

    text: str
    phrase: Phrase

    def names(self) -> Iterator[Named]:
        """Every other condition it names."""
        return (leaf for leaf in leaves(self.phrase) if isinstance(leaf, Named))

    def statements(self) -> Iterator[Is]:
        """Every statement about a thing."""
        return (leaf for leaf in leaves(self.phrase) if isinstance(leaf, Is))


def leaves(phrase: Phrase) -> Iterator[Named | Is]:
    """The statements and names of a condition, from left to right."""
    match phrase:
        case Joined(_, parts):
            for part in parts:
                yield from leaves(part)
        case Denied(part):
            yield from leaves(part)
        case _:
            yield phrase


def prefix_of(name: str) -> tuple[str, str]:
    """Whose thing is meant, and the name without that: `partner.helmet` is partner's helmet."""
    whose, _, own = name.rpartition(".")
    return whose, own


class _Reader:
    """Reads a condition from left to right."""

    def __init__(self, text: str) -> None:
        self.words = [Word(found.group(), found.start()) for found in _TOKEN.finditer(text)]
        self.end = len(text)
        self.place = 0
        self.depth = 0

    def whole(self) -> Phrase:
        phrase = self._joined()
        if self.place < len(self.words):
            raise self._refused("and, or, or the end of the condition")
        return phrase

    @property
    def _next(self) -> Word:
        return self.words[self.place] if self.place < len(self.words) else Word("", self.end)

    def _take(self) -> Word:
        word = self._next
        self.place += 1
        return word

    def _joined(self) -> Phrase:
        parts = [self._one()]
        word = self._next.text
        while self._next.text in ("and", "or"):
            if self._next.text != word:
                raise self._refused("brackets around one of them", "and and or are never mixed")
            self._take()
            parts.append(self._one())
        return parts[0] if len(parts) == 1 else Joined(word, tuple(parts))

    def _one(self) -> Phrase:
        word = self._next
        if word.text == "not":
            self._take()
            return Denied(self._deeper(self._one))
        if word.text == "(":
            self._take()
            inner = self._deeper(self._joined)
            if self._next.text != ")":
                raise self._refused('")"')
            self._take()
            return inner
        if word.text in ("always", "never"):
            self._take()
            return Joined("and" if word.text == "always" else "or", ())
        return self._statement()

    def _deeper(self, read: Any) -> Phrase:  # noqa: ANN401 - a method of this class
        self.depth += 1
        if self.depth > DEEPEST:
            raise self._refused(f"at most {DEEPEST} brackets inside one another")
        inner: Phrase = read()
        self.depth -= 1
        return inner

    def _statement(self) -> Phrase:
        thing = self._name("a thing, a condition's name, not or an opening bracket")
        if self._next.text != "is":
            return Named(thing)
        self._take()
        denied = self._next.text == "not"
        if denied:
            self._take()
        states = [self._name("a state")]
        while self._next.text == "|":
            self._take()
            states.append(self._name("a state"))
        return Is(thing, tuple(states), denied)

    def _name(self, wanted: str) -> Word:
        word = self._next
        if word.text in RESERVED or not _NAME.fullmatch(word.text):
            raise self._refused(wanted)
        return self._take()

    def _refused(self, wanted: str, hint: str = "") -> UnacceptableError:
        word = self._next
        read = f'"{word.text}"' if word.text else "its end"
        said = f"{read} at letter {word.at + 1}, where {wanted} was expected"
        return UnacceptableError(said, hint, word.at)


def read_condition(text: str) -> ConditionText:
    """Read a condition.

    Raises:
        UnacceptableError: With the letter at which it cannot be understood.
    """
    if len(text) > LONGEST:
        raise UnacceptableError(f"a text of {len(text)} letters", "name parts of it")
    return ConditionText(text, _Reader(text).whole())


@dataclass(frozen=True)
class ConditionKind(Kind):
    """A condition on the states of things."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> ConditionText:
        """Read the condition."""
        return read_condition(text)

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """The form with an example."""
        return f'{FORM}, as in "{EXAMPLE}"'

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text with an example."""
        return {"type": "string", "description": self.accepted(), "examples": [EXAMPLE]}
