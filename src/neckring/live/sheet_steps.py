"""A procedure as people carry it out on the day: its steps with every word, and made exact."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache

from neckring.live.uncaught_rules import uncaught_rules
from neckring.procedure.grounding import GroundKit
from neckring.procedure.kit_words import PEOPLE
from neckring.procedure.listing import Listed, end_of, listed
from neckring.procedure.model import Among, Condition, State, mapped
from neckring.procedure.signal_words import Caution, caution
from neckring.procedure.steps import CheckKind, Step, StepKind
from neckring.station.fault import listed as listed_words
from neckring.station.kit import Kit
from neckring.station.pass_rule import PassRule
from neckring.station.procedure_sheet import ProcedureSheet, StepText

OTHER = {"A": "B", "B": "A"}
LETTER = re.compile(r"\b[AB]\b")
# "A hand lies on the arm of A": the first is an article, and no verb follows it.
ARTICLE = re.compile(
    r"(?:^|(?<=[.!?] ))A(?= (?!(?:is|was|has|on|and|or|answers|feels|hears|sees|stands|walks|lies"
    r"|sits|comes|goes|may|can|must)\b)[a-z])"
)


@dataclass(frozen=True)
class SheetStep:
    """One step as it is carried out.

    Attributes:
        procedure: Code of its procedure.
        number: As printed, from 1.
        kind: What it is.
        who: Who does it: A, B or tender; empty for a meeting.
        on: The wearer it is done to; empty for a meeting and for what is told.
        lanes: Whose turn it takes: of one, or of all who meet.
        words: What is done, as an order.
        say: What is said before.
        answer: What is answered.
        expect: What is seen, heard or felt when it is right.
        if_not: What to do when it is not.
        note: Anything else.
        caution: What is warned of before it; None for nothing.
        reads: What an instrument must show; None where none is read.
        two_people: Whether a second person checks it as well.
        when_stopped: Whether it may be done while the run is stopped.
        likely: How long it takes [s].
        exact: On the day's kit.
    """

    procedure: str
    number: int
    kind: StepKind
    who: str
    on: str
    lanes: tuple[str, ...]
    words: str
    say: str
    answer: str
    expect: str
    if_not: str
    note: str
    caution: Caution | None
    reads: PassRule | None
    two_people: bool
    when_stopped: bool
    likely: float
    exact: Step

    @property
    def called(self) -> str:
        """As it is spoken of: "step 12 (lock the helmet)"."""
        return f"step {self.number} ({self.words})"


@dataclass(frozen=True, eq=False)
class SheetProcedure:
    """A procedure as it is carried out.

    Attributes:
        code: Of the procedure.
        title: As written.
        about: As written; may be empty.
        when: For an emergency: the sign on which it is begun; else empty.
        lanes: Who acts.
        steps: In the order written; the printed number of each is its place, from 1.
        begins: Variables of the day's kit that begin otherwise than where the one before ends.
        ends: What must hold at the end.
        listed: What it was made from.
    """

    code: str
    title: str
    about: str
    when: str
    lanes: tuple[str, ...]
    steps: tuple[SheetStep, ...]
    begins: tuple[tuple[int, int], ...]
    ends: Condition
    listed: Listed

    def step(self, number: int) -> SheetStep | None:
        """A step by its printed number; None when there is none."""
        return self.steps[number - 1] if 1 <= number <= len(self.steps) else None


def listed_once(
    sheets: Mapping[str, ProcedureSheet], kits: Mapping[str, Kit]
) -> Callable[[str], Listed]:
    """Procedures made exact, each once, however many come after it.

    Args:
        sheets: All procedures by code; their references are in order.
        kits: All kits by code.
    """

    @cache
    def made(code: str) -> Listed:
        sheet = sheets[code]
        if sheet.after is None:
            return listed(code, sheets, kits)
        # What the one before ends in, written out, makes this one the first of its chain.
        before = made(sheet.after)
        end = states_in_words(before.ground, end_of(before.procedure))
        first = sheet.model_copy(update={"after": None, "begins": {**end, **sheet.begins}})
        return replace(listed(code, {code: first}, kits), sheet=sheet)

    return made


def sheet_procedure(
    listed: Listed, of_day: GroundKit, uncaught: frozenset[str] | None = None
) -> SheetProcedure:
    """A procedure on the day's kit.

    Args:
        listed: The procedure made exact, with the kit of the day.
        of_day: That kit, on the wearers of the day.
        uncaught: Rules that some single slip breaks with no check between; None to work them out.
    """
    writer = _Writer(listed, of_day, uncaught_rules(listed) if uncaught is None else uncaught)
    sheet = listed.sheet
    return SheetProcedure(
        code=sheet.code,
        title=sheet.title,
        about=sheet.about or "",
        when=sheet.when or "",
        lanes=listed.procedure.lanes,
        steps=tuple(writer.step(step) for step in listed.procedure.steps),
        begins=writer.effects(_begins(listed)),
        ends=writer.condition(listed.procedure.ends),
        listed=listed,
    )


def _begins(listed: Listed) -> tuple[tuple[int, int], ...]:
    ground = listed.ground
    found = []
    for name, value in listed.sheet.begins.items():
        number = ground.numbers[name]
        found.append((number, ground.variables[number].states.index(value)))
    return tuple(found)


class _Writer:
    """Writes the steps of one procedure on the variables of the day's kit."""

    def __init__(self, listed: Listed, of_day: GroundKit, uncaught: frozenset[str]) -> None:
        self.listed = listed
        self.of_day = of_day
        self.kit = listed.ground.kit
        self.uncaught = uncaught
        names = (variable.name for variable in listed.ground.variables)
        self.place = tuple(of_day.numbers[name] for name in names)

    def effects(self, effects: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
        return tuple((self.place[variable], value) for variable, value in effects)

    def condition(self, condition: Condition) -> Condition:
        return moved_condition(condition, self.place)

    def step(self, exact: Step) -> SheetStep:
        text = self.listed.step(exact.number)
        sign = self.kit.signs[text.check] if text.check else None
        move = self.kit.moves[text.move] if text.move else None
        return SheetStep(
            procedure=self.listed.sheet.code,
            number=exact.number,
            kind=exact.kind,
            who=text.who or "",
            on="" if text.meet or text.tell else text.target,
            lanes=text.meet or (text.who or "",),
            words=self._words(text),
            say=text.say or "",
            answer=text.answer or "",
            expect=text.expect or self._expected(text),
            if_not=text.if_not or "",
            note=text.note or "",
            caution=self._caution(text),
            reads=sign.reads if sign else None,
            two_people=exact.kind is StepKind.CHECK and exact.check is CheckKind.SECOND_PERSON,
            # A look, a word and a meeting change nothing of the kit.
            when_stopped=move is None or move.when_stopped,
            likely=exact.duration.likely,
            exact=replace(
                exact,
                guard=self.condition(exact.guard),
                effects=self.effects(exact.effects),
                half=None if exact.half is None else self.effects(exact.half),
                others=tuple(
                    replace(o, guard=self.condition(o.guard), effects=self.effects(o.effects))
                    for o in exact.others
                ),
            ),
        )

    def _words(self, text: StepText) -> str:
        if text.meet:
            return f"meet: {listed_words((PEOPLE[each] for each in text.meet), 'and')}"
        if text.tell:
            return f"tell: {text.tell}"
        if text.move:
            words = self.kit.moves[text.move].words
        else:
            words = f"check: {self.kit.signs[text.check or ''].words}"
        to_other = len(self.of_day.wearers) > 1 and text.target != text.who
        return f"{words}, {PEOPLE[text.target]}" if to_other else words

    def _expected(self, text: StepText) -> str:
        shows = self.kit.moves[text.move].shows if text.move else None
        return self.kit.signs[shows].words if shows else ""

    def _caution(self, text: StepText) -> Caution | None:
        if text.caution is None:
            return None
        rule = self.kit.rules[text.caution]
        return caution(text.caution, rule, uncaught=text.caution in self.uncaught)


def moved_condition(condition: Condition, place: tuple[int, ...]) -> Condition:
    """The same condition on other numbers of variables."""
    return mapped(condition, lambda leaf: Among(place[leaf.variable], leaf.values))


def for_other_wearer(procedure: SheetProcedure, of_day: GroundKit) -> SheetProcedure:
    """A card written for A, for B: letters changed over in who acts, in words and in the kit."""
    numbers = of_day.numbers
    place = tuple(numbers[_other_name(variable.name)] for variable in of_day.variables)
    return replace(
        procedure,
        when=other_letters(procedure.when),
        about=other_letters(procedure.about),
        lanes=tuple(OTHER.get(lane, lane) for lane in procedure.lanes),
        steps=tuple(_other_step(step, place) for step in procedure.steps),
        begins=tuple((place[variable], value) for variable, value in procedure.begins),
        ends=moved_condition(procedure.ends, place),
    )


def _other_name(name: str) -> str:
    owner, mark, thing = name.rpartition(".")
    return f"{OTHER[owner]}{mark}{thing}" if owner in OTHER else name


def _other_step(step: SheetStep, place: tuple[int, ...]) -> SheetStep:
    exact = step.exact
    return replace(
        step,
        who=OTHER.get(step.who, step.who),
        on=OTHER.get(step.on, step.on),
        lanes=tuple(OTHER.get(lane, lane) for lane in step.lanes),
        words=other_letters(step.words),
        say=other_letters(step.say),
        answer=other_letters(step.answer),
        expect=other_letters(step.expect),
        if_not=other_letters(step.if_not),
        note=other_letters(step.note),
        exact=replace(
            exact,
            guard=moved_condition(exact.guard, place),
            effects=tuple((place[variable], value) for variable, value in exact.effects),
            half=None,
            others=(),
        ),
    )


def other_letters(text: str) -> str:
    """A text with the letters A and B of wearers changed over; an article stays.

    A sentence that begins with the article is told from one about wearer A by the word after it:
    a verb of those that are usual on cards means the wearer.
    """
    articles = {found.start() for found in ARTICLE.finditer(text)}
    return LETTER.sub(
        lambda found: found.group() if found.start() in articles else OTHER[found.group()], text
    )


def state_with(state: State, effects: Iterable[tuple[int, int]]) -> State:
    """A state with some variables changed; what is no variable of it is left out."""
    changed = list(state)
    for variable, value in effects:
        changed[variable] = value
    return tuple(changed)


def states_in_words(of_day: GroundKit, state: State) -> Mapping[str, str]:
    """Every thing and how it stands, by name: {"A.helmet": "locked", ...}."""
    return {v.name: v.states[n] for v, n in zip(of_day.variables, state, strict=True)}
