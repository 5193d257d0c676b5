"""A fit on a terminal, at most 80 columns wide."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from pathlib import Path

from rich.console import Console
from rich.text import Text

from neckring.fitting.findings import SuitFit, WearerFit
from neckring.records import fit_words as words
from neckring.records.plan_summary import MOST_COLUMNS, fit_for_terminal
from neckring.records.presentation import plain_ascii

PLACE_WIDTH, LEFT_WIDTH, WANTED_WIDTH = 32, 22, 16
Say = Callable[[str], str]
Line = tuple[str, str]


def print_fit(found: WearerFit, console: Console, report: Path | str | None = None) -> None:
    """Print a fit; the best suit first and in full, the others in a line each.

    When the console is no terminal, the text is plain ASCII.

    Args:
        found: The fit.
        console: Where to print.
        report: Path of the written page, named in the last line.
    """
    say = fit_for_terminal if console.is_terminal else plain_ascii
    width = min(console.width, MOST_COLUMNS)
    for text, style in _lines(found, report):
        for line in _wrapped(say(text), width):
            console.print(Text(line, style=style), soft_wrap=True)


def _lines(found: WearerFit, report: Path | str | None) -> Iterator[Line]:
    invented = " (invented data)" if found.invented else ""
    yield f"{found.station}: fit of {found.wearer}{invented}", "bold"
    for unlikely in found.unlikely:
        yield f"CHECK {words.unlikely_words(unlikely)}", "bold"
    for place, one in enumerate(found.suits, 1):
        yield f"{place}. {one.suit}: {one.outcome.upper()} - {one.because}", "bold"
    for code in found.undescribed:
        yield f"-  {code}: its file has no fit, so nothing can be said", ""
    if found.suits:
        yield from _in_full(found, found.suits[0])
    yield "", ""
    yield words.CAUTIONS[0], ""
    if report is not None:
        yield f"report {report}", ""


def _in_full(found: WearerFit, one: SuitFit) -> Iterator[Line]:
    yield "", ""
    head = "left over [mm]".ljust(LEFT_WIDTH) + "wanted [mm]".ljust(WANTED_WIDTH)
    yield f"{one.suit}".ljust(PLACE_WIDTH) + head + "verdict", "bold"
    for each in one.clearances:
        left = words.clearance_words(each).removesuffix(" mm").ljust(LEFT_WIDTH)
        wanted = words.wanted_words(each).replace(" mm", "").ljust(WANTED_WIDTH)
        estimated = "" if each.measure.status == "measured" else " *"
        yield (
            (words.place_words(each) + estimated).ljust(PLACE_WIDTH)
            + left
            + wanted
            + (words.VERDICT_MARKS[each.verdict]),
            ("" if each.verdict == "fits" else "bold"),
        )
    if any(each.measure.status == "estimated" for each in one.clearances):
        yield "* not measured: estimated from stature and mass", ""
    yield (
        "begin with: "
        + "; ".join(f"{each.words} {words.setting_words(each)}" for each in one.settings),
        "",
    )
    if one.kept:
        yield words.kept_words(one.kept), ""
    yield words.load_sentences(one.burden)[0], ""
    for share in found.accepted[one.suit]:
        yield words.accepted_words(share), ""
    if not found.accepted[one.suit]:
        yield words.NOT_COUNTED, ""


def _wrapped(text: str, width: int) -> list[str]:
    if len(text) <= width:
        return [text]
    return textwrap.wrap(text, width, subsequent_indent="   ", break_on_hyphens=False)
