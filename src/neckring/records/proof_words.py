"""A proved procedure in words: verdicts, acts, states, times, and what a proof cannot say.

The terminal, the page and the JSON all say these things the same way, so they are said here.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable

from neckring.outing.cautions import ALWAYS
from neckring.procedure.examination import (
    Catch,
    Claim,
    Examination,
    Outcome,
    SlipStory,
    TraceRow,
)
from neckring.procedure.findings import Verdict
from neckring.procedure.grounding import TENDER, GroundKit, ground
from neckring.procedure.human_error import ErrorRow
from neckring.procedure.kit_words import KitWords
from neckring.procedure.listing import Listed
from neckring.procedure.model import State
from neckring.procedure.risk import Estimate
from neckring.station.kit import Rule
from neckring.station.procedure_sheet import Accepted

VERDICT_WORDS = {
    Verdict.PROVED: "PROVED",
    Verdict.BROKEN: "BROKEN",
    Verdict.NOT_DECIDED: "NOT DECIDED",
}
OF_THE_MODEL = (
    "A proof is of the words in the files, not of the suit, and not of the people in it. It clears "
    "nobody."
)
AS_GOOD_AS_THE_FILE = (
    "It is as good as the kit's file, which somebody wrote. Rehearse with the real kit before "
    "anybody is closed in."
)
LISTED_SLIPS_ONLY = (
    "Only the kinds of slip and breakdown that are counted here were tried. People find others."
)
CAUTIONS = (OF_THE_MODEL, AS_GOOD_AS_THE_FILE, LISTED_SLIPS_ONLY, *ALWAYS)
"""They go with every page of a proof."""

UNSEEN = (
    "One act is done at a time. Two people who act in the same instant are seen only as one after "
    "the other.",
    "The orders that are gone through know no clock. Only where a rule allows a time, slips are "
    "timed, one act after another, each as long as at most.",
    "An act that cannot be done is taken as noticed. A part that is forced is not seen.",
    "A check that is made always finds what it looks for. Only the estimates of risk count checks "
    "that fail.",
    "Only the kinds of slip that are counted here are tried: a step moves by at most five places, "
    "and at most two slips, or one slip and one breakdown, come together.",
    "That no rule breaks in whatever order the team acts is proved for one wearer's kit at a time; "
    "for both together only in the orders that the lanes of this procedure allow.",
    "A thing is in one of its listed states, and nothing lies between them.",
    "Nobody does anything on their own account, for good or for ill, beyond the steps and slips.",
    "Calls and answers are printed, not modelled: a word misheard is not seen.",
)
"""What no model of this form can see."""

OUTCOMES = (Outcome.HARM, Outcome.LATENT, Outcome.CAUGHT, Outcome.BLOCKED, Outcome.HARMLESS)
OUTCOME_MEANING = {
    Outcome.HARM: "a rule breaks, and no check stands between",
    Outcome.LATENT: "no rule breaks and no check fails, yet the procedure ends otherwise",
    Outcome.CAUGHT: "a later check fails before any rule breaks",
    Outcome.BLOCKED: "an act cannot be done, which is taken as noticed",
    Outcome.HARMLESS: "the procedure ends as written",
}
VERDICT_MEANING = {
    Verdict.PROVED: "everything was looked at, and nothing breaks",
    Verdict.BROKEN: "a way was found, and it is shown",
    Verdict.NOT_DECIDED: "a bound was hit before everything was looked at: this is no proof",
}


def time_words(seconds: float) -> str:
    """Write whole seconds as a time."""
    if math.isinf(seconds):
        return "never"
    whole = round(seconds)
    if whole < 120:
        return f"{whole}\u00a0s"
    minutes, rest = divmod(whole, 60)
    return f"{minutes}\u00a0min {rest}\u00a0s" if rest else f"{minutes}\u00a0min"


def no_longer(seconds: float) -> str:
    """Write the time left until harm, rounded down: it is never shown longer than it is."""
    return time_words(math.floor(seconds + 1e-6))


def no_shorter(seconds: float) -> str:
    """Write the time that help takes, rounded up: it is never shown shorter than it is."""
    return time_words(seconds if math.isinf(seconds) else math.ceil(seconds - 1e-6))


def engine_time(seconds: float) -> str:
    """Write how long an engine took."""
    if seconds < 1.0:
        thousandths = 1000.0 * seconds
        return f"{thousandths:.2g}\u00a0ms" if thousandths < 99.5 else f"{thousandths:.0f}\u00a0ms"
    return f"{seconds:.2g}\u00a0s" if seconds < 10.0 else f"{seconds:.0f}\u00a0s"


def counted(number: int, one: str, many: str = "") -> str:
    """Write a number with its noun."""
    return f"{number:,}\u00a0{one if number == 1 else many or one + 's'}"


def listed_words(names: Iterable[str], last: str = "and") -> str:
    """Join names as a sentence does."""
    *firsts, end = names
    return f"{', '.join(firsts)} {last} {end}" if firsts else end


def steps_words(numbers: Iterable[int]) -> str:
    """Write rising numbers of steps, runs of three and more as ranges."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


