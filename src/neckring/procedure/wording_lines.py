"""The wording rules that one line can break by itself, wherever it stands."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, takewhile
from typing import TypeAlias

from neckring.procedure.wording_rules import WordingFinding, WordingRule
from neckring.procedure.wording_text import (
    JOINERS,
    Line,
    Role,
    action_part,
    instructs,
    sentences_of,
    surely_instructs,
    tokens_of,
)
from neckring.procedure.words_list import (
    BEFORE_A_BARE_NUMBER,
    BEING,
    CONDITIONALS,
    EMPTY_ANSWERS,
    FUNCTION_WORDS,
    IRREGULAR_PARTICIPLES,
    MODALS,
    NEGATIONS,
    NUMBER_WORDS,
    ONE_GESTURE,
    RESERVED_WORDS,
    SENSING_VERBS,
    SUBORDINATORS,
    UNSAFE_WORDS,
    VAGUE,
    VERBS,
)
from neckring.station.fields import did_you_mean
from neckring.unit_table import DIMENSIONS

Told: TypeAlias = tuple[str, str]
"""What was read, and what is accepted."""

MOST_WORDS = 20
MOST_WORDS_ELSEWHERE = 25
MOST_CAPITALS = 2


INSTRUCTIONS = frozenset({Role.MOVE, Role.OTHERWISE})
SPOKEN = frozenset({Role.CALL, Role.ANSWER, Role.TOLD})
EVERYWHERE = frozenset(Role)
PROSE = EVERYWHERE - {Role.NAME}

_FIGURE = r"\d+(?:\.\d+)?"
_NUMBER = re.compile(rf"(?<![\w.]){_FIGURE}(?:\.\.{_FIGURE})*(?:\s*([^\s\d,;.:()!?]+))?")
_UNITS = {"%", "°"} | {
    spelling
    for dimension in DIMENSIONS.values()
    for spelling in (*dimension.units, *dimension.synonyms)
}


def _second_acts(tokens: list[str]) -> Iterator[str]:
    for place in range(1, len(tokens)):
        before = tokens[place - 1]
        if before not in JOINERS or tokens[place] in JOINERS:
            continue
        alone = place == 2 and tokens[0] in VERBS
        if before == "and" and (tokens[place - 2], tokens[place]) in ONE_GESTURE:
            continue
        if instructs(tokens, place) or (alone and tokens[place] in VERBS):
            yield f"{before} {tokens[place]}" if before.isalpha() else tokens[place]


def _several_actions(line: Line) -> Iterator[Told]:
    whole = line.role is Role.MOVE
    for sentence in [line.text] if whole else sentences_of(line.text):
        for read in _second_acts(action_part(sentence)):
            yield (
                f'"{read}" in "{line.text}"',
                "one action; the next is a step or sentence of its own",
            )


def _verb_not_first(line: Line) -> Iterator[Told]:
    for sentence in sentences_of(line.text):
        tokens = action_part(sentence)
        if tokens[:2] == ["do", "not"]:
            tokens = tokens[2:]
        elif tokens[:1] == ["never"]:
            tokens = tokens[1:]
        if tokens and tokens[0] not in VERBS:
            near = _near_verb(tokens[0])
            accepted = 'a verb of the list first, as in "lock the helmet"'
            yield f'"{tokens[0]}"', f"{accepted}; {near}" if near else accepted


def _near_verb(word: str) -> str:
    """The verb of which a word may be a misspelling; nobody slips in its first letter."""
    return did_you_mean(word, tuple(sorted(verb for verb in VERBS if verb[0] == word[0])))


def _not_active(line: Line) -> Iterator[Told]:
    accepted = 'the active voice in the present, as in "start the fan"'
    for sentence in sentences_of(line.text):
        for word, after in pairwise([*_main_clause(action_part(sentence)), ""]):
            passive = word in BEING and (after.endswith("ed") or after in IRREGULAR_PARTICIPLES)
            if word in MODALS or passive:
                yield f'"{" ".join([word, after]).strip()}"', accepted
                break


def _main_clause(tokens: list[str]) -> list[str]:
    """What comes before the first clause that describes a state."""
    return list(takewhile(lambda word: word not in SUBORDINATORS, tokens))


def _without_unit(line: Line) -> Iterator[Told]:
    numbers = list(_NUMBER.finditer(line.text))
    in_range = False
    for number in numbers:
        after = number.group(1)
        before = tokens_of(line.text[: number.start()])[-1:]
        is_value = in_range or not BEFORE_A_BARE_NUMBER.isdisjoint(before)
        in_range = is_value and after in ("to", "and", "or", "-", "–") and number is not numbers[-1]
        if is_value and not in_range and not _is_unit_or_counted(after):
            yield f'"{" ".join([*before, number.group().strip()])}"', 'a unit, as in "to 1.8 L/min"'


def _is_unit_or_counted(word: str | None) -> bool:
    if word is None:
        return False
    if word in _UNITS or word.split("/")[0] in _UNITS:
        return True
    return len(word) > 2 and word.lower() not in FUNCTION_WORDS


_NUMBER_WORD = "|".join(sorted(NUMBER_WORDS))
_SOME_AMOUNT = re.compile(
    rf"\b(?:about|around|roughly|some|nearly) (?:\d|(?:{_NUMBER_WORD})\b|an? (?:second|minute|hour|"
    r"turn|litre)\b)"
)


def _vague_words(line: Line) -> Iterator[Told]:
    text = " ".join(line.text.lower().split())
    accepted = 'what exactly: a value with its limits, as in "4 to 6 s", or a sign'
    for words in VAGUE:
        if re.search(rf"(?<![\w-]){re.escape(words)}(?![\w-])", text):
            yield f'"{words}"', accepted
    for found in _SOME_AMOUNT.finditer(text):
        yield f'"{found.group()}"', accepted


def _double_negatives(line: Line) -> Iterator[Told]:
    text = re.sub(
        r"\bn(?:o|ot) (?:more|less|fewer|later|longer) than\b", "at most", line.text.lower()
    )
    for clause in re.split(r"[.;:!?,]|\b(?:and|or|but)\b", text.replace("n't", " not")):
        found = [word for word in tokens_of(clause) if word in NEGATIONS]
        if len(found) > 1:
            yield f'"{clause.strip()}"', 'what holds, as in "start only with air"'


def _reserved_words(line: Line) -> Iterator[Told]:
    text = " ".join(line.text.lower().split())
    accepted = "check, which only looks; what is moved is a move of its own"
    for words in UNSAFE_WORDS:
        if re.search(rf"\b{words}\b", text):
            yield f'"{words}"', accepted
    for word in tokens_of(text):
        if word in RESERVED_WORDS:
            yield f'"{word}"', accepted


def _more_than_looking(line: Line) -> Iterator[Told]:
    tokens = tokens_of(line.text)
    sensing = f"a sign begins with {', '.join(sorted(SENSING_VERBS))}"
    if tokens and tokens[0] not in SENSING_VERBS:
        yield f'"{tokens[0]}"', f'{sensing}, as in "feel air on the face"'
    for read in _second_acts(tokens):
        if read.rpartition(" ")[2] not in SENSING_VERBS:
            yield f'"{read}"', "a check that moves nothing"


def _acts_inside(line: Line) -> Iterator[Told]:
    for sentence in sentences_of(line.text):
        tokens = action_part(sentence)
        if tokens and surely_instructs(tokens, 0):
            yield f'"{sentence}"', "what is so, not what to do; an action is a step of its own"


def _empty_answer(line: Line) -> Iterator[Told]:
    words = [word for word in tokens_of(line.text) if word[0].isalnum()]
    telling = [word for word in words if word not in FUNCTION_WORDS]
    if not set(telling) - EMPTY_ANSWERS:
        yield f'"{line.text}"', 'the value or state itself, as in "fan on" or "flow 1.8 L/min"'


def _condition_last(line: Line) -> Iterator[Told]:
    for sentence in sentences_of(line.text):
        tokens = tokens_of(sentence)
        if tokens and tokens[0] in CONDITIONALS and not action_part(sentence):
            yield f'"{sentence}"', 'a comma between condition and action, as in "if cold, stop"'
        late = [word for word in action_part(sentence)[1:] if word in ("if", "when", "unless")]
        if late:
            yield f'"{sentence}"', f'"{late[0]}" and its condition first, then the action'


def _and_with_or(line: Line) -> Iterator[Told]:
    for sentence in sentences_of(line.text):
        if {"and", "or"} <= set(tokens_of(sentence)):
            yield f'"{sentence}"', "only and, or only or, in one sentence"


def _long_sentence(line: Line) -> Iterator[Told]:
    short = line.role in INSTRUCTIONS | SPOKEN | {Role.AVOID}
    most = MOST_WORDS if short else MOST_WORDS_ELSEWHERE
    for sentence in sentences_of(line.text):
        count = sum(any(letter.isalnum() for letter in word) for word in sentence.split())
        if count > most:
            yield f"a sentence of {count} words", f"at most {most} words"


def _capitals(line: Line) -> Iterator[Told]:
    run: list[str] = []
    for word in [*re.findall(r"[^\W\d_]+", line.text), ""]:
        if len(word) > 1 and word.isupper():
            run.append(word)
            continue
        if len(run) > MOST_CAPITALS:
            yield f'"{" ".join(run)}"', f"small letters; at most {MOST_CAPITALS} words in capitals"
        run = []


def _endless_repeat(line: Line) -> Iterator[Told]:
    for sentence in sentences_of(line.text):
        tokens = tokens_of(sentence)
        ends = {"until", "times", "once", "twice", "every"} & set(tokens)
        if not ends and ("repeat" in tokens or re.search(r"\btry again\b", sentence.lower())):
            yield f'"{sentence}"', "until what, how often, or how many times"


@dataclass(frozen=True)
class _LineRule:
    rule: WordingRule
    roles: frozenset[Role]
    told: Callable[[Line], Iterator[Told]]


_SPEAKS_OF_CONDITIONS = frozenset({Role.OTHERWISE, Role.EXPECTED, Role.BEGINNING})

_LINE_RULES = (
    _LineRule(WordingRule.ONE_ACTION, INSTRUCTIONS | {Role.CALL}, _several_actions),
    _LineRule(WordingRule.VERB_FIRST, INSTRUCTIONS, _verb_not_first),
    _LineRule(WordingRule.ACTIVE, INSTRUCTIONS, _not_active),
    _LineRule(WordingRule.UNIT, PROSE, _without_unit),
    _LineRule(WordingRule.VAGUE, PROSE, _vague_words),
    _LineRule(WordingRule.DOUBLE_NEGATIVE, PROSE, _double_negatives),
    _LineRule(WordingRule.RESERVED, PROSE, _reserved_words),
    _LineRule(WordingRule.CHECK_ONLY_LOOKS, frozenset({Role.SIGN}), _more_than_looking),
    _LineRule(
        WordingRule.NO_ACTION_IN_CAUTION,
        frozenset({Role.HAZARD, Role.CONSEQUENCE}),
        _acts_inside,
    ),
    _LineRule(WordingRule.NO_ACTION_IN_NOTE, frozenset({Role.NOTE}), _acts_inside),
    _LineRule(WordingRule.ACTUAL_VALUE, frozenset({Role.ANSWER}), _empty_answer),
    _LineRule(WordingRule.CONDITION_FIRST, INSTRUCTIONS, _condition_last),
    _LineRule(WordingRule.NO_MIXED_AND_OR, _SPEAKS_OF_CONDITIONS, _and_with_or),
    _LineRule(WordingRule.LENGTH, PROSE, _long_sentence),
    _LineRule(WordingRule.CAPITALS, EVERYWHERE, _capitals),
    _LineRule(WordingRule.REPEATED, PROSE, _endless_repeat),
)


@lru_cache(maxsize=8192)
def line_findings(line: Line) -> tuple[WordingFinding, ...]:
    """What a line does not keep to, by itself; remembered while the line stays as it is."""
    return tuple(
        line.finding(rule.rule, read, accepted)
        for rule in _LINE_RULES
        if line.role in rule.roles
        for read, accepted in rule.told(line)
    )
