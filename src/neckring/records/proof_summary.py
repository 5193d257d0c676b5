"""An examined procedure on a terminal: the verdict first, within half a screen."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.text import Text

from neckring.procedure.authoring import Path as Keys
from neckring.procedure.examination import (
    Advised,
    Claim,
    Examination,
    Outcome,
    SlipCounts,
    SlipStory,
)
from neckring.procedure.findings import Verdict
from neckring.procedure.way_out import Company, Goal, WayOut
from neckring.records import proof_words
from neckring.records.plan_summary import MOST_COLUMNS, Line, fit_for_terminal
from neckring.records.presentation import GAP, plain_ascii

MOST_LINES = 25
GIVING_WAY = ((2, 6), (2, 3), (1, 6), (1, 3), (1, 1))
"""Lines of an entry and claims shown, until all fits."""

WORST_STORIES = 3
NAME = 13
MATTER = (Outcome.HARM, Outcome.LATENT, Outcome.CAUGHT)
COMPANY = {Company.ALONE: "alone", Company.PARTNER: "partner", Company.TENDER: "tender"}
VERDICT_STYLES = {
    Verdict.PROVED: "bold green",
    Verdict.BROKEN: "bold red",
    Verdict.NOT_DECIDED: "bold yellow",
}
Say = Callable[[str], str]
Place = Callable[[Keys, bool], str]


def print_summary(
    examination: Examination,
    console: Console,
    report: Path | str | None = None,
    invented: bool = False,
) -> None:
    """Print the summary of an examination: at most 80 columns and 25 lines.

    When the console is no terminal, the text is plain ASCII.

    Args:
        examination: All that is known of the procedure.
        console: Where to print.
        report: Path of the written page, named in the last line.
        invented: Whether the station's data are made up.
    """
    say = fit_for_terminal if console.is_terminal else plain_ascii
    width = min(console.width, MOST_COLUMNS)
    for text in summary(examination, width, report, invented, say):
        console.print(text, soft_wrap=True)


def summary(
    examination: Examination,
    width: int,
    report: Path | str | None = None,
    invented: bool = False,
    say: Say = fit_for_terminal,
) -> list[Text]:
    """Compose the summary of an examination, words before colours.

    Args:
        examination: All that is known of the procedure.
        width: Columns at hand.
        report: Path of the written page.
        invented: Whether the station's data are made up.
        say: Turns a text into what the console can show; applied before anything is measured.

    Returns:
        At most 25 lines.
    """
    told = ProofSummary(examination, max(40, width), say, invented)
    tries = (told.lines(report, most, claims) for most, claims in GIVING_WAY)
    lines = min(tries, key=lambda lines: max(0, len(lines) - MOST_LINES))
    return [Text(text, style=style) for text, style in lines]


@dataclass(frozen=True)
class ProofSummary:
    """Composes the lines.

    Attributes:
        examination: All that is known of the procedure.
        width: Columns at hand.
        say: Turns a text into what the console can show.
        invented: Whether the station's data are made up.
    """

    examination: Examination
    width: int
    say: Say
    invented: bool

    def lines(self, report: Path | str | None, most: int, claims: int) -> list[Line]:
        """All lines.

        Args:
            report: Path of the written page.
            most: Lines of one slip or one set of checks, at most.
            claims: Claims shown, at most.
        """
        lines = [*self._head(), *self._claims(claims), *self._slips(), *self._worst(most)]
        lines += [*self._advice(most), *self._ways()]
        lines += self._entry("caution", proof_words.OF_THE_MODEL, 2)
        return lines if report is None else [*lines, (f"{'report':<{NAME}}{report}", "")]

    def _head(self) -> list[Line]:
        found, sheet = self.examination, self.examination.listed.sheet
        data = " (invented data)" if self.invented else ""
        wearers = proof_words.counted(sheet.wearers, "wearer")
        who = f"Procedure {sheet.code}{data}: {sheet.title}, kit {sheet.kit}, {wearers}"
        return [
            (proof_words.VERDICT_WORDS[found.verdict], VERDICT_STYLES[found.verdict]),
            *self._wrapped(found.sentence, self.width, 2, "bold"),
            *self._wrapped(who, self.width, 1),
            ("", ""),
        ]

    def _claims(self, most: int) -> list[Line]:
        claims = sorted(self.examination.claims, key=lambda one: one.verdict is Verdict.PROVED)
        shown = claims if len(claims) <= most else claims[: most - 1]
        lines = [line for claim in shown for line in self._claim(claim)]
        if len(shown) < len(claims):
            rest = claims[len(shown) :]
            proved = sum(claim.verdict is Verdict.PROVED for claim in rest)
            words = f"{proved} proved, {len(rest) - proved} not: see the report"
            lines += self._entry(f"{len(rest)} more", words, 1)
        return lines

    def _claim(self, claim: Claim) -> list[Line]:
        if claim.verdict is Verdict.PROVED:
            return self._entry(claim.verdict.value, claim.question, 1)
        return self._entry(claim.verdict.value, f"{claim.question} {claim.words}", 2, "bold")

    def _slips(self) -> list[Line]:
        found = self.examination
        lines = self._entry("slips", counts_words(found.singles, "single slip"), 1)
        if found.pairs is not None:
            lines += self._entry("", counts_words(found.pairs, "pair"), 1)
        if found.breakdown_pairs is not None:
            kinds = ("slip with a breakdown", "slips, each with a breakdown")
            words = counts_words(found.breakdown_pairs, *kinds)
            lines += self._entry("", words, 1)
        signed = sum(1 for story in found.stories if story.accepted)
        if signed:
            words = f"{proof_words.counted(signed, 'slip is', 'slips are')} accepted and signed"
            lines += self._entry("", words, 1)
        return lines

    def _worst(self, most: int) -> list[Line]:
        stories = [story for story in self.examination.stories if not story.accepted]
        lines: list[Line] = []
        for place, story in enumerate(stories[:WORST_STORIES]):
            name = "worst slips" if place == 0 else ""
            words = story_words(story)
            broken = proof_words.rule_of(self.examination.listed, story.rule)
            lines += self._entry(name, f"{words}. {broken[1].words}" if broken else words, most)
        return lines

    def _advice(self, most: int) -> list[Line]:
        best = best_advice(self.examination)
        if best is None:
            return []
        checks = "; ".join(proof_words.catch_words(check) for check in best.checks)
        again = "confirmed" if best.proved else "not confirmed"
        slips = f"{best.caught} of {best.caught + best.left} harmful slips"
        words = f"{slips} for {proof_words.no_shorter(best.seconds)} ({again}): {checks}"
        return self._entry("add checks", f"catch {words}", most + 1)

    def _ways(self) -> list[Line]:
        lines: list[Line] = []
        for goal in Goal:
            ways = [way for way in self.examination.ways if way.goal is goal]
            if ways:
                words = "; ".join(f"{COMPANY[way.company]} {way_words(way)}" for way in ways)
                name = "" if lines else "out within"
                lines += self._entry(name, f"{goal.value}: {words}", 2)
        return lines

    def _entry(self, name: str, text: str, most: int, style: str = "") -> list[Line]:
        """Set a name at the left and its text, wrapped, beside it."""
        lines = self._wrapped(text, self.width - NAME, most)
        names = [name, *[""] * (len(lines) - 1)]
        return [(f"{at:<{NAME}}{line}", style) for at, (line, _) in zip(names, lines, strict=True)]

    def _wrapped(self, text: str, width: int, most: int, style: str = "") -> list[Line]:
        """Wrap a text into so many lines at most; one that is cut ends in three dots."""
        said = GAP.join(self.say(part) for part in text.split(GAP))
        lines = textwrap.wrap(
            said, max(20, width), max_lines=most, placeholder=" ...", break_on_hyphens=False
        )
        return [(line.replace(GAP, " "), style) for line in lines]


def counts_words(counts: SlipCounts, kind: str, kinds: str = "") -> str:
    """How many sequences come to an end that matters; the rest is blocked or harmless."""
    ends = ", ".join(f"{counts.outcomes.get(outcome, 0):,} {outcome.value}" for outcome in MATTER)
    return f"{proof_words.counted(counts.total, kind, kinds)}: {ends}"


def story_words(story: SlipStory) -> str:
    """A slip in a line, with the time that is left to catch it."""
    if story.outcome is not Outcome.HARM:
        return f"stays hidden: {story.words}"
    return f"{story.harm} in {proof_words.no_longer(story.seconds)}: {story.words}"


def best_advice(examination: Examination) -> Advised | None:
    """The set of checks that catches most, of equals the one with the fewest checks."""
    return max(examination.advised, key=lambda each: (each.caught, -len(each.checks)), default=None)


def way_words(way: WayOut) -> str:
    """Within how long relief comes, or from how many states never."""
    if way.without:
        return f"NONE from {way.without:,} of {way.states:,} states"
    return proof_words.no_shorter(way.quantile(1.0))


def lines_for_an_editor(examination: Examination, place: Place) -> Iterator[str]:
    """One line for each place in a file that matters, as `file:line:column: words`.

    Args:
        examination: All that is known of the procedure.
        place: Turns keys and positions in a file, and whether it is the kit's, into its place.

    Yields:
        Slips that do harm and are not accepted, slips that stay hidden, what the author should
        look at, and the wording, in this order. Control characters are taken out.
    """
    for outcome in (Outcome.HARM, Outcome.LATENT):
        for story in proof_words.stories_of(examination, outcome):
            if not story.accepted:
                spot = place(("steps", story.step - 1), False)
                yield fit_for_terminal(f"{spot}: {outcome.value}: {story.sentence}")
    for found in examination.authoring:
        hint = f" ({found.hint})" if found.hint else ""
        yield fit_for_terminal(f"{place(found.path, found.in_kit)}: {found.words}{hint}")
    for line in examination.wording:
        spot = place(line.path, line.file == "kit")
        words = f"{line.rule.value}: {line.read}; accepted: {line.accepted}"
        yield fit_for_terminal(f"{spot}: {words}")
