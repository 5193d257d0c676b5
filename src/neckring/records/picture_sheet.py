"""The sheet a picture of a run is drawn on: strips over one time axis, and text beside them.

Every sheet has the same left and right edge, so that one minute stands at the same place in all
pictures of a page. Texts stand at places given in points, and the axes are matplotlib's without
its ticks: that halves the time to draw, and leaves nothing to be cut off.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from neckring.outing.findings import Plan
from neckring.records.pictures import INK
from neckring.records.reading import clock

PALE_INK, BAND, GRID = "#555555", "#f0f1f3", "#d4d6da"
STYLE: dict[Any, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "neckring",
    "text.parse_math": False,
    "path.simplify": True,
    "path.simplify_threshold": 0.2,
    "font.family": "DejaVu Sans",
    "font.size": 7.5,
}
SHEET_WIDTH, LEFT_EDGE, RIGHT_EDGE = 532.0, 59.0, 136.0  # points
STRIP_WIDTH = SHEET_WIDTH - LEFT_EDGE - RIGHT_EDGE
HEAD, FOOT = 23.0, 25.0  # points above the first strip and under the last
LINE_PITCH = 9.0  # points between two lines of text


@contextmanager
def drawing_style() -> Iterator[None]:
    """Draw in the house's style."""
    with mpl.rc_context(STYLE), warnings.catch_warnings():
        # The reader's own font draws the text, so a letter that matplotlib's lacks is no fault.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


@dataclass(frozen=True)
class Label:
    """A text to stand at the right edge, as near as possible to its value on the axis."""

    text: str
    value: float
    colour: str
    bold: bool = False


@dataclass(frozen=True)
class Strip:
    """One axis of a sheet.

    Attributes:
        plan: The run drawn.
        axes: Where curves are drawn, in minutes and in shown units.
        bottom: Height of its lower edge on the sheet [pt].
        height: Its own height [pt].
    """

    plan: Plan
    axes: Axes
    bottom: float
    height: float

    def across(self, minutes: float) -> float:
        """Find where a time stands on the sheet, from its left edge [pt]."""
        return LEFT_EDGE + minutes * 60 / self.plan.duration * STRIP_WIDTH

    def width_of(self, seconds: float) -> float:
        """Find how wide a length of time is drawn [pt]."""
        return seconds / self.plan.duration * STRIP_WIDTH

    def up(self, value: float) -> float:
        """Find where a value stands on the sheet, from its lower edge [pt]."""
        low, high = self.axes.get_ylim()
        return self.bottom + (value - low) / (high - low) * self.height

    def write(self, text: str, across: float, up: float, **look: str | float) -> None:
        """Write a text at a place of the sheet [pt]; `look` as matplotlib's Text takes it."""
        figure = self.axes.get_figure(root=True)
        assert figure is not None  # a strip is made on a sheet and stays there
        printable = "".join(c if c.isprintable() or c == "\u00a0" else " " for c in text)
        appearance: dict[str, Any] = {"color": INK, "fontsize": 7.5} | look
        where = figure.dpi_scale_trans
        figure.text(across / 72, up / 72, printable, transform=where, **appearance)


def new_sheet(
    plan: Plan, heights: list[float], gap: float, with_clock: bool = True
) -> tuple[Figure, list[Strip]]:
    """Make a sheet with strips under each other, and the time under the last of them.

    Args:
        plan: The run.
        heights: Heights of the strips from top to bottom [pt].
        gap: Room between two strips [pt].
        with_clock: Whether the clock time stands under the minutes.

    Returns:
        The figure and its strips.
    """
    total = HEAD + sum(heights) + gap * (len(heights) - 1) + FOOT
    figure = Figure(figsize=(SHEET_WIDTH / 72, total / 72), frameon=False)
    strips, top = [], total - HEAD
    for height in heights:
        box = (LEFT_EDGE, top - height, STRIP_WIDTH, height)
        scale = (SHEET_WIDTH, total, SHEET_WIDTH, total)
        axes = figure.add_axes(tuple(side / whole for side, whole in zip(box, scale, strict=True)))  # type: ignore[arg-type]
        axes.set_axis_off()
        axes.set_xlim(0, plan.duration / 60)
        strips.append(Strip(plan, axes, top - height, height))
        top -= height + gap
    _write_time(strips[-1], with_clock)
    return figure, strips


def _write_time(strip: Strip, with_clock: bool) -> None:
    """Write minutes from first dressing, and the clock time under them."""
    minutes = strip.plan.duration / 60
    pitches = (1, 2, 5, 10, 15, 20, 30, 60, 120, 240, 480)
    pitch = next((pitch for pitch in pitches if minutes / pitch <= 10), 1440)
    for tick in np.arange(0, minutes + 1e-6, pitch):
        at = strip.across(tick)
        strip.write(f"{tick:.0f}", at, strip.bottom - 11, ha="center")
        if with_clock:
            told = clock(strip.plan, 60 * tick)
            strip.write(told, at, strip.bottom - 20, ha="center", color=PALE_INK)
    for word, below in (("minutes", 11), ("clock", 20))[: 1 + with_clock]:
        strip.write(word, LEFT_EDGE - 20, strip.bottom - below, ha="right", color=PALE_INK)


