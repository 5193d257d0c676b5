"""The tables of a proof's page: the procedure step by step, and a slip beside what was written."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from neckring.procedure.examination import (
    Difference,
    Examination,
    Outcome,
    SlipStory,
    StepSafety,
    TraceRow,
)
from neckring.procedure.listing import Listed
from neckring.procedure.signal_words import Caution, caution
from neckring.procedure.steps import StepKind
from neckring.procedure.way_out import Company, FastestWay, Goal
from neckring.records import proof_words
from neckring.station.procedure_sheet import StepText

LONGEST_UNFOLDED = 2
"""Rows of a story in which nothing changes are folded when there are more than so many."""

SHORT_GOAL = {Goal.FRESH_AIR.value: "air", Goal.OUT.value: "out"}


@dataclass(frozen=True)
class WayColumn:
    """One relief of the step table, for all company that was asked about.

    Attributes:
        goal: The relief.
        companies: Who can help, in the order of the figures; empty where it is not told apart.
        places: Places of the figures in `Examination.relief`.
    """

    goal: str
    companies: tuple[str, ...]
    places: tuple[int, ...]

    @property
    def short(self) -> str:
        """The relief in a word."""
        return SHORT_GOAL.get(self.goal, self.goal)

    @property
    def order(self) -> str:
        """Whose figures they are, in their order."""
        return " / ".join(map(proof_words.company_words, self.companies))


@dataclass(frozen=True)
class StepRow:
    """One step as the page shows it.

    Attributes:
        number: As printed.
        kind: What it is.
        lane: Number of its lane; -1 for a meeting.
        who: Who does it; of a meeting, all who wait.
        action: What is done, as an order.
        written: The step as written: calls, expected sign and the rest.
        expect: What is seen, heard or felt when it is right.
        caution: What to be warned of before it.
        safety: Slips and ways out here.
        ways: For each way column its figures.
    """

    number: int
    kind: StepKind
    lane: int
    who: str
    action: str
    written: StepText
    expect: str
    caution: Caution | None
    safety: StepSafety
    ways: tuple[str, ...]


@dataclass(frozen=True)
class StoryRow:
    """One row of a slip beside what was written.

    Attributes:
        step: Number of the step, or of several.
        words: What is done.
        differences: What newly stands otherwise; in the last row, all that does.
        again: What stands as written again.
        last: Whether this is where the rule breaks.
    """

    step: str
    words: str
    differences: tuple[Difference, ...] = ()
    again: tuple[str, ...] = ()
    last: bool = False


@dataclass(frozen=True)
class Gathered:
    """Slips that are told as one: the same act or breakdown does the same harm.

    Attributes:
        worst: Told in full.
        others: Named only.
    """

    worst: SlipStory
    others: tuple[SlipStory, ...]


def gathered(stories: tuple[SlipStory, ...]) -> tuple[Gathered, ...]:
    """Gather slips that differ only in when they are made, in the order of the worst of each."""
    found: dict[tuple[object, ...], list[SlipStory]] = {}
    for story in stories:
        act = story.trace[0].words if story.trace else story.words
        alike = (story.outcome, story.kind, story.rule, story.cause, story.accepted, act)
        found.setdefault(alike, []).append(story)
    return tuple(Gathered(worst, tuple(others)) for worst, *others in found.values())


def told_at(stories: tuple[SlipStory, ...]) -> tuple[int, ...]:
    """For each slip the number, from 1, of the story that tells it."""
    places = {
        id(story): number
        for number, told in enumerate(gathered(stories), start=1)
        for story in (told.worst, *told.others)
    }
    return tuple(places[id(story)] for story in stories)


def way_columns(relief: tuple[str, ...]) -> tuple[WayColumn, ...]:
    """Gather reliefs that differ only in who can help into one column."""
    found: dict[str, list[tuple[str, int]]] = {}
    for place, name in enumerate(relief):
        goal, company = _parted(name)
        found.setdefault(goal, []).append((company, place))
    return tuple(
        WayColumn(
            goal,
            tuple(company for company, _ in some) if some[0][0] else (),
            tuple(place for _, place in some),
        )
        for goal, some in found.items()
    )


def _parted(name: str) -> tuple[str, str]:
    for company in Company:
        if name.endswith(company.value) and name != company.value:
            return name.removesuffix(company.value).rstrip(" ,:"), company.value
    return name, ""


def way_orders(columns: tuple[WayColumn, ...]) -> tuple[str, ...]:
    """How the figures of all columns are ordered; told for each where they differ."""
    orders = {column.order for column in columns}
    if len(orders) <= 1:
        return tuple(order for order in orders if order)
    return tuple(f"{column.short}: {column.order}" for column in columns if column.order)


def way_figures(ways: tuple[FastestWay | None, ...], column: WayColumn) -> str:
    """Seconds of the fastest ways, each act as long as at most, one figure for each company."""
    return " / ".join(_figure(ways[place]) for place in column.places)


def _figure(way: FastestWay | None) -> str:
    return "none" if way is None else str(math.ceil(way.duration.high - 1e-6))


def step_rows(examination: Examination) -> tuple[StepRow, ...]:
    """The procedure, step by step."""
    listed = examination.listed
    columns = way_columns(examination.relief)
    safety = {each.step: each for each in examination.steps}
    uncaught = {
        story.rule.partition(" of ")[0]
        for story in examination.stories
        if story.outcome is Outcome.HARM
    }
    rows = []
    for step in listed.procedure.steps:
        written = listed.step(step.number)
        here = safety.get(step.number) or StepSafety(step.number, (), 0, 0)
        rows.append(
            StepRow(
                step.number,
                step.kind,
                step.lane,
                proof_words.listed_words(written.meet or (written.who or "",)),
                action_words(listed, written),
                written,
                _expected(listed, written),
                _caution(listed, written, uncaught),
                here,
                tuple(way_figures(here.ways, column) if here.ways else "" for column in columns),
            )
        )
    return tuple(rows)


def action_words(listed: Listed, written: StepText) -> str:
    """What is done in a step, as an order to who does it."""
    kit = listed.ground.kit
    if written.meet is not None:
        people = proof_words.listed_words(map(proof_words.person_words, written.meet))
        return f"Meet: {people} wait for one another"
    if written.move is not None:
        words = kit.moves[written.move].words
    elif written.check is not None:
        words = f"check: {kit.signs[written.check].words}"
    else:
        words = f"tell: {written.tell}"
    on = "" if written.tell else proof_words.on_words(listed, written.target, written.who or "")
    return proof_words.capital(words) + on


def _expected(listed: Listed, written: StepText) -> str:
    if written.expect is not None or written.move is None:
        return written.expect or ""
    shows = listed.ground.kit.moves[written.move].shows
    return "" if shows is None else listed.ground.kit.signs[shows].words


def _caution(listed: Listed, written: StepText, uncaught: set[str]) -> Caution | None:
    if written.caution is None:
        return None
    rule = listed.ground.kit.rules[written.caution]
    return caution(written.caution, rule, uncaught=written.caution in uncaught)


def story_rows(story: SlipStory) -> tuple[StoryRow, ...]:
    """A story's trace with only what changes; long stretches without a change are folded."""
    rows: list[StoryRow] = []
    quiet: list[TraceRow] = []
    before: dict[str, Difference] = {}
    for place, row in enumerate(story.trace):
        now = {each.thing: each for each in row.differences}
        new = tuple(each for thing, each in now.items() if before.get(thing) != each)
        again = tuple(thing for thing in before if thing not in now)
        last = place == len(story.trace) - 1
        before = now
        if not new and not again and not last and place:
            quiet.append(row)
            continue
        # Where the story ends, all that still differs is told once more.
        told = row.differences if last else new
        rows += [*_folded(quiet), _row(row, told, again, last and story.outcome is Outcome.HARM)]
        quiet = []
    return tuple(rows)


def _row(
    row: TraceRow, new: tuple[Difference, ...], again: tuple[str, ...], last: bool
) -> StoryRow:
    return StoryRow(proof_words.bound_words(row), row.words, new, again, last)


def _folded(quiet: list[TraceRow]) -> Iterator[StoryRow]:
    if len(quiet) <= LONGEST_UNFOLDED:
        yield from (_row(row, (), (), False) for row in quiet)
        return
    first, last = proof_words.bound_words(quiet[0]), proof_words.bound_words(quiet[-1])
    yield StoryRow(f"{first} to {last}", f"{len(quiet)} more acts; nothing else differs")
