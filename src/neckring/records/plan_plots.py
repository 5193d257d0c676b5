"""The plots of a plan: each quantity over the run, its limits as labelled lines.

Curves and limits are named at their right end instead of in a legend, and differ by line style as
well as by colour, so that a grey print tells the same.
"""

from __future__ import annotations

import numpy as np

from neckring.outing.findings import FloatArray, LimitFinding, Plan
from neckring.records.picture_sheet import (
    Label,
    Strip,
    draw_scale,
    draw_spell_bands,
    drawing_style,
    new_sheet,
    write_heading,
    write_labels,
)
from neckring.records.picture_svg import Drawing, drawing_of
from neckring.records.picture_words import describe_panel
from neckring.records.pictures import (
    BLUE,
    DOTTED,
    GREEN,
    INK,
    PICTURES,
    SKY,
    VERMILLION,
    Curve,
    Dashes,
    Panel,
    Picture,
)
from neckring.records.plan_timeline import draw_timeline
from neckring.records.presentation import presentation_of
from neckring.records.reading import whole_minutes

DARK_TEXT = {BLUE: "#005a8f", VERMILLION: "#9c4400", GREEN: "#00694d", INK: INK}
PANEL_HEIGHT, STACKED_HEIGHT, GAP = 100.0, 80.0, 27.0  # points
LIMIT_DASHES: dict[str, Dashes] = {
    "caution": (0, (1, 1.6)),
    "turn back": (0, (5, 2)),
    "stop now": "solid",
}
LIMIT_WIDTHS = {"caution": 1.1, "turn back": 1.1, "stop now": 1.7}


def draw_pictures(plan: Plan) -> list[Drawing]:
    """Draw the timeline and every picture the plan has values for.

    Args:
        plan: The run.

    Returns:
        Drawings in the order of the page, the timeline first.
    """
    with drawing_style():
        drawings = [draw_timeline(plan)]
        drawings += [draw_picture(plan, picture) for picture in PICTURES if _panels(plan, picture)]
    return drawings


def pictures_without_values(plan: Plan) -> list[str]:
    """Name the pictures that cannot be drawn, because the plan holds no values for them."""
    return [picture.title for picture in PICTURES if not _panels(plan, picture)]


def limits_in(plan: Plan, picture: Picture) -> list[LimitFinding]:
    """List the limits that are drawn in a picture."""
    drawn = {quantity for panel in picture.panels for quantity in _quantities(panel)}
    return [limit for limit in plan.limits if limit.quantity in drawn]


def draw_picture(plan: Plan, picture: Picture) -> Drawing:
    """Draw one picture: its panels above each other over one time axis.

    Args:
        plan: The run.
        picture: What to draw; at least one panel must have values.

    Returns:
        The SVG with its title and description in words.
    """
    panels = _panels(plan, picture)
    height = PANEL_HEIGHT if len(panels) == 1 else STACKED_HEIGHT
    figure, strips = new_sheet(plan, [height] * len(panels), GAP)
    for strip, panel in zip(strips, panels, strict=True):
        _draw_panel(strip, panel)
    words = " ".join(describe_panel(plan, panel.heading, _quantities(panel)) for panel in panels)
    return drawing_of(figure, picture.key, picture.title, words)


def _panels(plan: Plan, picture: Picture) -> list[Panel]:
    return [panel for panel in picture.panels if any(_has(plan, c.quantity) for c in panel.curves)]


def _has(plan: Plan, quantity: str) -> bool:
    values = plan.trace.get(quantity)
    return values is not None and bool(np.isfinite(values).any())


def _quantities(panel: Panel) -> list[str]:
    return [curve.quantity for curve in panel.curves] + (["core_rise"] if panel.rise else [])


def _draw_panel(strip: Strip, panel: Panel) -> None:
    limits = _limit_heights(strip.plan, panel)
    strip.axes.set_ylim(*_range(strip.plan, panel, [height for _, height in limits]))
    unit = presentation_of(panel.curves[0].quantity).axis_label
    write_heading(strip, f"{panel.heading}, {unit}" if unit else panel.heading)
    draw_spell_bands(strip)
    draw_scale(strip, _baseline(strip.plan) if panel.rise else None)
    if panel.spread:
        _draw_spread(strip)
    write_labels(strip, _draw_limits(strip, limits) + _draw_curves(strip, panel))


def _baseline(plan: Plan) -> float | None:
    """Find the core temperature from which the rise counts [degC]; None when not computed."""
    if not (_has(plan, "core_rise") and _has(plan, "core_temperature")):
        return None
    difference = plan.trace["core_temperature"] - plan.trace["core_rise"]
    return float(difference[np.isfinite(difference)][0])


