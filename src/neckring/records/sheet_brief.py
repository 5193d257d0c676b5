"""The brief before a run and the debrief after it: one page each, filled in from the plan."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from neckring.outing.findings import Plan
from neckring.records.outlook_words import turn_back_sentence
from neckring.records.presentation import presentation_of
from neckring.records.reading import (
    VERDICT_WORDS,
    binding_sentence,
    clock,
    longest_sentence,
    remaining_lines,
    whole_minutes,
)
from neckring.records.sheet_press import Head
from neckring.station.console import Console
from neckring.station.help import ALONG
from neckring.station.limits import Limit, LimitSheet
from neckring.station.loading import LoadedStation
from neckring.station.procedure_sheet import ProcedureSheet
from neckring.station.run import Run, Spell
from neckring.station.suit import Suit
from neckring.units import format_quantity

ENDING = ("stop now", "turn back")
NOT_LOOKED_AHEAD = (
    "Turn-back time: not computed, as nothing was taken to fail. With --members 2000 it is."
)

SIGNALS = (
    ("Grips the throat", "no air"),
    ("Grips the partner's wrist", "leave now"),
    ("Both hands on the head", "I need help"),
    ("Thumb up", "yes, I am well"),
    ("Thumb down", "no"),
)
"""Hand signals of sites where protective suits are worn (US site safety plans; read in one)."""

WORDS = (
    ("Call", "Name first, then one action: verb, thing, side, value with its unit."),
    ("Repeat", "Whoever does it says it back. Say “correct”, never “right”."),
    ("Confirm", "The caller says “correct”. No answer in 5 s: call once more, then hold."),
    ("STOP", "Anybody may say it, for any reason. Nobody asks why before all stand still."),
)
"""Call, repeat, confirm: closed-loop communication; 5 s is practice."""

QUESTIONS = (
    "What went otherwise than planned?",
    "What did nobody tell at the time, that should have been told?",
    "What is changed before the next run, by whom, until when?",
)


@dataclass(frozen=True)
class Task:
    """A spell of the run.

    Attributes:
        begins: Clock time.
        minutes: How long, in words.
        what: The activity and the place.
        note: As written.
        work: Metabolic rate, low to high.
        cooling: Where cooling comes from.
        air: Where air comes from.
        helmet: Whether it is on.
    """

    begins: str
    minutes: str
    what: str
    note: str
    work: str
    cooling: str
    air: str
    helmet: str


@dataclass(frozen=True)
class LimitLine:
    """A limit with its worked example.

    Attributes:
        quantity: In words.
        limit: For this wearer.
        action: What the sheet demands.
        example: As signed.
        verified: Whether who signed has read the figure in its source.
    """

    quantity: str
    limit: str
    action: str
    example: str
    verified: bool


@dataclass(frozen=True)
class Pair:
    """Something and what is said of it."""

    name: str
    words: str


@dataclass(frozen=True)
class Brief:
    """The brief of one run.

    Attributes:
        head: What stands above and below.
        verdict: GO, SHORTEN or NO-GO.
        provided: What the verdict takes for granted; empty when failures were looked at.
        sentence: The plan's.
        nearest: What binds.
        turn_back: When to start home at the latest.
        people: Who does what, in codes.
        tasks: The spells.
        bring: Ice, water, charge, drink.
        limits: Those that end the run.
        words: How to speak.
        questions: Of the symptom calls.
        first_words: Emergencies and what is said first.
        signals: By hand.
        cautions: That go with every page.
    """

    head: Head
    verdict: str
    provided: str
    sentence: str
    nearest: str
    turn_back: str
    people: tuple[Pair, ...]
    tasks: tuple[Task, ...]
    bring: tuple[Pair, ...]
    limits: tuple[LimitLine, ...]
    words: tuple[Pair, ...]
    questions: tuple[str, ...]
    first_words: tuple[Pair, ...]
    signals: tuple[Pair, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Debrief:
    """The debrief of one run.

    Attributes:
        head: What stands above and below.
        tasks: The spells, each with room for what happened.
        expected: What the plan expects to be measured afterwards.
        questions: Three, open.
    """

    head: Head
    tasks: tuple[Task, ...]
    expected: tuple[Pair, ...]
    questions: tuple[str, ...]


def brief_of(station: LoadedStation, plan: Plan, head: Head) -> Brief:
    """Make the brief of a run.

    Args:
        station: With the run.
        plan: Of the run.
        head: Its marks.
    """
    run = station.runs[plan.run]
    suit, wearer = station.suits[run.suit], station.wearers[run.wearer]
    outlook = plan.outlook
    return Brief(
        replace(head, title=plan.title, kind=f"Brief of run {plan.run}"),
        VERDICT_WORDS[plan.verdict],
        "" if outlook else "if nothing fails",
        f"{outlook.sentence} {plan.sentence}" if outlook else plan.sentence,
        binding_sentence(plan),
        turn_back_sentence(plan, outlook) if outlook else NOT_LOOKED_AHEAD,
        tuple(_people(run, suit, station.station.console)),
        tuple(_tasks(plan, run)),
        tuple(_bring(plan, suit)),
        tuple(_limits(station.limits, wearer.age.nominal)),
        tuple(Pair(*each) for each in WORDS),
        _questions(station.station.console),
        tuple(first_words(station.procedures, suit.kit)),
        tuple(Pair(*each) for each in SIGNALS),
        plan.cautions,
    )


def debrief_of(station: LoadedStation, plan: Plan, head: Head) -> Debrief:
    """Make the debrief of a run.

    Args:
        station: With the run.
        plan: Of the run.
        head: Its marks.
    """
    run = station.runs[plan.run]
    return Debrief(
        replace(head, title=plan.title, kind=f"Debrief of run {plan.run}"),
        tuple(_tasks(plan, run)),
        tuple(_expected(plan)),
        QUESTIONS,
    )


def _people(run: Run, suit: Suit, console: Console | None) -> Iterator[Pair]:
    hands = run.hands
    yield Pair("Wearer", f"{run.wearer} in {suit.name}")
    if hands.partner:
        yield Pair("Partner", hands.partner)
    where = "walks along" if hands.tender == ALONG else f"waits at {hands.tender}"
    yield Pair("Tenders", f"{hands.tenders}; the tender {where}")
    for part in ("lead", "tender", "medic", "trainer"):
        codes = [code for code, one in (console.people if console else {}).items() if one == part]
        if codes:
            yield Pair(part.capitalize(), ", ".join(codes))
    every = format_quantity(hands.call_every.nominal, "time")
    if console and console.calls and console.calls.every:
        every = console.calls.every.text
    yield Pair("Calls", f"every {every}; a second one missed: come home")


def _tasks(plan: Plan, run: Run) -> Iterator[Task]:
    for found, spell in zip(plan.spells, run.outing, strict=False):
        low, high = round(found.metabolic_rate_low), round(found.metabolic_rate_high)
        yield Task(
            clock(plan, found.begins),
            _minutes(found.ends - found.begins),
            _what(spell),
            spell.note or "",
            f"{low}..{high} W",
            found.cooling,
            found.air,
            "on" if found.helmet_on else "off",
        )


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.0f}" if seconds >= 60.0 else "< 1"


def _what(spell: Spell) -> str:
    places = spell.places
    where = f"{places[0]} to {places[1]}" if len(places) > 1 else places[0]
    load = f", {spell.load.text}" if spell.load else ""
    return f"{spell.spell}, {where}{load}"


def _bring(plan: Plan, suit: Suit) -> Iterator[Pair]:
    store, battery = suit.reservoir, suit.battery
    left = dict(remaining_lines(plan))
    yield Pair("Ice", f"{store.ice.text}; at the end {left['ice']}")
    yield Pair("Water", f"{store.water.text} at {store.start_temperature.text}")
    yield Pair("Battery", f"charged to {battery.start_charge.text}; at the end {left['battery']}")
    yield Pair("Load", f"{plan.load.carried_mass:.0f} kg on the wearer, {plan.load.remark}")
    yield Pair("Drink", plan.advice.sentences[0])


def _limits(sheet: LimitSheet, age: float) -> Iterator[LimitLine]:
    ordered = sorted(
        (limit for limit in sheet.limits if limit.action in ENDING),
        key=lambda limit: ENDING.index(limit.action),
    )
    for limit in ordered:
        shown = presentation_of(limit.quantity)
        lasting = f" for {limit.sustained.text}" if limit.sustained else ""
        yield LimitLine(
            shown.label,
            f"{limit.stop_if} {shown.text(limit.value_at(age))}{lasting}",
            limit.action,
            example_words(limit),
            limit.verified,
        )


def example_words(limit: Limit) -> str:
    """A limit's worked example: "at 40 yr, 141 bpm: crossed"."""
    example = limit.example
    age = f"at {example.age.text}, " if example.age else ""
    reading = presentation_of(limit.quantity).text(example.reading.nominal)
    return f"{age}{reading}: {'crossed' if example.crossed else 'kept'}"


def _questions(console: Console | None) -> tuple[str, ...]:
    return console.calls.questions if console and console.calls else ()


def first_words(procedures: Mapping[str, ProcedureSheet], kit: str | None) -> Iterator[Pair]:
    """Every emergency of a kit and what is said first.

    Args:
        procedures: Of the station.
        kit: Its code; None for no emergency.
    """
    for sheet in procedures.values():
        if sheet.when and sheet.kit == kit:
            said = next(
                (step.say or step.tell for step in sheet.steps if step.say or step.tell), ""
            )
            yield Pair(sheet.title, said or "")


def _expected(plan: Plan) -> Iterator[Pair]:
    change = plan.advice.expected_mass_change
    yield Pair("Body mass, nude and dry", f"{abs(change):.1f} kg less, nothing drunk")
    for quantity in ("core_temperature", "heart_rate"):
        values: Sequence[float] = [float(each) for each in plan.trace[quantity]]
        shown = presentation_of(quantity)
        yield Pair(f"Highest {shown.label}", shown.text(max(values)))
    for name, words in remaining_lines(plan):
        yield Pair(f"{name.capitalize()} at the end", words)
    yield Pair("Length", f"{whole_minutes(plan.duration)} min. {longest_sentence(plan)}")
