"""The worst slack of several plans over time, beyond the reserve: one named line for each plan."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from neckring.outing.findings import FloatArray, Plan
from neckring.records.comparison import Named
from neckring.records.outlook_words import more_than, span_words, worst_over_time
from neckring.records.picture_sheet import (
    GRID,
    LEFT_EDGE,
    Label,
    Strip,
    drawing_style,
    new_sheet,
    write_heading,
    write_labels,
)
from neckring.records.picture_svg import Drawing, drawing_of
from neckring.records.pictures import BLUE, DASHED, GREEN, INK, VERMILLION, Dashes
from neckring.records.slack_bands import stretches_of

TITLE = "Worst slack beyond the reserve, over all failures"
HEIGHT, LABEL_LETTERS, LABEL_LINES = 210.0, 26, 2
LEVELS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 240.0)  # min
PURPLE = "#8a3a78"
COLOURS = (BLUE, VERMILLION, INK, GREEN, PURPLE)
DARK = {BLUE: "#005a8f", VERMILLION: "#9c4400", GREEN: "#00694d"}
LINE_STYLES: tuple[Dashes, ...] = (
    "solid", DASHED, (0, (1.2, 1.2)), (0, (7, 1.5, 1.2, 1.5)), (0, (9, 3)),
    (0, (4, 1.5, 1.2, 1.5, 1.2, 1.5)), (0, (2.5, 2.5)),
)  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One plan's worst slack over time.

    Attributes:
        name: Of the plan.
        minutes: Rising.
        slack: Beyond the reserve [min]; infinite where more than is computed.
    """

    name: str
    minutes: FloatArray
    slack: FloatArray


def draw_worst_slack(plans: Sequence[Named]) -> Drawing | None:
    """Draw each plan's least slack beyond its reserve at each instant.

    Args:
        plans: Name and plan.

    Returns:
        The drawing; None when no plan looks ahead or none has a slack that is computed.
    """
    lines = [line for line in (_line(*named) for named in plans) if line is not None]
    if not lines or not any(np.isfinite(line.slack).any() for line in lines):
        return None
    longest = max((plan for _, plan in plans), key=lambda plan: plan.duration)
    with drawing_style():
        return _draw(longest, lines)


def _line(name: str, plan: Plan) -> Line | None:
    if plan.outlook is None:
        return None
    instants, slack = worst_over_time(plan.outlook)
    return Line(name, instants / 60, slack / 60) if len(instants) else None


def _draw(longest: Plan, lines: Sequence[Line]) -> Drawing:
    figure, (strip,) = new_sheet(longest, [HEIGHT], 0.0, with_clock=False)
    strip.axes.set_ylim(*_range(lines))
    write_heading(strip, _heading(lines))
    _draw_scale(strip)
    strip.write("the reserve", LEFT_EDGE + 3, strip.up(0) + 3, fontweight="bold")
    labels = [_draw_line(strip, line, at) for at, line in enumerate(lines)]
    write_labels(strip, labels)
    return drawing_of(figure, "worst-slack", TITLE, " ".join(map(describe, lines)))


def stretched(minutes: FloatArray | float) -> FloatArray:
    """Stretch a scale near nothing, so that seconds and tens of minutes can both be read."""
    return np.sign(minutes) * np.sqrt(np.abs(minutes))


def _range(lines: Sequence[Line]) -> tuple[float, float]:
    """Hold every finite slack and the reserve, with some room, on the stretched scale."""
    seen = np.concatenate([[0.0], *(line.slack[np.isfinite(line.slack)] for line in lines)])
    low, high = float(stretched(seen).min()), float(stretched(seen).max())
    room = 0.06 * (high - low) or 1.0
    return low - room, high + room


def _draw_scale(strip: Strip) -> None:
    """Draw grid lines at whole minutes that stand far enough apart, and write them at the left."""
    low, high = strip.axes.get_ylim()
    end = strip.plan.duration / 60
    last = {1: 0.0, -1: 0.0}  # up from the reserve and down from it, where the last line stands
    levels = [0.0]
    for side, minutes in product((1, -1), LEVELS):
        at = float(stretched(side * minutes))
        if low < at < high and abs(at - last[side]) * strip.height / (high - low) > 13:
            levels.append(side * minutes)
            last[side] = at
    for level in levels:
        at = float(stretched(level))
        width, colour = (1.2, INK) if level == 0 else (0.5, GRID)
        strip.axes.plot([0, end], [at, at], color=colour, linewidth=width, clip_on=False, zorder=1)
        text = f"{level:g}".replace("-", "\N{MINUS SIGN}")
        strip.write(text, LEFT_EDGE - 4, strip.up(at), ha="right", va="center_baseline")


def _heading(lines: Sequence[Line]) -> str:
    """Say what is drawn, and what the upper edge means when a line runs along it."""
    heading = "Worst slack beyond the reserve, min; stretched near 0"
    if not any(np.isposinf(line.slack).any() for line in lines):
        return heading
    high = max(float(line.slack[np.isfinite(line.slack)].max(initial=-np.inf)) for line in lines)
    return f"{heading} ({more_than(60 * high)}: upper edge)"


def _draw_line(strip: Strip, line: Line, at: int) -> Label:
    """Draw one plan, and from its worst minute a thin line of the same look to its name."""
    colour, dashes = COLOURS[at % len(COLOURS)], LINE_STYLES[at % len(LINE_STYLES)]
    shown = np.clip(stretched(line.slack), *strip.axes.get_ylim())
    for part in stretches_of(60 * line.minutes):
        strip.axes.plot(
            line.minutes[part], shown[part], color=colour, linewidth=1.8, linestyle=dashes,
            clip_on=False, zorder=4,
        )  # fmt: skip
    worst = int(np.argmin(line.slack))
    least, end = float(shown[worst]), strip.plan.duration / 60
    strip.axes.plot(
        [line.minutes[worst], end], [least, least], color=colour, linewidth=0.7, linestyle=dashes,
        clip_on=False, scalex=False, scaley=False, zorder=2,
    )  # fmt: skip
    strip.axes.plot(
        line.minutes[worst], least, "o", color=colour, markersize=5, clip_on=False,
        markeredgecolor="white", markeredgewidth=0.8, zorder=6,
    )  # fmt: skip
    names = textwrap.wrap(
        line.name, LABEL_LETTERS, max_lines=LABEL_LINES, placeholder=" ...", break_on_hyphens=False
    )
    text = "\n".join([*names, _least_words(line)])
    return Label(text, least, DARK.get(colour, colour), bold=True)


def _least_words(line: Line) -> str:
    worst = int(np.argmin(line.slack))
    least, when = float(line.slack[worst]), f"at {line.minutes[worst]:.0f}\u00a0min"
    if np.isposinf(least):
        return "more than is computed"
    return f"no help comes {when}" if np.isneginf(least) else f"{span_words(60 * least)} {when}"


def describe(line: Line) -> str:
    """Tell one line in words, for people who cannot see it."""
    return f"{line.name}: least slack beyond the reserve {_least_words(line)}."
