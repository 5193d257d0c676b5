"""The wording rules that concern a step as a whole, and the steps around it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from neckring.procedure.wording_rules import Path, WordingFinding, WordingRule
from neckring.procedure.wording_text import Line, tokens_of
from neckring.procedure.words_list import EMERGENCY_WORDS, EMPTY_ANSWERS, FUNCTION_WORDS
from neckring.station.conditions import ALWAYS, ConditionText, prefix_of
from neckring.station.kit import Kit
from neckring.station.procedure_sheet import ProcedureSheet, StepText
from neckring.unit_table import DIMENSIONS

STEPS_TO_SIGN = 3
STEPS_WITHOUT_BREAK = 10

Owned = tuple[str, str]
"""Whose thing, and which; nobody's when all share it."""

_TIME_UNITS = "|".join(sorted(DIMENSIONS["time"].units, key=len, reverse=True))
_SOME_TIME = re.compile(rf"\d\s*(?:{_TIME_UNITS})\b")
_STEP_NUMBER = re.compile(r"\bsteps? (\d+)\b")


@dataclass(frozen=True)
class StepRules:
    """Holds the steps of one procedure against the rules.

    Attributes:
        sheet: The procedure.
        kit: Its kit.
        critical: Step number to the rule that breaks when its move is done in the wrong state.
        clocks: Step number to the rule whose time runs from that step on.
    """

    sheet: ProcedureSheet
    kit: Kit
    critical: Mapping[int, str] = field(default_factory=dict)
    clocks: Mapping[int, str] = field(default_factory=dict)

    def findings(self) -> Iterator[WordingFinding]:
        """All that the steps do not keep to."""
        yield from self._emergency()
        yield from self._breaks()
        for number, step in enumerate(self.sheet.steps, start=1):
            yield from self._pairing(number, step)
            yield from self._cautioned(number, step)
            yield from self._sign(number, step)
            yield from self._clock(number, step)

    def references(self, lines: list[Line]) -> Iterator[WordingFinding]:
        """Steps that a line refers to and that are not there."""
        count = len(self.sheet.steps)
        for line in lines:
            for found in _STEP_NUMBER.finditer(line.text.lower()):
                if not 1 <= int(found.group(1)) <= count:
                    accepted = f"a step of this procedure: 1 to {count}"
                    yield line.finding(WordingRule.STEP_REFERENCE, f'"{found.group()}"', accepted)

    def _at(
        self, number: int, rule: WordingRule, read: str, accepted: str, key: str = ""
    ) -> WordingFinding:
        path: Path = ("steps", number - 1, key) if key else ("steps", number - 1)
        return WordingFinding(number, "procedure", path, rule, read, accepted)

    def _whole(self, path: Path, rule: WordingRule, read: str, accepted: str) -> WordingFinding:
        return WordingFinding(None, "procedure", path, rule, read, accepted)

    def _emergency(self) -> Iterator[WordingFinding]:
        sheet = self.sheet
        if sheet.when is None:
            named = tokens_of(f"{sheet.code.replace('-', ' ').replace('_', ' ')} {sheet.title}")
            if EMERGENCY_WORDS & set(named):
                accepted = "when: the sign on which it is begun"
                rule = WordingRule.EMERGENCY_START
                yield self._whole(("title",), rule, f'"{sheet.title}" without when', accepted)
            return
        if sheet.steps[0].move is None:
            read, accepted = "no move in the first step", "a move first; telling comes after it"
            yield self._at(1, WordingRule.EMERGENCY_ACT, read, accepted)
        if sheet.ends.phrase == ALWAYS:
            accepted = "the condition that holds when the emergency is over"
            yield self._whole(
                ("ends",), WordingRule.EMERGENCY_END, f'"{sheet.ends.text}"', accepted
            )
        if sheet.steps[-1].move is not None:
            accepted = "a check, a meeting or a thing told that says it is over"
            last = len(sheet.steps)
            yield self._at(last, WordingRule.EMERGENCY_END, "a move as the last step", accepted)

    def _breaks(self) -> Iterator[WordingFinding]:
        """Runs of steps that are too long, each told once."""
        meetings = [n for n, step in enumerate(self.sheet.steps, start=1) if step.meet is not None]
        edges = [0, *meetings, len(self.sheet.steps) + 1]
        for before, after in pairwise(edges):
            count = after - before - 1
            if count > STEPS_WITHOUT_BREAK:
                path: Path = ("steps", before + STEPS_WITHOUT_BREAK)
                read = f"{count} steps ({before + 1} to {after - 1}) without a meeting"
                accepted = f"a meeting after at most {STEPS_WITHOUT_BREAK} steps"
                yield self._whole(path, WordingRule.CHUNKS, read, accepted)

    def _pairing(self, number: int, step: StepText) -> Iterator[WordingFinding]:
        call = step.say or step.tell
        if step.say is not None and step.answer is None:
            accepted = "answer: what the other says back"
            yield self._at(number, WordingRule.CALL_AND_ANSWER, f'"{step.say}"', accepted, "say")
        if step.answer is None:
            return
        if call is None:
            read, accepted = f'"{step.answer}"', "say: the call that it answers"
            yield self._at(number, WordingRule.CALL_AND_ANSWER, read, accepted, "answer")
        elif not self._repeats(step, call):
            said = f'a word of the call "{call}", of the sign or of the state, or a value'
            yield self._at(number, WordingRule.READ_BACK, f'"{step.answer}"', said, "answer")

    def _repeats(self, step: StepText, call: str) -> bool:
        answer = content_words(step.answer or "")
        if not answer or any(word[0].isdigit() for word in answer):
            return True  # an empty answer is told by another rule; a value speaks for itself
        heard = content_words(call) | content_words(step.expect or "")
        for code in (step.check, self.kit.moves[step.move].shows if step.move else None):
            heard |= content_words(self.kit.signs[code].words) if code else set()
        states = self.kit.moves[step.move].changes.values() if step.move else ()
        return bool(answer & (heard | content_words(" ".join(states).replace("_", " "))))

    def _cautioned(self, number: int, step: StepText) -> Iterator[WordingFinding]:
        rule = self.critical.get(number)
        if rule is None or step.caution == rule:
            return
        accepted = f"caution: {rule}, the rule that this step breaks in the wrong state"
        read = "no caution" if step.caution is None else f'"{step.caution}"'
        key = "" if step.caution is None else "caution"
        yield self._at(number, WordingRule.CAUTION_FIRST, read, accepted, key)

    def _clock(self, number: int, step: StepText) -> Iterator[WordingFinding]:
        rule = self.clocks.get(number)
        if rule is None or _SOME_TIME.search(step.note or ""):
            return
        accepted = f'a note with the time that {rule} allows, as in "due within 120 s"'
        read = "no note" if step.note is None else f'"{step.note}"'
        key = "" if step.note is None else "note"
        yield self._at(number, WordingRule.TIMED, read, accepted, key)

    def _sign(self, number: int, step: StepText) -> Iterator[WordingFinding]:
        if step.move is None or step.expect is not None:
            return
        move = self.kit.moves[step.move]
        changed = {self._owned(thing, step.target) for thing in move.changes}
        for later in self.sheet.steps[number : number + STEPS_TO_SIGN]:
            if later.check is None:
                continue
            shown = move.shows == later.check and later.target == step.target
            if shown or changed & self._seen_by(later.check, later.target):
                return
        read = f'"{step.move}" without a sign'
        accepted = f"expect, or a check of its sign within {STEPS_TO_SIGN} steps"
        yield self._at(number, WordingRule.FEEDBACK, read, accepted)

    def _owned(self, thing: str, wearer: str) -> Owned:
        return ("" if self.kit.things[thing].of == "all" else wearer), thing

    def _seen_by(self, sign: str, wearer: str) -> set[Owned]:
        """Things on which a sign depends."""
        seen, waiting = set[Owned](), [(self.kit.signs[sign].when, wearer)]
        met = set[tuple[str, str]]()
        while waiting:
            condition, whose = waiting.pop()
            seen |= {self._owned(*each) for each in self._statements(condition, whose)}
            for named in condition.names():
                prefix, name = prefix_of(named.name.text)
                owner = self._owner(prefix, whose)
                if (name, owner) not in met:
                    met.add((name, owner))
                    waiting.append((self.kit.conditions[name], owner))
        return seen

    def _statements(self, condition: ConditionText, wearer: str) -> Iterator[tuple[str, str]]:
        for statement in condition.statements():
            prefix, thing = prefix_of(statement.thing.text)
            yield thing, self._owner(prefix, wearer)

    def _owner(self, prefix: str, wearer: str) -> str:
        if prefix == "partner":
            return "B" if wearer == "A" else "A"
        return prefix or wearer


def content_words(text: str) -> set[str]:
    """The words of a text that say something, without their endings."""
    words = [word for word in tokens_of(text) if word[0].isalnum()]
    empty = FUNCTION_WORDS | EMPTY_ANSWERS
    return {_stem(word) for word in words if word not in empty}


def _stem(word: str) -> str:
    """A word without s, ed or ing; enough to see that locked repeats lock."""
    for ending in ("ing", "ed", "es", "s", "e"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)]
    return word
