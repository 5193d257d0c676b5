"""Same object, same name: words in a text that are near to a thing's words, but not the same."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from functools import cached_property, lru_cache

from neckring.procedure.wording_rules import WordingFinding, WordingRule
from neckring.procedure.wording_text import Line, Role
from neckring.procedure.words_list import (
    DETERMINERS,
    FUNCTION_WORDS,
    SAME_OBJECT,
    SENSING_VERBS,
    VERBS,
)
from neckring.station.kit import Kit

NEAR = 0.82
"""Least similarity at which two spellings are taken for one name; ours: one letter in six."""

SHORTEST = 5
"""Shorter names have too many honest neighbours: fan, pan, man."""

_WORD = re.compile(r"[a-z]+(?:-[a-z]+)*")


def name_words(text: str) -> tuple[str, ...]:
    """The words of a thing's name without its article."""
    words = tuple(_WORD.findall(text.lower()))
    return words[1:] if words and words[0] in DETERMINERS else words


def singular(word: str) -> str:
    """A noun without the s of the plural."""
    return word[:-1] if word.endswith("s") and not word.endswith("ss") else word


class Names:
    """The names that a kit gives its things."""

    def __init__(self, kit: Kit) -> None:
        self.kit = kit
        self.names = {name_words(thing.words): thing.words for thing in kit.things.values()}
        # What was found in words read before; a line mostly stays while others are written.
        self._read: dict[tuple[str, ...], tuple[tuple[str, str], ...]] = {}

    @cached_property
    def known(self) -> frozenset[str]:
        """Words that stand for something of their own: of things, states, conditions and acts."""
        of_things = {word for name in self.names for word in name}
        states = {state for thing in self.kit.things.values() for state in thing.states}
        codes = {*states, *self.kit.things, *self.kit.conditions}
        of_codes = {
            word for code in codes for word in _WORD.findall(code.lower().replace("_", " "))
        }
        return frozenset(of_things | of_codes) | VERBS | SENSING_VERBS | FUNCTION_WORDS

    @cached_property
    def other_words(self) -> dict[str, str]:
        """Words that people use for a thing, with what the kit calls it."""
        used = {singular(word) for name in self.names for word in name}
        found: dict[str, str] = {}
        for group in SAME_OBJECT:
            for official in sorted(group & used):
                found |= dict.fromkeys(group - used, official)
        return found

    def findings(self, lines: Iterable[Line]) -> Iterator[WordingFinding]:
        """Names in lines that are not quite the kit's."""
        for line in lines:
            if line.role is Role.NAME:
                continue
            text = line.text.lower().replace("’", "'").replace("'s", "")
            words = tuple(_WORD.findall(text))
            if words not in self._read:
                self._read[words] = tuple(self._strange(words))
            for read, name in self._read[words]:
                accepted = f'"{name}", as the kit calls it'
                yield line.finding(WordingRule.ONE_NAME, f'"{read}"', accepted)

    @cached_property
    def _closed(self) -> dict[str, tuple[str, ...]]:
        """Names by their letters alone."""
        return {closed(name): name for name in self.names if len(closed(name)) >= SHORTEST}

    def _strange(self, words: tuple[str, ...]) -> Iterator[tuple[str, str]]:
        for word in words:
            official = self.other_words.get(singular(word))
            if official is not None:
                yield word, official
        # A name may be written as one word more: back pack for backpack.
        for size in range(1, 2 + max(len(name) for name in self.names)):
            for start in range(len(words) - size + 1):
                window = words[start : start + size]
                name = self._meant(window)
                if name is not None:
                    yield " ".join(window), " ".join(name)

    def _meant(self, window: tuple[str, ...]) -> tuple[str, ...] | None:
        """The name that some words are near to; None when they are one, or near to none."""
        if window in self.names:
            return None
        same_letters = self._closed.get(closed(window))
        strangers = [word for word in window if word not in self.known]
        # One stranger is a slip; words that are all known have a meaning of their own.
        if same_letters is not None or len(strangers) != 1:
            return same_letters
        return next((name for name in self.names if _is_near(window, name)), None)


_KNOWN: list[Names] = []
MOST_KNOWN = 8


def names_of(kit: Kit) -> Names:
    """The names of a kit; the same again for the very same kit."""
    for known in _KNOWN:
        if known.kit is kit:
            return known
    _KNOWN.append(Names(kit))
    del _KNOWN[:-MOST_KNOWN]
    return _KNOWN[-1]


def closed(words: tuple[str, ...]) -> str:
    """Words without anything between them."""
    return "".join(words).replace("-", "")


def _is_near(window: tuple[str, ...], name: tuple[str, ...]) -> bool:
    if len(window) != len(name):
        return False
    return all(_alike(one, other) for one, other in zip(window, name, strict=True))


@lru_cache(maxsize=16384)
def _alike(one: str, other: str) -> bool:
    """Whether two words are the same, or so near that one is a slip for the other."""
    if one == other:
        return True
    if one.startswith(other) or other.startswith(one) or min(len(one), len(other)) < SHORTEST:
        return False  # an ending of its own, as in latched
    return difflib.SequenceMatcher(None, one, other, autojunk=False).ratio() >= NEAR
