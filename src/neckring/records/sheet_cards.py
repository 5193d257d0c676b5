"""Emergency cards: one page each, the first words first, then the first acts, then the rest."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from neckring.live.sheet_steps import SheetProcedure, SheetStep
from neckring.outing.findings import Plan
from neckring.procedure.signal_words import RANK, SignalWord, signal_word
from neckring.procedure.steps import StepKind
from neckring.records.outlook_words import span_words
from neckring.records.sheet_card_times import ClockLine, DrillLine, clock_lines, drill_lines
from neckring.records.sheet_press import (
    SCALES,
    Head,
    TooLongError,
    page_count,
    pressed,
    pressed_on_one_page,
)
from neckring.records.sheet_procedures import LETTERS, Row, row_of
from neckring.station.drills import Drill
from neckring.station.kit import Rule
from neckring.station.suit import Suit

FIRST_ACTS = 3
"""So many steps stand in large type: what people keep in mind under stress; practice."""

TEMPLATE = "sheet_card"
SHORTENED_AT = SCALES[2]
"""Size of type of a card that is shortened anyway."""

MOST_NEVER = 5
"""Lines of what must never be; more would not be read."""

NO_CLOCK = (
    "Help clock: not computed. A plan that looks ahead has it: neckring sheets RUN --members 2000"
)
NO_FAILURE = "Help clock: no failure of a plan stands for this emergency in the kit's file"


@dataclass(frozen=True)
class Card:
    """An emergency card.

    Attributes:
        head: What stands above and below.
        when: The sign on which it is begun.
        first_words: What is said first.
        said_by: Letter of who says it.
        first: The first acts, in large type.
        rest: What follows.
        never: What must never be.
        drills: The team's own times.
        clocks: Harm against help.
        trouble: Letter of the wearer in trouble; empty where there is one wearer only.
        goes_on: Where the steps stand that have no room here; empty when all have.
    """

    head: Head
    when: str
    first_words: str
    said_by: str
    first: tuple[Row, ...]
    rest: tuple[Row, ...]
    never: tuple[str, ...]
    drills: tuple[DrillLine, ...]
    clocks: tuple[ClockLine, ...]
    trouble: str
    goes_on: str = ""

    def shortened(self, kept: int) -> Card:
        """The card with so many of the later steps, which says where the others are."""
        left = self.rest[kept:]
        first, last = left[0].number, left[-1].number
        which = f"Step {first}" if first == last else f"Steps {first} to {last}"
        return replace(
            self, rest=self.rest[:kept], goes_on=f"{which}: on the procedure sheets of this card."
        )


def printed_card(card: Card, date: datetime.date) -> bytes:
    """Print a card on one page; later steps that have no room are left to the procedure sheets.

    Args:
        card: Whole.
        date: Of the printing.

    Raises:
        TooLongError: Not even the first acts fit.
    """
    try:
        return pressed_on_one_page(TEMPLATE, card, date)
    except TooLongError:
        fitting, too_many = -1, len(card.rest)
    while too_many - fitting > 1:
        middle = (fitting + too_many) // 2
        if page_count(TEMPLATE, card.shortened(middle), SHORTENED_AT) == 1:
            fitting = middle
        else:
            too_many = middle
    if fitting < 0:
        raise TooLongError
    return pressed(TEMPLATE, card.shortened(fitting), date, SHORTENED_AT)


def card_of(
    procedure: SheetProcedure,
    head: Head,
    suits: Sequence[Suit],
    drills: Sequence[Drill],
    plans: Sequence[Plan] = (),
    trouble: str = "",
) -> Card:
    """Make the card of an emergency procedure.

    Args:
        procedure: With `when`; in the kit's words.
        head: Its marks.
        suits: That have its kit.
        drills: Of the station.
        plans: Of the day's runs.
        trouble: Letter of the wearer in trouble, where there are two.
    """
    steps = [step for step in procedure.steps if step.kind is not StepKind.MEET]
    opening = next((step for step in steps if step.say or step.kind is StepKind.SAY), None)
    rows = tuple(row_of(step) for step in procedure.steps)
    acts = [place for place, row in enumerate(rows) if row.kind == "step"]
    cut = acts[FIRST_ACTS - 1] + 1 if len(acts) >= FIRST_ACTS else len(rows)
    clocks = tuple(clock_lines(procedure, plans))
    return Card(
        replace(head, title=procedure.title, kind="Emergency card"),
        procedure.when,
        _first_words(opening),
        LETTERS[opening.lanes[0]] if opening else "",
        rows[:cut],
        rows[cut:],
        tuple(never_lines(procedure)),
        tuple(drill_lines(procedure, suits, drills)),
        clocks or (_no_clock(procedure, plans),),
        trouble,
    )


def _first_words(opening: SheetStep | None) -> str:
    return (opening.say or opening.words.removeprefix("tell: ")) if opening else ""


def _no_clock(procedure: SheetProcedure, plans: Sequence[Plan]) -> ClockLine:
    looked = any(plan.outlook for plan in plans)
    return ClockLine(NO_FAILURE if looked else NO_CLOCK)


def never_lines(procedure: SheetProcedure) -> Iterator[str]:
    """Rules that the card's steps warn of, then those its moves could break; the gravest first."""
    kit = procedure.listed.ground.kit
    warned = dict.fromkeys(step.caution.rule for step in procedure.steps if step.caution)
    touched = {
        thing
        for step in procedure.listed.sheet.steps
        if step.move
        for thing in kit.moves[step.move].changes
    }
    near = [
        code
        for code, rule in kit.rules.items()
        if code not in warned and touched & _things_in(procedure, rule)
    ]
    near.sort(key=lambda code: RANK[_word(kit.rules[code])])
    for code in [*warned, *near][:MOST_NEVER]:
        rule = kit.rules[code]
        longest = ""
        if rule.longer_than is not None:
            longest = f", for longer than {span_words(rule.longer_than.nominal)}"
        yield f"{rule.words.rstrip('.')}{longest}"


def _word(rule: Rule) -> SignalWord:
    return signal_word(rule, uncaught=False)


def _things_in(procedure: SheetProcedure, rule: Rule) -> set[str]:
    """Things that a rule is about, through the kit's conditions."""
    conditions = procedure.listed.ground.kit.conditions
    found, waiting, met = set[str](), [rule.never], set[str]()
    while waiting:
        condition = waiting.pop()
        found |= {one.thing.text.rpartition(".")[2] for one in condition.statements()}
        for named in condition.names():
            name = named.name.text.rpartition(".")[2]
            if name not in met:
                met.add(name)
                waiting.append(conditions[name])
    return found
