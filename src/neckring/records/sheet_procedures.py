"""Procedure sheets: what each role does, says and hears, step by step, to be ticked on paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from neckring.live.sheet_steps import SheetProcedure, SheetStep
from neckring.procedure.kit_words import PEOPLE
from neckring.procedure.steps import StepKind
from neckring.records.sheet_press import Head
from neckring.station.fault import listed

LEAD = "lead"
ROLES = {LEAD: "the lead", **PEOPLE}
"""Role to how it is called on its sheet."""

LETTERS = {"A": "A", "B": "B", "tender": "T"}


@dataclass(frozen=True)
class Warned:
    """A warning before a step.

    Attributes:
        word: DANGER, WARNING, CAUTION or NOTICE.
        hazard: What the danger is; empty where the step before warned of the same.
        consequence: What happens; empty likewise.
        avoid: How it is avoided.
    """

    word: str
    hazard: str
    consequence: str
    avoid: str


@dataclass(frozen=True)
class Row:
    """One row of a sheet.

    Attributes:
        kind: "step", "meet", "others" (done by others, in one line), "other" (done to the reader).
        number: As printed, or "9 to 12".
        who: Letters of those who act.
        words: What is done, as an order.
        say: What is said before.
        answer: What is answered.
        expect: What is seen, heard or felt when it is right.
        if_not: What to do when it is not.
        note: Anything else.
        by: Who does it, in words.
        reads: What the instrument must show; empty for nothing.
        unit: In which the figure is written down; empty for none.
        two_people: Whether a second person checks it as well.
        warned: What is warned of before it; None for nothing.
    """

    kind: str
    number: str
    who: tuple[str, ...]
    words: str
    say: str = ""
    answer: str = ""
    expect: str = ""
    if_not: str = ""
    note: str = ""
    by: str = ""
    reads: str = ""
    unit: str = ""
    two_people: bool = False
    warned: Warned | None = None


@dataclass(frozen=True)
class Sheet:
    """A procedure for one role.

    Attributes:
        head: What stands above and below.
        role: Whose sheet it is.
        about: Of the procedure.
        when: For an emergency: the sign on which it is begun.
        people: Letter and words of each who acts.
        rows: In order.
        ticked: Whether there is a box for each step.
    """

    head: Head
    role: str
    about: str
    when: str
    people: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]
    ticked: bool


def roles_of(procedure: SheetProcedure) -> tuple[str, ...]:
    """Who has a sheet of a procedure: the lead, and everybody who acts or is acted on."""
    there = {lane for step in procedure.steps for lane in (*step.lanes, step.on)}
    return (LEAD, *(person for person in PEOPLE if person in there))


def sheet_for(procedure: SheetProcedure, role: str, head: Head) -> Sheet:
    """The sheet of one role.

    Args:
        procedure: On its kit.
        role: One of `roles_of`.
        head: Its title and marks; the kind of sheet is filled in.
    """
    return Sheet(
        replace(head, title=procedure.title, kind=f"Procedure for {ROLES[role]}"),
        ROLES[role],
        procedure.about,
        procedure.when,
        tuple((LETTERS[lane], PEOPLE[lane]) for lane in procedure.lanes),
        tuple(_rows(procedure, role)),
        procedure.listed.sheet.check_off == "yes",
    )


def _rows(procedure: SheetProcedure, role: str) -> Iterator[Row]:
    passed: list[SheetStep] = []
    before = ""
    for step in procedure.steps:
        if not _concerns(step, role):
            passed.append(step)
            continue
        yield from _in_one_line(passed)
        passed = []
        row = row_of(step, before)
        own = role == LEAD or role in step.lanes
        yield row if own else replace(row, kind="other")
        before = step.caution.rule if step.caution else ""
    yield from _in_one_line(passed)


def _concerns(step: SheetStep, role: str) -> bool:
    return role == LEAD or role in step.lanes or role == step.on


def _in_one_line(steps: list[SheetStep]) -> Iterator[Row]:
    """What others do meanwhile: only that they do it."""
    if steps:
        first, last = steps[0].number, steps[-1].number
        number = f"{first}" if first == last else f"{first} to {last}"
        lanes = dict.fromkeys(lane for step in steps for lane in step.lanes)
        people = listed((PEOPLE[lane] for lane in PEOPLE if lane in lanes), "and")
        yield Row("others", number, (), together(people))


def together(words: str) -> str:
    """Words in which a letter of a wearer does not stand alone at the beginning of a line."""
    return words.replace("wearer A", "wearer\u00a0A").replace("wearer B", "wearer\u00a0B")


def row_of(step: SheetStep, before: str = "") -> Row:
    """One step as a row.

    Args:
        step: In the kit's words.
        before: Code of the rule that the row above warned of; then it is not told at length again.
    """
    meets = step.kind is StepKind.MEET
    return Row(
        kind="meet" if meets else "step",
        number=str(step.number),
        who=tuple(LETTERS[lane] for lane in step.lanes),
        words=together(step.words[:1].upper() + step.words[1:]),
        say=step.say,
        answer=step.answer,
        expect=step.expect,
        if_not=step.if_not,
        note=step.note,
        by=listed((PEOPLE[lane] for lane in step.lanes), "and"),
        reads=step.reads.text if step.reads else "",
        unit=step.reads.unit if step.reads else "",
        two_people=step.two_people,
        warned=_warned(step, before),
    )


def _warned(step: SheetStep, before: str) -> Warned | None:
    if step.caution is None:
        return None
    caution = step.caution
    again = caution.rule == before
    return Warned(
        caution.word.value,
        "" if again else caution.hazard,
        "" if again else caution.consequence,
        caution.avoid,
    )
