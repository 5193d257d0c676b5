"""A calibration on a terminal: now, proposed with its band, what it stands on; then the change."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from rich.console import Console
from rich.text import Text

from neckring.calibration.amending import Amended
from neckring.calibration.findings import Calibration
from neckring.outing.cautions import ALWAYS
from neckring.records import calibrate_words as words
from neckring.records.plan_summary import fit_for_terminal
from neckring.records.presentation import plain_ascii

WIDEST = 100
Line = tuple[str, str]
NUMBER_HEADINGS = ("of", "number", "written", "now, with 90 % band", "proposed")
STEP_HEADINGS = ("kit", "move", "written", "median, 90 % band", "stands on", "proposed")
DRILL_HEADINGS = ("suit", "help", "written", "drills", "times", "proposed")


def print_calibration(found: Calibration, amended: Amended, console: Console) -> None:
    """Print what was found and the change that is proposed; plain ASCII where no terminal is.

    Args:
        found: The calibration.
        amended: The files as they would be.
        console: Where to print.
    """
    say = fit_for_terminal if console.is_terminal else plain_ascii
    for text, style in lines(found, amended):
        console.print(Text(say(text), style=style), soft_wrap=True)


def lines(found: Calibration, amended: Amended) -> Iterator[Line]:
    """All lines with their styles."""
    invented = " (invented data)" if found.invented else ""
    yield f"{words.TITLE}: {found.station}{invented}", "bold"
    yield words.PURPOSE, ""
    for run in found.runs:
        yield from _wrapped(words.run_words(run))
        for channel, why in run.left_out.items():
            yield from _wrapped(f"left out, {channel}: {why}", "    ")
    yield from _numbers(found)
    yield from _steps(found)
    yield from _drills(found)
    yield from _change(amended)
    for caution in (*found.cautions, *ALWAYS):
        yield from _wrapped(caution)


def _numbers(found: Calibration) -> Iterator[Line]:
    if not found.corrections:
        return
    yield "", ""
    yield from table(
        NUMBER_HEADINGS,
        [
            (
                one.of,
                one.words,
                one.written or "-",
                words.band_words(one.now, one.dimension),
                words.proposal_words(one.proposed),
            )
            for one in found.corrections
        ],
    )
    for one in found.corrections:
        note = f"; {one.note}" if one.note else ""
        before = words.band_words(one.before, one.dimension)
        stands = f"{words.stands_words(one)}; before {before}"
        yield from _wrapped(f"{one.of}, {one.words}: {stands}{note}")


def _steps(found: Calibration) -> Iterator[Line]:
    told = [one for one in found.steps if one.likely is not None]
    few = [one for one in found.steps if one.likely is None]
    if told:
        yield "", ""
        yield from table(
            STEP_HEADINGS,
            [
                (
                    one.kit,
                    one.move,
                    one.written,
                    words.step_band_words(one),
                    words.step_stands_words(one),
                    words.proposal_words(one.proposed),
                )
                for one in told
            ],
        )
    for note in dict.fromkeys(one.note for one in told):
        moves = ", ".join(one.move for one in told if one.note == note)
        yield from _wrapped(f"{note}: {moves}")
    if few:
        yield from _wrapped(f"too few times for a proposal: {', '.join(one.move for one in few)}")
    for why, count in _left_out(found):
        yield from _wrapped(f"step times left out: {count} as {why}")


def _left_out(found: Calibration) -> Iterable[tuple[str, int]]:
    total: dict[str, int] = {}
    for one in found.steps:
        for why, count in one.left_out.items():
            total[why] = total.get(why, 0) + count
    return sorted(total.items())


def _drills(found: Calibration) -> Iterator[Line]:
    if not found.drills:
        return
    yield "", ""
    yield from table(
        DRILL_HEADINGS,
        [
            (
                one.suit,
                one.key,
                one.written or "assumed",
                str(one.number),
                words.drill_words(one),
                words.proposal_words(one.proposed),
            )
            for one in found.drills
        ],
    )
    for one in found.drills:
        yield from _wrapped(f"{one.suit}, {one.key}: {one.note}")


def _change(amended: Amended) -> Iterator[Line]:
    yield "", ""
    for why in amended.refused:
        yield from _wrapped(f"not in the change: {why}")
    if not amended.texts:
        yield "No change is proposed.", "bold"
        return
    yield "The change that is proposed:", "bold"
    for line in amended.diff.splitlines():
        yield line, ""
    yield "", ""


def table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[Line]:
    """Columns as wide as what stands in them."""
    columns = list(zip(headings, *rows, strict=True))
    widths = [max(len(cell) for cell in column) for column in columns]
    for number, row in enumerate((headings, *rows)):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip(), "" if number else "bold"


def _wrapped(text: str, indent: str = "") -> Iterator[Line]:
    for line in textwrap.wrap(text, WIDEST, initial_indent=indent, subsequent_indent=f"{indent}  "):
        yield line, ""
