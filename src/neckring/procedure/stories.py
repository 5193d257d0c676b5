"""Every slip that does harm, or leaves something otherwise unnoticed, told for people."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

from neckring.procedure.catching import (
    Look,
    best_sets,
    catches,
    in_words,
    looks,
    with_looks,
)
from neckring.procedure.examination import Advised, Catch, SlipStory, TraceRow
from neckring.procedure.fitting_rows import Slip
from neckring.procedure.fitting_rows import SlipKind as RiskKind
from neckring.procedure.kit_words import KitWords
from neckring.procedure.listing import Listed
from neckring.procedure.model import State
from neckring.procedure.risk import Estimate, Way, judged, overall
from neckring.procedure.slip_endings import Found, NotRunningError
from neckring.procedure.slip_search import all_singles
from neckring.procedure.slips import Deviation, Outcome, SlipKind, early_targets
from neckring.procedure.slips import in_words as slip_in_words
from neckring.procedure.steps import Procedure, StepKind
from neckring.procedure.story import Telling, causes, told
from neckring.station.kit import Rule
from neckring.station.procedure_sheet import Accepted

# As `accepted` of a procedure's file writes each kind.
WRITTEN = {
    SlipKind.OMIT: "left out",
    SlipKind.REPEAT: "repeated",
    SlipKind.LATE: "late",
    SlipKind.EARLY: "early",
    SlipKind.OTHER: "wrong object",
    SlipKind.HALF: "half done",
    SlipKind.FAILURE: "breakdown",
}
RISK_KINDS = {
    SlipKind.OMIT: RiskKind.OMITTED,
    SlipKind.REPEAT: RiskKind.REPEATED,
    SlipKind.LATE: RiskKind.LATE,
    SlipKind.EARLY: RiskKind.EARLY,
    SlipKind.OTHER: RiskKind.WRONG_OBJECT,
    SlipKind.HALF: RiskKind.HALF_DONE,
    SlipKind.FAILURE: RiskKind.FAILURE,
}
GRAVITY = ("death", "serious injury", "injury", "damage")
MOST_CATCHES = 3


class Teller:
    """Tells what single slips of a procedure do.

    Args:
        listed: The procedure.
        found: All its single slips and breakdowns.
        nominal: State before each step as written, and at the end.
    """

    def __init__(self, listed: Listed, found: Sequence[Found], nominal: tuple[State, ...]) -> None:
        self.listed = listed
        self.procedure = listed.procedure
        self.nominal = nominal
        self.words = KitWords(listed.ground)
        self.found = list(found)
        self.harmful = [each for each in self.found if each.outcome is Outcome.HARM]
        self.rules = self.procedure.rule_names

    def rule_of(self, single: Found) -> tuple[str, Rule]:
        """Name of the rule that a harmful slip breaks, and the rule as written."""
        assert single.rule is not None
        name = self.rules[single.rule]
        return name, self.listed.ground.kit.rules[name.partition(" of ")[0]]

    def accepted(self, single: Found) -> Accepted | None:
        """The lead's signature under a harmful slip; None when there is none."""
        deviation = single.deviation
        number = self.procedure.steps[deviation.position].number
        code = self.rule_of(single)[0].partition(" of ")[0]
        kind = WRITTEN[deviation.kind]
        for accepted in self.listed.sheet.accepted:
            if (accepted.step, accepted.slip, accepted.rule) == (number, kind, code):
                return accepted
        return None

    @cached_property
    def open_harm(self) -> list[Found]:
        """Harmful slips that nobody accepts."""
        return [each for each in self.harmful if self.accepted(each) is None]

    @cached_property
    def tellings(self) -> list[Telling]:
        """The harmful slips, told."""
        return [self.telling(each.deviation) for each in self.harmful]

    def telling(self, deviation: Deviation) -> Telling:
        """One slip told; it must be one that can happen."""
        found = told(self.procedure, [deviation], self.nominal[-1])
        assert found is not None, "only slips that can happen have endings"
        return found

    @cached_property
    def caught(self) -> list[tuple[Look, frozenset[int]]]:
        """Looks that would catch something, with the numbers of the harmful slips."""
        every = looks(self.listed.ground, self.procedure, self.nominal)
        return catches(self.listed.ground, every, self.tellings)

    @cached_property
    def stories(self) -> tuple[SlipStory, ...]:
        """Harmful slips, the gravest that nobody accepts first; then what stays unnoticed."""
        harmful = [self.harm_story(n, each) for n, each in enumerate(self.harmful)]
        harmful.sort(key=lambda s: (bool(s.accepted), GRAVITY.index(s.harm), s.seconds, s.step))
        latent = [
            self.latent_story(each)
            for each in self.found
            if each.outcome is Outcome.LATENT and each.deviation.kind is not SlipKind.FAILURE
        ]
        return (*harmful, *latent)

    def harm_story(self, number: int, single: Found) -> SlipStory:
        """A slip that does harm."""
        telling = self.tellings[number]
        name, rule = self.rule_of(single)
        rows = self.rows(telling)
        seconds = self.seconds(telling)
        catchers = self.catchers(number)
        accepted = self.accepted(single)
        signed = f"{accepted.why} ({accepted.by}, {accepted.date})" if accepted else ""
        wrong = causes(self.procedure, telling, self.nominal)
        return SlipStory(
            words=self.slip_words(single.deviation),
            kind=WRITTEN[single.deviation.kind],
            step=self.procedure.steps[single.deviation.position].number,
            outcome=Outcome.HARM,
            rule=name.partition(" of ")[0],
            harm=rule.harm,
            sentence=self.sentence(single, telling, seconds, catchers),
            trace=rows,
            cause=tuple(self.words.thing(n) for n in wrong),
            seconds=seconds,
            catches=catchers,
            risk=self.risk(single.deviation),
            accepted=signed,
        )

    def latent_story(self, single: Found) -> SlipStory:
        """A slip after which something stays otherwise, and nobody notices."""
        telling = self.telling(single.deviation)
        differences = self.words.differences(self.nominal[-1], telling.sequence.end)
        left = "; ".join(f"{d.thing} is {d.slipped}, not {d.nominal}" for d in differences)
        return SlipStory(
            words=self.slip_words(single.deviation),
            kind=WRITTEN[single.deviation.kind],
            step=self.procedure.steps[single.deviation.position].number,
            outcome=Outcome.LATENT,
            rule="",
            harm="",
            sentence=f"{self.slip_words(single.deviation)}: no rule breaks and nobody notices, "
            f"but at the end {left}.",
            trace=self.rows(telling),
            cause=(),
            seconds=0.0,
            catches=(),
            risk=self.risk(single.deviation),
        )

    def slip_words(self, deviation: Deviation) -> str:
        """A slip, with the kit's words for what is done: "step 12 left out (seat the helmet)"."""
        words = slip_in_words(deviation, self.procedure)
        step = self.procedure.steps[deviation.position]
        if deviation.kind is SlipKind.OTHER:
            done = self.words.act(step.others[deviation.argument].name)
            return f"in place of step {step.number} ({self.words.act(step.name)}): {done}"
        if deviation.kind is SlipKind.FAILURE:
            name = self.procedure.failures[deviation.argument].name
            return f"just before step {step.number}: {self.words.act(name)}"
        return f"{words} ({self.words.act(step.name)})"

    def sentence(
        self, single: Found, telling: Telling, seconds: float, catchers: tuple[Catch, ...]
    ) -> str:
        """What happens, when, and what would have caught it."""
        name, rule = self.rule_of(single)
        assert telling.sequence.step is not None
        at = self.procedure.steps[telling.sequence.step].number
        when = f"{seconds:.0f} s later, at step {at}" if seconds else f"at once, at step {at}"
        said = (
            f"{self.slip_words(single.deviation)}. Then, {when}: {self.words.rule(name)}. "
            f"{_sentence(rule.consequence)}"
        )
        if not catchers:
            return f"{said} No sign of the kit would show it in time."
        first = catchers[0]
        who = "the tender" if first.who == "tender" else f"wearer {first.who}"
        looks = f"{who}, after step {first.after_step}, had to: {first.words}"
        return f"{said} It would be noticed if {looks}."

    def rows(self, telling: Telling) -> tuple[TraceRow, ...]:
        """What is done from the slip on, and what then stands otherwise."""
        rows: list[TraceRow] = []
        for moment in telling.moments:
            right = self.nominal[moment.position + (not moment.failure)]
            differences = self.words.differences(right, moment.state)
            if differences or rows:
                number = None if moment.failure else self.procedure.steps[moment.position].number
                rows.append(TraceRow(number, self.moment_words(moment.name), differences))
        return tuple(rows)

    def moment_words(self, name: str) -> str:
        """What is done, in the kit's words; what is only said stays as it is."""
        if name == "meet" or (" on " not in name and " of " not in name):
            return "all meet" if name == "meet" else name
        try:
            return self.words.act(name)
        except KeyError:
            return name

    def seconds(self, telling: Telling) -> float:
        """From the slip to the harm, each act as long as likely [s]."""
        total, begun = 0.0, False
        for moment in telling.moments:
            right = self.nominal[moment.position + (not moment.failure)]
            if begun:
                total += moment.seconds
            begun = begun or moment.state != right
        return total

    def catchers(self, number: int) -> tuple[Catch, ...]:
        """The looks that would have caught a slip: the earliest, then those that catch most."""
        able = [(look, caught) for look, caught in self.caught if number in caught]
        able.sort(key=lambda pair: (pair[0].position, -len(pair[1]), pair[0].seconds, pair[0].name))
        chosen = {look.sign: (look, caught) for look, caught in reversed(able)}
        first = sorted(chosen.values(), key=lambda pair: (pair[0].position, -len(pair[1])))
        return tuple(
            in_words(self.listed.ground, self.procedure, look, len(caught))
            for look, caught in first[:MOST_CATCHES]
        )

    def way(self, deviation: Deviation) -> Way:
        """A slip as the arithmetic of human error takes it."""
        name = ""
        if deviation.kind is SlipKind.FAILURE:
            name = self.procedure.failures[deviation.argument].name
        if deviation.kind is SlipKind.OTHER:
            name = self.procedure.steps[deviation.position].others[deviation.argument].name
        return Way((Slip(RISK_KINDS[deviation.kind], deviation.position, name),))

    def risk(self, deviation: Deviation) -> Estimate | None:
        """How often; None for a breakdown, which carries no published probability."""
        return judged(self.way(deviation), self.procedure).estimate

    @property
    def total_risk(self) -> Estimate | None:
        """Of all harmful slips of people together; None when there are none."""
        ways = [
            self.way(each.deviation)
            for each in self.harmful
            if each.deviation.kind is not SlipKind.FAILURE
        ]
        return overall(ways, self.procedure).slips if ways else None

    def advised(self) -> tuple[Advised, ...]:
        """The best sets of checks, each examined again before it is offered."""
        if not self.harmful:
            return ()
        made = []
        for chosen, caught in best_sets(self.caught, len(self.harmful)):
            left = self.harm_with(chosen)
            told_looks = tuple(
                in_words(
                    self.listed.ground,
                    self.procedure,
                    look,
                    len(next(c for other, c in self.caught if other is look)),
                )
                for look in chosen
            )
            seconds = sum(look.seconds for look in chosen)
            kept = left is not None and left <= len(self.harmful) - len(caught)
            remaining = len(self.harmful) - len(caught) if left is None else left
            made.append(
                Advised(told_looks, len(self.harmful) - remaining, remaining, seconds, kept)
            )
        return tuple(made)

    def harm_with(self, chosen: tuple[Look, ...]) -> int | None:
        """How many single slips do harm with checks put in, slips on those checks included.

        None when the procedure with them in does not run.
        """
        changed = with_looks(self.procedure, self.listed.ground, chosen)
        try:
            found = all_singles(changed)
        except NotRunningError:
            return None
        return sum(each.outcome is Outcome.HARM for each in found)

    @cached_property
    def critical(self) -> dict[int, str]:
        """Steps of which some slip does harm when nobody checks anything, and the rule."""
        unchecked = replace(
            self.procedure,
            steps=tuple(s for s in self.procedure.steps if s.kind is not StepKind.CHECK),
        )
        rules: dict[int, str] = {}
        try:
            found = all_singles(unchecked)
        except NotRunningError:
            return rules
        for each in found:
            if each.outcome is Outcome.HARM and each.deviation.kind is not SlipKind.FAILURE:
                assert each.rule is not None
                number = unchecked.steps[_wrongly_done(each.deviation, unchecked)].number
                rules.setdefault(number, self.rules[each.rule].partition(" of ")[0])
        return rules


def _wrongly_done(deviation: Deviation, procedure: Procedure) -> int:
    """Position of the step that is done wrongly: of an early one its own place."""
    if deviation.kind is SlipKind.EARLY:
        return early_targets(procedure)[deviation.position][deviation.argument]
    return deviation.position


def _sentence(words: str) -> str:
    text = words.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}."
