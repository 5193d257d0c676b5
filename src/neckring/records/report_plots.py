"""Planned against actual: each quantity as planned, as estimated, and as read by its sensors.

The plan is a dashed dark line, the live estimate a band, readings are dots: three shapes, so that
a grey print tells the same. Readings with a flaw are short strokes at the lower edge, valueless.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from neckring.outing.findings import LimitFinding, Plan
from neckring.records.picture_sheet import (
    Label,
    Strip,
    draw_scale,
    drawing_style,
    new_sheet,
    number_spells,
    shade_spells,
    write_heading,
    write_labels,
)
from neckring.records.picture_svg import Drawing, drawing_of
from neckring.records.pictures import BLUE, DASHED, INK, SKY, VERMILLION
from neckring.records.plan_plots import (
    DARK_TEXT,
    LIMIT_DASHES,
    LIMIT_WIDTHS,
    PANEL_HEIGHT,
    thinned,
)
from neckring.records.presentation import Presentation, presentation_of
from neckring.records.report_course_records import EstimateFact, FloatArray, SensorFact, SpellFact
from neckring.records.report_plot_words import panel_words
from neckring.records.report_records import RunReport
from neckring.records.report_words import capital

DRAWN = (
    "core_temperature",
    "heart_rate",
    "inspired_co2",
    "mean_skin_temperature",
    "water_inlet_temperature",
    "reservoir_temperature",
    "ice_mass",
    "battery_charge",
    "battery_voltage",
)
"""Quantities that a report draws, where there is more than a plan of them."""
MOST_DOTS = 600


@dataclass(frozen=True)
class Panel:
    """What one picture shows of one quantity of one wearer, times in minutes from first dressing.

    Attributes:
        wearer: A or B.
        quantity: Name of the trace column.
        plan: As drawn: with the length of the real run and its real spells.
        planned: Minutes and values of the plan [SI].
        estimate: Minutes, low, middle and high of live estimates [SI]; may be empty.
        read: Minutes and values of good readings [SI]; may be empty.
        flawed: Minutes of those with a flaw.
        channels: Names of the channels.
    """

    wearer: str
    quantity: str
    plan: Plan
    planned: tuple[FloatArray, FloatArray]
    estimate: tuple[FloatArray, FloatArray, FloatArray, FloatArray]
    read: tuple[FloatArray, FloatArray]
    flawed: FloatArray
    channels: tuple[str, ...]

    @property
    def limits(self) -> list[LimitFinding]:
        """Limits of the signed sheet on this quantity."""
        return [limit for limit in self.plan.limits if limit.quantity == self.quantity]

    @property
    def shown(self) -> Presentation:
        """How the quantity is shown."""
        return presentation_of(self.quantity)


def draw_quantities(report: RunReport) -> list[Drawing]:
    """Draw each wearer's quantities, planned against actual.

    Args:
        report: Of the run; a wearer without a plan has no pictures.

    Returns:
        Drawings, those of A first; only of quantities that were read or estimated.
    """
    with drawing_style():
        return [_draw(panel) for panel in panels(report)]


def panels(report: RunReport) -> list[Panel]:
    """What there is to draw."""
    return [
        panel
        for letter in report.letters
        if letter in report.plans
        for quantity in DRAWN
        if (panel := _panel(report, letter, quantity)) is not None
    ]


def as_drawn(report: RunReport, letter: str) -> Plan:
    """A plan as long as the real run, with its real spells and its real first dressing."""
    plan = report.plans[letter]
    span = max(plan.duration, report.since(report.last))
    starts = plan.starts if report.opened is None else _first(report, report.opened)
    real = {one.number: one for one in report.spells if one.wearer == letter}
    spells = tuple(
        replace(
            spell,
            begins=max(0.0, report.since(_begun(real[number]))),
            ends=max(0.0, report.since(_ended(real[number]))),
        )
        for number, spell in enumerate(plan.spells)
        if number in real and real[number].begun is not None
    )
    return replace(plan, duration=span, longest=span, starts=starts, spells=spells)


def _first(report: RunReport, opened: datetime) -> datetime:
    from datetime import timedelta

    return opened + timedelta(seconds=report.first_dressing)


def _begun(spell: SpellFact) -> float:
    return 0.0 if spell.begun is None else spell.begun


def _ended(spell: SpellFact) -> float:
    return 0.0 if spell.ended is None else spell.ended


def _panel(report: RunReport, letter: str, quantity: str) -> Panel | None:
    sensors = [
        one
        for one in report.sensors
        if one.wearer == letter and one.quantity == quantity and one.count
    ]
    estimates = [
        one for one in report.estimates if one.wearer == letter and quantity in one.quantities
    ]
    trace = report.plans[letter].trace
    if quantity not in trace or not (sensors or estimates):
        return None
    good = [_minutes(report, one.time[one.fine]) for one in sensors]
    bad = [_minutes(report, one.time[~one.fine]) for one in sensors]
    return Panel(
        letter,
        quantity,
        as_drawn(report, letter),
        (trace["time"] / 60.0, trace[quantity]),
        _bands(report, estimates, quantity),
        (np.concatenate([[], *good]), np.concatenate([[], *_good(sensors)])),
        np.concatenate([[], *bad]),
        tuple(one.channel for one in sensors),
    )


def _good(sensors: Sequence[SensorFact]) -> list[FloatArray]:
    return [one.value[one.fine] for one in sensors]


def _minutes(report: RunReport, run_time: FloatArray) -> FloatArray:
    return (run_time - report.first_dressing) / 60.0


def _bands(
    report: RunReport, estimates: Sequence[EstimateFact], quantity: str
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    at = np.array([(one.at - report.first_dressing) / 60.0 for one in estimates])
    ends = np.array([one.quantities[quantity] for one in estimates]).reshape(-1, 3)
    return at, ends[:, 0], ends[:, 1], ends[:, 2]


def _draw(panel: Panel) -> Drawing:
    figure, (strip,) = new_sheet(panel.plan, [PANEL_HEIGHT], 0.0)
    strip.axes.set_ylim(*_range(panel))
    unit = panel.shown.axis_label
    label = panel.shown.label
    heading = f"Wearer {panel.wearer}: {label}{f', {unit}' if unit else ''}"
    write_heading(strip, heading)
    shade_spells(strip)
    number_spells(strip)
    draw_scale(strip)
    write_labels(strip, [*_draw_limits(strip, panel), *_draw_lines(strip, panel)])
    title = f"{capital(label)} of wearer {panel.wearer}, planned against actual"
    return drawing_of(figure, f"{panel.quantity}-{panel.wearer}", title, panel_words(panel))


def _range(panel: Panel) -> tuple[float, float]:
    """The axis: everything planned, estimated and read, and every limit near to that."""
    parts = (panel.planned[1], *panel.estimate[1:], panel.read[1])
    seen = panel.shown.shown(np.concatenate(parts))
    seen = seen[np.isfinite(seen)]
    low, high = (float(seen.min()), float(seen.max())) if len(seen) else (0.0, 1.0)
    room = max(high - low, 0.02 * max(abs(low), abs(high), 1.0))
    limits = [panel.shown.shown(limit.value) for limit in panel.limits]
    near = [value for value in limits if low - 2.0 * room <= value <= high + 2.0 * room]
    low, high = min([low, *near]), max([high, *near])
    edge = 0.06 * (high - low or 1.0)
    return low - edge, high + edge


def _draw_limits(strip: Strip, panel: Panel) -> list[Label]:
    low, high = strip.axes.get_ylim()
    labels = []
    for limit in panel.limits:
        height = panel.shown.shown(limit.value)
        if low <= height <= high:
            strip.axes.axhline(
                height,
                color=INK,
                linewidth=LIMIT_WIDTHS[limit.action],
                linestyle=LIMIT_DASHES[limit.action],
                clip_on=False,
            )
            text = f"{limit.action} {limit.direction} {panel.shown.text(limit.value)}"
            labels.append(Label(text, height, INK))
    return labels


def _draw_lines(strip: Strip, panel: Panel) -> list[Label]:
    return [
        *_draw_plan(strip, panel),
        *_draw_estimate(strip, panel),
        *_draw_read(strip, panel),
    ]


def _draw_plan(strip: Strip, panel: Panel) -> list[Label]:
    minutes, values = panel.planned
    if not np.isfinite(values).any():
        return []
    shown = panel.shown.shown(values)
    strip.axes.plot(
        *thinned(minutes, shown),
        color=INK,
        linewidth=1.2,
        linestyle=DASHED,
        clip_on=False,
        zorder=5,
    )
    return [_label("planned", panel, values, INK)]


def _draw_estimate(strip: Strip, panel: Panel) -> list[Label]:
    minutes, *ends = panel.estimate
    if not len(minutes):
        return []
    low, middle, high = (panel.shown.shown(end) for end in ends)
    strip.axes.fill_between(
        minutes, low, high, color=SKY, alpha=0.4, linewidth=0, clip_on=False, zorder=2
    )
    strip.axes.plot(minutes, middle, color=BLUE, linewidth=1.4, clip_on=False, zorder=4)
    return [_label("estimated", panel, ends[1], DARK_TEXT[BLUE])]


def _draw_read(strip: Strip, panel: Panel) -> list[Label]:
    low, high = strip.axes.get_ylim()
    if len(panel.flawed):
        marks = panel.flawed[:: max(1, len(panel.flawed) // MOST_DOTS)]
        strip.axes.vlines(
            marks, low, low + 0.05 * (high - low), color=INK, linewidth=0.5, clip_on=False
        )
    minutes, values = panel.read
    if not len(minutes):
        return []
    order = np.argsort(minutes, kind="stable")
    at, shown = thinned(minutes[order], panel.shown.shown(values[order]), MOST_DOTS)
    strip.axes.plot(
        at,
        shown,
        linestyle="none",
        marker=".",
        markersize=2.4,
        markeredgewidth=0,
        color=VERMILLION,
        clip_on=False,
        zorder=3,
    )
    return [_label("read", panel, values[order], DARK_TEXT[VERMILLION])]


def _label(name: str, panel: Panel, values: FloatArray, colour: str) -> Label:
    last = float(values[np.isfinite(values)][-1])
    return Label(f"{name} {panel.shown.figure(last)}", panel.shown.shown(last), colour)