def _limit_heights(plan: Plan, panel: Panel) -> list[tuple[LimitFinding, float]]:
    """List a panel's limits with the height at which each is drawn, in shown units."""
    curves = {curve.quantity for curve in panel.curves}
    baseline = _baseline(plan) if panel.rise else None
    heights = []
    for limit in plan.limits:
        if limit.quantity in curves:
            heights.append((limit, presentation_of(limit.quantity).shown(limit.value)))
        elif limit.quantity == "core_rise" and baseline is not None:
            heights.append((limit, baseline + limit.value))
    return heights


def _range(plan: Plan, panel: Panel, heights: list[float]) -> tuple[float, float]:
    """Choose the axis so that every value, every limit and every wanted mark lies inside."""
    floor = [presentation_of(panel.curves[0].quantity).shown(value) for value in panel.shows]
    seen = [*heights, *floor]
    for curve in panel.curves:
        if _has(plan, curve.quantity):
            values = presentation_of(curve.quantity).shown(plan.trace[curve.quantity])
            seen += [float(np.nanmin(values)), float(np.nanmax(values))]
    if panel.spread:
        seen += [spell.metabolic_rate_high for spell in plan.spells]
    finite = [value for value in seen if np.isfinite(value)]
    low, high = min(finite), max(finite)
    room = 0.05 * (high - low) or max(1.0, abs(high) * 0.05)
    return (low if low in floor else low - room), high + room


def _draw_limits(strip: Strip, limits: list[tuple[LimitFinding, float]]) -> list[Label]:
    labels = []
    for limit, height in limits:
        strip.axes.axhline(
            height, color=INK, linewidth=LIMIT_WIDTHS[limit.action], clip_on=False,
            linestyle=LIMIT_DASHES[limit.action],
        )  # fmt: skip
        text = _limit_label(limit)
        if limit.reached is not None:
            text += f"\ncrossed at {whole_minutes(limit.reached)} min"
            strip.axes.plot(
                limit.reached / 60, height, "X", color=INK, markersize=8, clip_on=False,
                markeredgecolor="white", markeredgewidth=0.8, zorder=6,
            )  # fmt: skip
        labels.append(Label(text, height, INK, bold=limit.reached is not None))
    return labels


def _limit_label(limit: LimitFinding) -> str:
    figure = f"{limit.direction} {presentation_of(limit.quantity).text(limit.value)}"
    return f"{limit.action} {'rise ' if limit.quantity == 'core_rise' else ''}{figure}"


def _draw_curves(strip: Strip, panel: Panel) -> list[Label]:
    curves = [curve for curve in panel.curves if _has(strip.plan, curve.quantity)]
    return [_draw_curve(strip, curve) for curve in curves]


def _draw_curve(strip: Strip, curve: Curve) -> Label:
    shown = presentation_of(curve.quantity)
    stored = strip.plan.trace[curve.quantity]
    stepped = "steps-post" if curve.quantity == "metabolic_rate" else "default"
    strip.axes.plot(
        *thinned(strip.plan.trace["time"] / 60, shown.shown(stored)), color=curve.colour,
        linewidth=1.6, linestyle=curve.dashes, drawstyle=stepped, clip_on=False, zorder=4,
    )  # fmt: skip
    last = float(stored[np.isfinite(stored)][-1])
    return Label(f"{curve.name} {shown.figure(last)}", shown.shown(last), DARK_TEXT[curve.colour])


def thinned(
    minutes: FloatArray, values: FloatArray, most: int = 400
) -> tuple[FloatArray, FloatArray]:
    """Keep the first, lowest and highest sample of each stretch, so that no peak is lost.

    Args:
        minutes: Times, shape (samples,).
        values: Values, shape (samples,).
        most: About how many samples to keep at most.

    Returns:
        The kept times and values.
    """
    if len(values) <= most:
        return minutes, values
    kept: set[int] = {0, len(values) - 1}
    for stretch in np.array_split(np.arange(len(values)), most // 3):
        finite = stretch[np.isfinite(values[stretch])]
        kept.add(int(stretch[0]))
        if len(finite):
            kept |= {int(finite[values[finite].argmin()]), int(finite[values[finite].argmax()])}
    index = np.array(sorted(kept))
    return minutes[index], values[index]


def _draw_spread(strip: Strip) -> None:
    """Shade the published spread of each spell's metabolic rate."""
    spells = strip.plan.spells
    edges = [spell.begins / 60 for spell in spells] + [spells[-1].ends / 60]
    low = [spell.metabolic_rate_low for spell in (*spells, spells[-1])]
    high = [spell.metabolic_rate_high for spell in (*spells, spells[-1])]
    strip.axes.fill_between(
        edges, low, high, step="post", color=SKY, alpha=0.35, linewidth=0, clip_on=False
    )
    for values in (low, high):
        strip.axes.step(
            edges, values, where="post", color=BLUE, linewidth=0.8, linestyle=DOTTED, clip_on=False
        )
