"""Lines of a procedure or kit, and how their sentences are taken apart."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from neckring.procedure.wording_rules import File, Path, WordingFinding, WordingRule
from neckring.procedure.words_list import (
    CONDITIONALS,
    DETERMINERS,
    FUNCTION_WORDS,
    NOUNS_TOO,
    VERBS,
)

_TOKEN = re.compile(r"[a-z]+(?:['’/-][a-z]+)*|\d+(?:\.\d+)?|[;,:.!?]")
JOINERS = ("and", "then", ",", ";", ":", ".", "or")


class Role(StrEnum):
    """What a line is for."""

    NAME = "name of a thing"
    MOVE = "words of a move"
    SIGN = "words of a sign"
    RULE = "words of a rule"
    HAZARD = "hazard"
    CONSEQUENCE = "consequence"
    AVOID = "how it is avoided"
    BREAKDOWN = "words of a breakdown"
    CALL = "call"
    ANSWER = "answer"
    TOLD = "thing told"
    EXPECTED = "what is expected"
    OTHERWISE = "what to do if not"
    NOTE = "note"
    BEGINNING = "sign on which an emergency begins"


@dataclass(frozen=True)
class Line:
    """A line of a file with its place and what it is for."""

    text: str
    role: Role
    file: File
    path: Path
    step: int | None = None

    def finding(self, rule: WordingRule, read: str, accepted: str) -> WordingFinding:
        """A finding in this line."""
        return WordingFinding(self.step, self.file, self.path, rule, read, accepted)


def tokens_of(text: str) -> list[str]:
    """Words, numbers and stops of a text, in small letters."""
    return _TOKEN.findall(text.lower())


def sentences_of(text: str) -> list[str]:
    """The sentences of a text."""
    return [part for part in re.split(r"(?<=[.!?])\s+", text.strip()) if part]


def action_part(sentence: str) -> list[str]:
    """A sentence's words after its leading condition; none when nothing divides them from it."""
    tokens = tokens_of(sentence)
    if not tokens or tokens[0] not in CONDITIONALS:
        return tokens
    for place, token in enumerate(tokens):
        if token in (",", "then", ":"):
            rest = tokens[place + 1 :]
            return rest[1:] if rest[:1] == ["then"] else rest
    return []


def surely_instructs(tokens: list[str], place: int) -> bool:
    """Whether an instruction begins with the word at a place, which can be nothing but a verb."""
    if tokens[place] not in VERBS:
        return False
    return tokens[place] not in NOUNS_TOO or not DETERMINERS.isdisjoint(
        tokens[place + 1 : place + 2]
    )


def instructs(tokens: list[str], place: int) -> bool:
    """Whether, in an instruction, another one begins with the word at a place."""
    if tokens[place] not in VERBS or surely_instructs(tokens, place):
        return tokens[place] in VERBS
    # In the short style that leaves out articles, a noun after the word says that it is an act.
    short_style = DETERMINERS.isdisjoint(tokens[:place])
    after = tokens[place + 1 : place + 2]
    return bool(after) and short_style and after[0] not in (*FUNCTION_WORDS, *JOINERS, "!", "?")