def draw_spell_bands(strip: Strip) -> None:
    """Shade every second spell, number them all, and mark the time up to which all is well."""
    shade_spells(strip)
    number_spells(strip)
    mark_longest(strip)


def shade_spells(strip: Strip) -> None:
    """Shade every second spell."""
    low, high = strip.axes.get_ylim()
    spells = strip.plan.spells[1::2]
    bands = [(spell.begins / 60, (spell.ends - spell.begins) / 60) for spell in spells]
    strip.axes.broken_barh(
        bands, (low, high - low), color=BAND, linewidth=0, zorder=0.5, clip_on=False
    )


def number_spells(strip: Strip) -> None:
    """Write each spell's number over a strip, where there is room."""
    for number, spell in enumerate(strip.plan.spells, start=1):
        if strip.width_of(spell.ends - spell.begins) > 4.8 * len(str(number)):
            strip.write(
                str(number), strip.across((spell.begins + spell.ends) / 120),
                strip.bottom + strip.height + 2, ha="center", fontsize=6.5, color=PALE_INK,
            )  # fmt: skip


def mark_longest(strip: Strip) -> None:
    """Draw an upright line where the run first reaches a limit that ends it."""
    if strip.plan.longest < strip.plan.duration:
        strip.axes.axvline(
            strip.plan.longest / 60, color=INK, linewidth=0.8, dashes=(7, 2, 1, 2), clip_on=False
        )


def draw_scale(strip: Strip, baseline: float | None = None) -> None:
    """Draw the axis lines, the grid and the values at the left.

    Args:
        strip: Where to draw.
        baseline: When given, each value is followed by its rise over it, in brackets.
    """
    low, high = strip.axes.get_ylim()
    wanted = max(3, int(strip.height / 18))
    ticks = [
        t
        for t in MaxNLocator(wanted, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
        if low <= t <= high
    ]
    end = strip.plan.duration / 60
    strip.axes.hlines(ticks, 0, end, color=GRID, linewidth=0.5, clip_on=False, zorder=0.9)
    strip.axes.plot(
        [0, 0, end], [high, low, low], color=INK, linewidth=0.6, clip_on=False, zorder=3
    )
    decimals = _decimals(ticks)
    for tick in ticks:
        text = f"{tick:.{decimals}f}".replace("-", "−")
        text += "" if baseline is None else f" ({tick - baseline:+.1f})"
        strip.write(text, LEFT_EDGE - 4, strip.up(tick), ha="right", va="center_baseline")


def _decimals(ticks: list[float]) -> int:
    """Find how many decimals tell all ticks exactly."""
    return next((n for n in range(4) if all(abs(t - round(t, n)) < 1e-9 for t in ticks)), 4)


def write_heading(strip: Strip, heading: str) -> None:
    """Write what a strip shows over its upper left corner."""
    up = strip.bottom + strip.height + 11
    strip.write(heading, LEFT_EDGE, up, fontsize=8.5, fontweight="bold")


def write_labels(strip: Strip, labels: list[Label]) -> None:
    """Write labels at the right edge, moved apart where they would overlap."""
    ordered = sorted(labels, key=lambda label: label.value)
    wanted = [strip.up(label.value) for label in ordered]
    room = [LINE_PITCH * (1 + label.text.count("\n")) for label in ordered]
    edge = LEFT_EDGE + STRIP_WIDTH
    for label, at, placed in zip(ordered, wanted, moved_apart(wanted, room), strict=True):
        lines = label.text.split("\n")
        for row, line in enumerate(lines):
            up = placed + LINE_PITCH * ((len(lines) - 1) / 2 - row)
            weight = "bold" if label.bold else "normal"
            strip.write(
                line, edge + 11, up, va="center_baseline", color=label.colour, fontweight=weight
            )
        _draw_leader(strip, at, placed, label.colour)


def _draw_leader(strip: Strip, at: float, placed: float, colour: str) -> None:
    """Join the end of a line with its label."""
    beyond = 9 / strip.width_of(60)  # minutes that are drawn 9 points wide
    low, high = strip.axes.get_ylim()
    ends = [low + (up - strip.bottom) / strip.height * (high - low) for up in (at, placed)]
    end = strip.plan.duration / 60
    strip.axes.plot(
        [end, end + beyond],
        ends,
        color=colour,
        linewidth=0.6,
        clip_on=False,
        scalex=False,
        scaley=False,
    )


def moved_apart(wanted: list[float], room: list[float]) -> list[float]:
    """Move texts apart until none overlaps, each group about its own middle.

    Args:
        wanted: Middle of each text where it would like to stand, rising [pt].
        room: Height of each text [pt].

    Returns:
        Middle of each text [pt], in the same order; neighbours at least half of both heights apart.
    """
    steps = [(below + above) / 2 for below, above in pairwise(room)]
    offsets = np.concatenate([[0.0], np.cumsum(steps)])
    groups: list[list[float]] = []  # wishes less offsets: a group stands at the mean of its wishes
    for want, offset in zip(wanted, offsets, strict=False):
        groups.append([want - offset])
        while len(groups) > 1 and np.mean(groups[-2]) > np.mean(groups[-1]):
            last = groups.pop()
            groups[-1] += last
    starts = [float(np.mean(group)) for group in groups for _ in group]
    return [start + float(offset) for start, offset in zip(starts, offsets, strict=False)]
