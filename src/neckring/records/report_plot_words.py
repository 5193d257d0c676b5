"""What a picture of planned against actual shows, in words: for people who cannot see it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from neckring.records.presentation import Presentation
from neckring.records.reading import limit_words
from neckring.records.report_course_records import FloatArray
from neckring.records.report_words import capital, clocklike, count
from neckring.station.fault import listed

if TYPE_CHECKING:
    from neckring.records.report_plots import Panel


def panel_words(panel: Panel) -> str:
    """Tell one picture: plan, estimate, readings, how they part, and the limits.

    Args:
        panel: What is drawn.
    """
    shown = panel.shown
    parts = [
        f"{capital(shown.label)} of wearer {panel.wearer}.",
        f"Planned (dashed line): {_ends(shown, *panel.planned)}.",
        _estimated(panel),
        _read(panel),
        _apart(panel),
        *_limits(panel),
    ]
    return " ".join(part for part in parts if part)


def _ends(shown: Presentation, minutes: FloatArray, values: FloatArray) -> str:
    fine = np.flatnonzero(np.isfinite(values))
    if not len(fine):
        return "not computed"
    low, high = fine[values[fine].argmin()], fine[values[fine].argmax()]
    return (
        f"lowest {shown.text(float(values[low]))} at {clocklike(60.0 * minutes[low])}, "
        f"highest {shown.text(float(values[high]))} at {clocklike(60.0 * minutes[high])}"
    )


def _estimated(panel: Panel) -> str:
    minutes, low, middle, high = panel.estimate
    if not len(minutes):
        return "There is no live estimate of it."
    wide = panel.shown.figure(float(np.median(high - low)))
    unit = f" {panel.shown.unit}" if panel.shown.unit else ""
    ends = _ends(panel.shown, minutes, middle)
    return f"Estimated (line in a band of 5 to 95 %): {ends}; the band is {wide}{unit} wide."


def _read(panel: Panel) -> str:
    if not panel.channels:
        return "No sensor reads it."
    named = f"Read by {listed(panel.channels, 'and')} (dots)"
    if not len(panel.read[0]):
        return f"{named}: not one good reading."
    flawed = count(len(panel.flawed), "reading") if len(panel.flawed) else "none"
    return (
        f"{named}: {_ends(panel.shown, *panel.read)}; {count(len(panel.read[0]), 'good reading')}, "
        f"{flawed} with a flaw{' (strokes at the lower edge)' if len(panel.flawed) else ''}."
    )


def _apart(panel: Panel) -> str:
    """How far readings lay from the plan at the same minute."""
    minutes, values = panel.read
    at, planned = panel.planned
    inside = (minutes >= at[0]) & (minutes <= at[-1])
    if not inside.any() or not np.isfinite(planned).all():
        return ""
    apart = values[inside] - np.interp(minutes[inside], at, planned)
    low, middle, high = (float(each) for each in np.quantile(apart, (0.05, 0.5, 0.95)))
    figures = [panel.shown.shown(each) for each in (low, middle, high)]
    told = [_with_sign(figure, panel.shown.decimals) for figure in figures]
    unit = f" {panel.shown.unit}" if panel.shown.unit else ""
    return (
        f"Readings less plan, minute for minute: half lie below {told[1]}{unit}, nine in ten "
        f"between {told[0]} and {told[2]}{unit}."
    )


def _with_sign(figure: float, decimals: int) -> str:
    rounded = round(figure, decimals)
    return f"{rounded:+.{decimals}f}".replace("-", "−") if rounded else f"{0.0:.{decimals}f}"


def _limits(panel: Panel) -> list[str]:
    if not panel.limits:
        return ["No limit is set on it."]
    return [
        f"Limit: {limit.action} when {limit_words(limit)}, "
        f"{_beyond(panel, limit.value, limit.direction)}."
        for limit in panel.limits
    ]


def _beyond(panel: Panel, value: float, direction: str) -> str:
    minutes, values = panel.read
    if not len(values):
        return "not read"
    beyond = values > value if direction == "above" else values < value
    if not beyond.any():
        return "no good reading beyond it"
    first = clocklike(60.0 * float(minutes[beyond].min()))
    return f"{count(int(beyond.sum()), 'good reading')} beyond it, the first at {first}"
