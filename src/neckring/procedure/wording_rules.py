"""The published rules for the wording of procedures, and what is told when one is not kept."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal, TypeAlias

File: TypeAlias = Literal["procedure", "kit"]
Path: TypeAlias = tuple[str | int, ...]

AUDIT_SHEET = "HSE HSG48 1999, good practice for procedures (seen in an audit sheet built on it)"
PRACTICE_NOTE_A = (
    "Good Practice Note: Applying Human Factors to Procedure Writing, part A (seen in an extract)"
)
PRACTICE_NOTE_C = (
    "Good Practice Note: Applying Human Factors to Procedure Writing, part C (seen in an extract)"
)
DOE_CHECKS = "DOE-STD-1029-92, verifications and checks (seen in an extract)"
DOE_TIMED = "DOE-STD-1029-92, time-dependent action steps (seen in an extract)"
DOE_REPEATED = "DOE-STD-1029-92, repeated action steps (seen in an extract)"
DOE_AND_NUREG = "DOE-STD-1029-92 and NUREG-0899 1982 (from memory)"
CHECKLISTS = "Degani and Wiener 1993, Human Factors 35(2) (seen in an extract)"
CHUNKS = (
    "Degani and Wiener 1993, guideline 3 (seen in an extract): long lists in chunks; ten as in "
    "NUREG/CR-1278 table 20-7 (from memory)"
)
SIMPLIFIED_ENGLISH = "ASD-STE100 (seen in a summary of its rules)"
EMERGENCY_LISTS = "CAP 676 2006 (from memory)"
SAFETY_MESSAGES = "ANSI Z535.6 (from memory)"
READ_BACK = "common practice in voice communication: read back what was heard (no source opened)"


class WordingRule(StrEnum):
    """What a line or a step does not keep to."""

    ONE_ACTION = "one action in a step"
    VERB_FIRST = "begin with a verb of the list"
    ACTIVE = "active voice, present tense"
    UNIT = "a value has its unit"
    VAGUE = "no vague word"
    DOUBLE_NEGATIVE = "no double negative"
    ONE_NAME = "same object, same name"
    NO_ACTION_IN_CAUTION = "no action inside a warning"
    NO_ACTION_IN_NOTE = "no action inside a note"
    CAUTION_FIRST = "a warning before the step that needs it"
    FEEDBACK = "every act has its sign"
    CHECK_ONLY_LOOKS = "a check changes nothing"
    RESERVED = "check, not verify or ensure"
    ACTUAL_VALUE = "an answer is a value or a state"
    CALL_AND_ANSWER = "a call and its answer"
    READ_BACK = "the answer repeats the call"
    CONDITION_FIRST = "the condition before the action"
    NO_MIXED_AND_OR = "and and or not mixed"
    CHUNKS = "a break after ten steps"
    TIMED = "a clock has its note"
    EMERGENCY_START = "an emergency says when it begins"
    EMERGENCY_ACT = "an emergency begins with an act"
    EMERGENCY_END = "an emergency has an explicit end"
    LENGTH = "short sentences"
    CAPITALS = "few capitals"
    STEP_REFERENCE = "a step referred to is there"
    REPEATED = "a repeated step says until when"


SOURCES: dict[WordingRule, str] = {
    WordingRule.ONE_ACTION: AUDIT_SHEET,
    WordingRule.VERB_FIRST: PRACTICE_NOTE_A,
    WordingRule.ACTIVE: AUDIT_SHEET,
    WordingRule.UNIT: AUDIT_SHEET,
    WordingRule.VAGUE: AUDIT_SHEET,
    WordingRule.DOUBLE_NEGATIVE: AUDIT_SHEET,
    WordingRule.ONE_NAME: f"{AUDIT_SHEET}; CAP 676 2006 (from memory)",
    WordingRule.NO_ACTION_IN_CAUTION: PRACTICE_NOTE_C,
    WordingRule.NO_ACTION_IN_NOTE: f"{SIMPLIFIED_ENGLISH}, rule 5.5",
    WordingRule.CAUTION_FIRST: PRACTICE_NOTE_C,
    WordingRule.FEEDBACK: f"{AUDIT_SHEET}; within three steps is ours",
    WordingRule.CHECK_ONLY_LOOKS: DOE_CHECKS,
    WordingRule.RESERVED: DOE_CHECKS,
    WordingRule.ACTUAL_VALUE: CHECKLISTS,
    WordingRule.CALL_AND_ANSWER: READ_BACK,
    WordingRule.READ_BACK: READ_BACK,
    WordingRule.CONDITION_FIRST: f"{DOE_AND_NUREG}; {SIMPLIFIED_ENGLISH}, rule 5.4",
    WordingRule.NO_MIXED_AND_OR: DOE_AND_NUREG,
    WordingRule.CHUNKS: CHUNKS,
    WordingRule.TIMED: DOE_TIMED,
    WordingRule.EMERGENCY_START: EMERGENCY_LISTS,
    WordingRule.EMERGENCY_ACT: EMERGENCY_LISTS,
    WordingRule.EMERGENCY_END: EMERGENCY_LISTS,
    WordingRule.LENGTH: (
        f"{SIMPLIFIED_ENGLISH}, rule 5.1: 20 words in an instruction; 25 elsewhere is from memory"
    ),
    WordingRule.CAPITALS: "CAP 676 2006 (from memory): no long capitals; the figure is ours",
    WordingRule.STEP_REFERENCE: DOE_AND_NUREG,
    WordingRule.REPEATED: DOE_REPEATED,
}
"""Where each rule is from, and how it was come by."""


@dataclass(frozen=True)
class WordingFinding:
    """A place that does not keep to a rule.

    Attributes:
        step: Number of the step, from 1; None for the whole procedure or the kit.
        file: In which file it stands.
        path: Keys and positions (from 0) inside that file, as in ("steps", 3, "say").
        rule: The rule.
        read: What was read.
        accepted: What is accepted instead.
    """

    step: int | None
    file: File
    path: Path
    rule: WordingRule
    read: str
    accepted: str

    @property
    def source(self) -> str:
        """Where the rule is from."""
        return SOURCES[self.rule]
