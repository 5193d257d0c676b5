"""Every step's time beside what the kit gives it: range as a bar, likely time as a stroke."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from neckring.records.picture_sheet import GRID, SHEET_WIDTH, drawing_style
from neckring.records.picture_svg import Drawing, drawing_of
from neckring.records.pictures import INK, VERMILLION
from neckring.records.report_records import RunReport
from neckring.records.report_step_records import ProcedureFact, StepFact
from neckring.records.report_words import count, lasting

HEIGHT = 132.0
FLOOR = 0.5
"""Shortest time that is drawn [s]; the axis is logarithmic."""
TICKS = ((1, "1 s"), (10, "10 s"), (60, "1 min"), (600, "10 min"), (3600, "1 h"))


def draw_steps(report: RunReport) -> list[Drawing]:
    """Draw one picture for each procedure in which a step with a time was done."""
    with drawing_style():
        return [_draw(one) for one in report.procedures if timed(one)]


def timed(procedure: ProcedureFact) -> list[StepFact]:
    """Steps that were done and to which the kit gives a time."""
    return [step for step in procedure.steps if step.took is not None and step.most > 0.0]


def _draw(procedure: ProcedureFact) -> Drawing:
    figure = Figure(figsize=(SHEET_WIDTH / 72, HEIGHT / 72), frameon=False)
    axes = figure.add_axes((59 / SHEET_WIDTH, 26 / HEIGHT, 1 - 73 / SHEET_WIDTH, 1 - 52 / HEIGHT))
    axes.set_axis_off()
    steps = timed(procedure)
    _scale(axes, procedure, steps)
    numbers = [step.number for step in steps]
    axes.vlines(
        numbers,
        [max(FLOOR, step.least) for step in steps],
        [step.most for step in steps],
        color="#b9bcc2",
        linewidth=4.0,
    )
    axes.plot(numbers, [max(FLOOR, s.likely) for s in steps], "_", color=INK, markersize=4.5)
    _dots(axes, [s for s in steps if not s.late], "o", "white")
    _dots(axes, [s for s in steps if s.late], "D", VERMILLION)
    key = f"steps-{procedure.code}"
    return drawing_of(figure, key, f"Step times of {procedure.code}", step_words(procedure))


def _dots(axes: Axes, steps: Sequence[StepFact], marker: str, fill: str) -> None:
    axes.plot(
        [step.number for step in steps],
        [max(FLOOR, step.took or 0.0) for step in steps],
        marker,
        markersize=4.2,
        markerfacecolor=fill,
        markeredgecolor=INK,
        markeredgewidth=0.7,
        linestyle="none",
        zorder=5,
    )


def _scale(axes: Axes, procedure: ProcedureFact, steps: Sequence[StepFact]) -> None:
    longest = max(max(step.most, step.took or 0.0) for step in steps)
    axes.set_yscale("log")
    axes.set_ylim(FLOOR, 1.5 * max(longest, 10.0))
    last = len(procedure.steps)
    axes.set_xlim(0.2, last + 0.8)
    heading: dict[str, Any] = {"fontsize": 8.5, "fontweight": "bold", "ha": "left", "va": "bottom"}
    axes.text(0, 1.06, f"{procedure.code}: time of each step", transform=axes.transAxes, **heading)
    for seconds, word in TICKS:
        if seconds <= axes.get_ylim()[1]:
            axes.axhline(seconds, color=GRID, linewidth=0.5, zorder=0)
            axes.text(-0.01, seconds, word, transform=axes.get_yaxis_transform(), ha="right",
                      va="center")  # fmt: skip
    pitch = next(p for p in (1, 2, 5, 10, 20, 50) if last / p <= 20)
    for number in range(pitch, last + 1, pitch):
        axes.text(number, -0.03, str(number), transform=axes.get_xaxis_transform(), ha="center",
                  va="top")  # fmt: skip
    axes.text(-0.01, -0.03, "step", transform=axes.transAxes, ha="right", va="top")


def step_words(procedure: ProcedureFact) -> str:
    """The picture in words."""
    steps = timed(procedure)
    late = sorted((step for step in steps if step.late), key=lambda one: -one.late)
    worst = "; ".join(
        f"step {step.number} ({step.words}) {lasting(step.late)} over" for step in late[:3]
    )
    return (
        f"{procedure.code}: {count(len(steps), 'step')} with a time in the kit, "
        f"{len(late)} of them longer than its most{f': {worst}' if worst else ''}."
    )
