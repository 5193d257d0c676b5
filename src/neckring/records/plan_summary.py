"""The plan on a terminal: the verdict first, then what it rests on, within one screen."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.text import Text

from neckring.outing.findings import LimitFinding, Plan, Verdict
from neckring.records import outlook_words, reading
from neckring.records.presentation import (
    GAP,
    MASS,
    MASS_FINE,
    PRESSURE,
    SHARE,
    SHIFT,
    litres_of_water,
    plain_ascii,
    presentation_of,
)

MOST_COLUMNS, MOST_LINES = 80, 45
FEWEST_LIMITS = 3
VERDICT_STYLES: dict[Verdict, str] = {
    "go": "bold green",
    "shorten": "bold yellow",
    "no-go": "bold red",
}
HEADINGS = ("quantity", "limit", "worst", "reached", "action")
Line = tuple[str, str]  # a line of text and the style it has on a terminal that can show one


def print_summary(plan: Plan, console: Console, report: Path | str | None = None) -> None:
    """Print a plan's summary: at most 80 columns and 45 lines, words before colours.

    When the console is no terminal, the text is plain ASCII.

    Args:
        plan: The computed run.
        console: Where to print.
        report: Path of the written page, named in the last line.
    """
    say = fit_for_terminal if console.is_terminal else plain_ascii
    summary = Summary(plan, min(console.width, MOST_COLUMNS), say)
    for text, style in summary.lines(report):
        console.print(Text(text, style=style), soft_wrap=True)


def fit_for_terminal(text: str) -> str:
    """Keep what a terminal shows as letters, so that no text of a station can steer it."""
    return "".join(c if c.isprintable() else " " for c in text)


@dataclass(frozen=True)
class Summary:
    """Composes the lines of a summary.

    Attributes:
        plan: The computed run.
        width: Columns at hand.
        say: Turns a text into what the console can show; applied before anything is measured.
    """

    plan: Plan
    width: int
    say: Callable[[str], str]

    def lines(self, report: Path | str | None = None) -> list[Line]:
        """Compose the summary; the limits table gives way when room is short.

        Args:
            report: Path of the written page.

        Returns:
            At most 45 lines with their styles.
        """
        above, below = self._head(), [*self._stores_and_advice(), *self._foot(report)]
        room = MOST_LINES - len(above) - len(below) - 3  # heading, the rest's line, an empty one
        return [*above, *self._limits_table(max(FEWEST_LIMITS, room)), *below]

    def _head(self) -> list[Line]:
        plan = self.plan
        invented = " (invented data)" if plan.invented else ""
        who = f"{plan.title}: run {plan.run}, wearer {plan.wearer} in {plan.suit}, {plan.station}"
        return [
            (reading.VERDICT_WORDS[plan.verdict], VERDICT_STYLES[plan.verdict]),
            *self._wrapped(plan.sentence, self.width, most=3, style="bold"),
            *self._wrapped(reading.binding_sentence(plan), self.width, most=2),
            *self._wrapped(reading.longest_sentence(plan), self.width, most=1),
            *self._look_ahead(),
            *self._wrapped(f"{who}{invented}, {plan.starts:%Y-%m-%d %H:%M}", self.width, most=3),
            ("", ""),
        ]

    def _look_ahead(self) -> list[Line]:
        """Tell harm against help in three lines, when it was computed."""
        plan, outlook = self.plan, self.plan.outlook
        if outlook is None:
            return []
        lines = (
            outlook_words.worst_line(plan, outlook, self.width),
            outlook_words.turn_back_line(plan, outlook, self.width),
            outlook_words.first_step(outlook),
        )
        return [line for text in lines for line in self._wrapped(text, self.width, most=1)]

    def _limits_table(self, most: int) -> list[Line]:
        limits = reading.limits_nearest_first(self.plan)
        shown = limits if len(limits) <= most + 1 else limits[:most]
        rows = [self._limit_cells(limit) for limit in shown]
        widths = self._column_widths(rows)
        lines: list[Line] = [(_row(HEADINGS, widths), "bold")]
        for limit, row in zip(shown, rows, strict=True):
            lines.append((_row(row, widths), "bold" if limit.reached is not None else ""))
        if len(shown) < len(limits):
            lines.append((_rest_words(limits[len(shown) :]), ""))
        return [*lines, ("", "")]

    def _limit_cells(self, limit: LimitFinding) -> tuple[str, ...]:
        shown = presentation_of(limit.quantity)
        cells = (
            shown.label,
            reading.limit_words(limit),
            shown.figure(limit.worst),
            reading.reached_words(self.plan, limit),
            limit.action,
        )
        return tuple(map(self.say, cells))

    def _column_widths(self, rows: list[tuple[str, ...]]) -> list[int]:
        """Give each column what it needs; the first two give way when that is too much."""
        columns = zip(HEADINGS, *rows, strict=True)
        widths = [max(len(cell) for cell in column) for column in columns]
        for column, least in ((0, 16), (1, 10)):
            excess = sum(widths) + 2 * (len(widths) - 1) - self.width
            widths[column] = max(min(least, widths[column]), widths[column] - max(0, excess))
        return widths

    def _stores_and_advice(self) -> list[Line]:
        stores = "; ".join(f"{name} {words}" for name, words in reading.remaining_lines(self.plan))
        advice, load = self.plan.advice, self.plan.load
        drink = (
            f"{litres_of_water(advice.drink_before)} before dressing, "
            f"{litres_of_water(advice.drink_after)} after; water lost "
            f"{MASS_FINE.text(advice.body_water_loss)}; weigh nude before and after, expect "
            f"{MASS_FINE.text(advice.expected_mass_change)} when nothing is drunk"
        )
        carried = (
            f"{MASS.text(load.carried_mass)}, {SHARE.text(load.fraction)} of body mass; centre of "
            f"gravity {SHIFT.text(load.centre_of_gravity_shift)} back; under a strap "
            f"{PRESSURE.figure(load.strap_pressure_low)} to "
            f"{PRESSURE.text(load.strap_pressure_high)}. {load.remark}"
        )
        return [
            *self._entry("left at end", stores, most=3),
            *self._entry("drink", drink, most=3),
            *self._entry("load", carried, most=4),
        ]

    def _foot(self, report: Path | str | None) -> list[Line]:
        left = self.plan.residuals
        residuals = {"energy": left.energy, "water": left.water, "CO2": left.co2, "O2": left.o2}
        closed = all(map(reading.closes, residuals.values()))
        state = "all close" if closed else "DO NOT CLOSE, do not use this plan"
        figures = ", ".join(f"{name} {abs(value):.0e}" for name, value in residuals.items())
        lines = self._entry("balances", f"{state} ({figures})", most=2)
        lines += self._entry("cautions", " ".join(self.plan.cautions[:3]), most=5)
        return lines if report is None else [*lines, (f"{'report':<12} {report}", "")]

    def _entry(self, name: str, text: str, most: int) -> list[Line]:
        """Set a name at the left and its text, wrapped, beside it."""
        lines = self._wrapped(text, self.width - 13, most)
        names = [name, *[""] * (len(lines) - 1)]
        return [(f"{at:<12} {line}", style) for at, (line, style) in zip(names, lines, strict=True)]

    def _wrapped(self, text: str, width: int, most: int, style: str = "") -> list[Line]:
        """Wrap a text into so many lines at most; one that is cut ends in three dots.

        A space that must not break stays one until the lines are made.
        """
        said = GAP.join(self.say(part) for part in text.split(GAP))
        lines = textwrap.wrap(
            said, max(20, width), max_lines=most, placeholder=" ...", break_on_hyphens=False
        )
        return [(line.replace(GAP, " "), style) for line in lines]


def _rest_words(rest: list[LimitFinding]) -> str:
    crossed = sum(limit.reached is not None for limit in rest)
    state = f"{crossed} of them crossed" if crossed else "none crossed"
    return f"and {len(rest)} more limits, {state}: see the report"


def _row(cells: Sequence[str], widths: list[int]) -> str:
    """Set cells beside each other; the third one holds figures and stands to the right."""
    placed = [
        cell[:width].rjust(width) if column == 2 else cell[:width].ljust(width)
        for column, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return "  ".join(placed).rstrip()