def capital(text: str) -> str:
    """The same text with a capital at its start."""
    return text[:1].upper() + text[1:]


def person_words(who: str) -> str:
    """Who is meant, inside a sentence."""
    return "the tender" if who == TENDER else f"wearer {who}"


def kit_of(listed: Listed, state: State) -> GroundKit:
    """The kit whose state it is: the procedure's, or that of one wearer alone."""
    alone = len(state) != len(listed.ground.variables)
    return ground(listed.ground.kit) if alone else listed.ground


def state_words(listed: Listed, state: State) -> tuple[str, ...]:
    """What stands otherwise than before the first step, thing by thing."""
    kit = kit_of(listed, state)
    words, start = KitWords(kit), [variable.start for variable in kit.variables]
    return tuple(
        f"{words.thing(number)}: {words.state(number, now)}"
        for number, (before, now) in enumerate(zip(start, state, strict=True))
        if now != before
    )


def act_words(listed: Listed, name: str) -> str:
    """An act of the model in the kit's words, with who does it."""
    return KitWords(listed.ground).act(name)


def on_words(listed: Listed, target: str, who: str) -> str:
    """Whom an act is done to, where that must be said."""
    told = len(listed.ground.wearers) > 1 and target != who
    return f" (on\u00a0{target})" if told else ""


def risk_words(story: SlipStory) -> str:
    """How often, as an order of magnitude, or why there is no figure."""
    if story.risk is not None:
        return story.risk.words
    if story.kind == "breakdown":
        return "no figure: a breakdown carries no published probability"
    return "no figure: nothing published fits"


def rule_of(listed: Listed, name: str) -> tuple[str, Rule] | None:
    """A rule by its code, with or without the wearer it is of."""
    code = name.partition(" of ")[0]
    rule = listed.ground.kit.rules.get(code)
    return None if rule is None else (code, rule)


def longest_allowed(listed: Listed, name: str) -> float | None:
    """How long what a rule forbids may hold [s], by its name; None where not at all."""
    code = name.partition(" of ")[0]
    allowed = [
        rule.longest
        for rule in listed.procedure.timed
        if rule.name == name or (name == code and rule.name.startswith(f"{code} of "))
    ]
    return min(allowed, default=None)


def heading(story: SlipStory) -> str:
    """A slip with the number of its step."""
    named = f"step {story.step}" in story.words
    return capital(story.words) if named else f"Step {story.step}: {story.words}"


def company_words(company: str) -> str:
    """Who can help, in the head of a column."""
    return company.removeprefix("with the ").removeprefix("with a ")


def accepted_words(examination: Examination, story: SlipStory) -> str:
    """Why a slip is accepted, and who has signed that when."""
    line, words = accepted_of(examination, story), story.accepted.rstrip(". ")
    if line is None or line.date.isoformat() in words:
        return f"{words}."
    return f"{words}. Signed by {line.by}, {line.date.isoformat()}."


def accepted_of(examination: Examination, story: SlipStory) -> Accepted | None:
    """The lead's signed line for a slip, when there is one."""
    code = story.rule.partition(" of ")[0]
    return next(
        (
            line
            for line in examination.listed.sheet.accepted
            if (line.step, line.slip, line.rule) == (story.step, story.kind, code)
        ),
        None,
    )


def catch_words(catch: Catch) -> str:
    """A check to add, as an order to somebody."""
    return f"after step {catch.after_step}, {person_words(catch.who)}: {catch.words}"


def states_words(claim: Claim) -> str:
    """How many states an engine looked at."""
    return "\u2013" if claim.states is None else f"{claim.states:,}"


def stories_of(examination: Examination, outcome: Outcome) -> tuple[SlipStory, ...]:
    """Stories with one end, worst first."""
    return tuple(story for story in examination.stories if story.outcome == outcome)


def error_rows(examination: Examination) -> tuple[ErrorRow, ...]:
    """Every published row that an estimate stands on, each once."""
    rows = (row for estimate in _estimates(examination) for row in estimate.rows)
    return tuple(dict.fromkeys(rows))


def assumed(examination: Examination) -> tuple[str, ...]:
    """Everything that was assumed in an estimate, each once."""
    words = (each for estimate in _estimates(examination) for each in estimate.assumed)
    return tuple(dict.fromkeys(words))


def _estimates(examination: Examination) -> list[Estimate]:
    every = [story.risk for story in examination.stories] + [examination.total_risk]
    return [estimate for estimate in every if estimate is not None]


def mark_of(listed: Listed) -> str:
    """A mark that two pages share only when they were made from the same procedure and kit."""
    digest = hashlib.sha256(repr((listed.sheet, listed.ground.kit)).encode()).hexdigest()
    return " ".join(digest[at : at + 4] for at in range(0, 12, 4))


def bound_words(row: TraceRow) -> str:
    """The number of a step in a story; what the kit does by itself has none."""
    return "by itself" if row.step is None else str(row.step)
