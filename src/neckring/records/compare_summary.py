"""Several plans on a terminal: as many columns as fit, the rest under them."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from neckring.outing.findings import Plan
from neckring.records.comparison import Row, cautions_of, compared
from neckring.records.plan_summary import MOST_COLUMNS, fit_for_terminal
from neckring.records.presentation import GAP, plain_ascii

QUESTION_WIDTH, NARROWEST = 17, 18  # columns
MOST_ROWS = 6  # of one answer
Say = Callable[[str], str]


def print_comparison(
    plans: Sequence[tuple[str, Plan]], console: Console, report: Path | str | None = None
) -> None:
    """Print several plans beside each other, at most 80 columns wide.

    When the console is no terminal, the text is plain ASCII.

    Args:
        plans: Name and plan, in the order of the columns; at least one.
        console: Where to print.
        report: Path of the written page, named in the last line.
    """
    say = fit_for_terminal if console.is_terminal else plain_ascii
    width = min(console.width, MOST_COLUMNS)
    most = max(1, (width - QUESTION_WIDTH) // NARROWEST)
    at_once = math.ceil(len(plans) / math.ceil(len(plans) / most))
    for begin in range(0, len(plans), at_once):
        part = plans[begin : begin + at_once]
        for text, style in _block(part, width, say):
            console.print(Text(text, style=style), soft_wrap=True)
    for text in _foot(plans, width, say, report):
        console.print(Text(text), soft_wrap=True)


def _block(part: Sequence[tuple[str, Plan]], width: int, say: Say) -> list[tuple[str, str]]:
    """Set a few plans beside each other, an empty line under them."""
    column = (width - QUESTION_WIDTH) // len(part)
    heads = Row("", tuple(name for name, _ in part))
    lines = [(text, "bold") for text in _lines(heads, column, say)]
    for row in compared(part):
        style = "bold" if row.question == "verdict" else ""
        lines += [(text, style) for text in _lines(row, column, say)]
    return [*lines, ("", "")]


def _lines(row: Row, column: int, say: Say) -> list[str]:
    """Wrap one row's cells and set them beside each other."""
    cells = [_wrapped(row.question, QUESTION_WIDTH - 1, say)]
    cells += [_wrapped(answer, column - 1, say) for answer in row.answers]
    widths = [QUESTION_WIDTH, *[column] * len(row.answers)]
    lines = []
    for at in range(max(map(len, cells))):
        texts = [cell[at] if at < len(cell) else "" for cell in cells]
        lines.append("".join(t.ljust(w) for t, w in zip(texts, widths, strict=True)).rstrip())
    return lines


def _wrapped(text: str, width: int, say: Say, most: int = MOST_ROWS) -> list[str]:
    """Wrap a text; a space that must not break stays one until the lines are made."""
    said = GAP.join(say(part) for part in text.split(GAP))
    lines = textwrap.wrap(
        said, width, max_lines=most, placeholder=" ...", break_on_hyphens=False
    )  # fmt: skip
    return [line.replace(GAP, " ") for line in lines]


def _foot(
    plans: Sequence[tuple[str, Plan]], width: int, say: Say, report: Path | str | None
) -> list[str]:
    lines = ["Invented data."] if any(plan.invented for _, plan in plans) else []
    lines += _wrapped(" ".join(cautions_of(plans)[:3]), width, say)
    return lines if report is None else [*lines, f"report {report}"]
