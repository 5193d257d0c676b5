"""procedures/*.yaml: who does what to whom, in which order, with which call and answer."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from typing import Annotated, Literal

from pydantic import Field

from neckring.station.conditions import ConditionKind, ConditionText
from neckring.station.fields import DAY, Code, Formed, Plain, Text, UnacceptableError, Word
from neckring.station.written import Complaint, Written

Name = Annotated[str, Code()]
Wearer = Literal["A", "B"]
Person = Literal["A", "B", "tender"]
CheckWords = Literal["measured", "own safety", "with list", "without list", "second person"]
SlipKind = Literal[
    "left out", "repeated", "late", "early", "wrong object", "half done", "breakdown"
]
Words = Annotated[str | None, Text(160)]
Line = Annotated[str, Text(300)]
WHAT = ("move", "check", "meet", "tell")


def _read_owned(text: str) -> str:
    whose, mark, own = text.rpartition(".")
    if (mark and whose not in ("A", "B")) or not own:
        raise UnacceptableError
    Code().read(own, ())
    return text


OWNED = Formed(_read_owned, "a thing of a wearer, or one that all share", "A.helmet")


class StepText(Written):
    """One step, as written: exactly one of a move, a check, a meeting and a thing told.

    Attributes:
        who: Who does it.
        on: Which wearer it is done to; the wearer who acts, or A, when left out.
        move: A move of the kit.
        check: A sign of the kit that must be there.
        meet: Who wait for one another here.
        tell: What is told, and nothing done.
        how: How a check is made.
        say: What is said before it is done.
        answer: What the other answers.
        expect: What is seen, heard or felt when it is right.
        if_not: What to do when it is not.
        caution: A rule of the kit of which to warn before the step.
        note: Anything else.
    """

    who: Annotated[Person | None, Word()] = None
    on: Annotated[Wearer | None, Word()] = None
    move: Name | None = None
    check: Name | None = None
    meet: tuple[Annotated[Person, Word()], ...] | None = Field(None, min_length=2, max_length=3)
    tell: Words = None
    how: Annotated[CheckWords, Word()] = "with list"
    say: Words = None
    answer: Words = None
    expect: Words = None
    if_not: Words = None
    caution: Name | None = None
    note: Annotated[str | None, Text(300)] = None

    def disagreements(self) -> Iterable[Complaint]:
        """None or several of what a step may be, and keys that its kind does not take."""
        stated = [key for key in WHAT if getattr(self, key) is not None]
        if len(stated) != 1:
            read = f"{len(stated)} of them" if stated else "none of them"
            yield Complaint((), "exactly one of move, check, meet and tell", read)
        if self.meet is None and self.who is None:
            yield Complaint((), "who: A, B or tender", "nobody who does it")
        if self.meet is not None and self.who is not None:
            yield Complaint(("who",), "nothing here: meet names who waits")
        if self.check is None and "how" in self.model_fields_set:
            yield Complaint(("how",), "nothing here: only a check is made in some way")

    @property
    def target(self) -> str:
        """The wearer it is done to."""
        return self.on or (self.who if self.who in ("A", "B") else "A")


class Accepted(Written):
    """A slip that the lead accepts, signed.

    Attributes:
        step: Number of the step, from 1.
        slip: What is done wrongly.
        rule: The rule that then breaks.
        why: Why it is accepted.
        by: Role of who signs, never a name.
        date: When.
    """

    step: Annotated[int, Plain(1, 500, whole=True)]
    slip: Annotated[SlipKind, Word()]
    rule: Name
    why: Line
    by: Annotated[str, Text(60)]
    date: Annotated[datetime.date, DAY]


class ProcedureSheet(Written):
    """One procedure.

    Attributes:
        kit: Code of the kit it is done with.
        wearers: How many are dressed, one or two: A, or A and B.
        after: Code of the procedure at whose end this one begins.
        begins: States at the beginning that differ from that end, or from the kit's start.
        ends: What must hold at the end.
        when: For an emergency: the sign on which it is begun.
        check_off: Whether each step is ticked as it is done.
    """

    code: Name
    title: Annotated[str, Text(120)]
    about: Annotated[str | None, Text(1000)] = None
    kit: Name
    wearers: Annotated[int, Plain(1, 2, whole=True)] = 1
    after: Name | None = None
    begins: dict[Annotated[str, OWNED], Name] = Field(default_factory=dict)
    ends: Annotated[ConditionText, ConditionKind()]
    when: Annotated[str | None, Text(160)] = None
    check_off: Annotated[Literal["yes", "no"], Word()] = "yes"
    steps: tuple[StepText, ...] = Field(min_length=1, max_length=200)
    accepted: tuple[Accepted, ...] = ()
