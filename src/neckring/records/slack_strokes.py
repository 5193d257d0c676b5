"""The strokes of one slack band: levels, band, median, what counts, and what leaves the scale."""

from __future__ import annotations

import numpy as np

from neckring.outing.findings import FloatArray
from neckring.outing.outlook import FailureFinding
from neckring.records.outlook_words import more_than, percent
from neckring.records.picture_sheet import GRID, STRIP_WIDTH, Strip, moved_apart
from neckring.records.pictures import BLUE, INK, Dashes
from neckring.records.plan_timeline import CHARACTER
from neckring.records.slack_bands import Scale, gaps_of, runs_of, stretches_of

BAND_FILL, COUNTS, PALE_TEXT = "#b5d9ef", "#a63c00", "#5a5d63"
MEDIAN_DASHES: Dashes = (0, (3.5, 1.5))
RESERVE_DASHES: Dashes = (0, (1.2, 1.4))
NAME_PITCH, NAME_WIDTH = 8.0, 36.0  # points
LEAST_APART = 0.3  # of the strip's height
COMB_PITCH, MARK_PITCH = 3.2, 7.0  # points between two strokes, between two small triangles


def draw_levels(strip: Strip, reserve: float, scale: Scale) -> None:
    """Draw the strip's edges, the line of no slack, and the reserve.

    Args:
        strip: Where to draw; its vertical range is set.
        reserve: Slack kept free [s].
        scale: Its vertical range.
    """
    end = strip.plan.duration / 60
    edges = [scale.bottom, scale.top]
    strip.axes.hlines(edges, 0, end, color=GRID, linewidth=0.6, clip_on=False, zorder=0.9)
    strip.axes.plot([0, end], [0, 0], color=INK, linewidth=0.8, clip_on=False, zorder=3)
    strip.axes.plot(
        [0, end], [reserve / 60] * 2, color=INK, linewidth=1.3, linestyle=RESERVE_DASHES,
        clip_on=False, zorder=3.5,
    )  # fmt: skip


def draw_band(strip: Strip, failure: FailureFinding, scale: Scale) -> None:
    """Draw a failure's slack in each stretch of minutes at which it can happen.

    Args:
        strip: Where to draw; its vertical range is set.
        failure: With slack at three quantiles and at the policy's confidence.
        scale: The strip's vertical range.
    """
    for part in stretches_of(failure.instants):
        minutes = _widened(failure.instants[part] / 60, strip.plan.duration / 60)
        low, median, high = (_repeated(row[part] / 60) for row in failure.slack)
        counts = _repeated(failure.slack_at_confidence[part] / 60)
        _draw_range(strip, minutes, low, high, scale)
        _draw_line(strip, minutes, median, scale, BLUE, 1.1, MEDIAN_DASHES)
        _draw_line(strip, minutes, counts, scale, COUNTS, 1.5, "solid")
        _draw_comb(strip, minutes, counts, failure.reserve / 60, scale)
        _mark_ends(strip, minutes, counts, high, scale)
    _write_more_than(strip, failure, scale)


def _widened(minutes: FloatArray, end: float) -> FloatArray:
    """Add half a minute before the first and after the last: each stands for its minute."""
    before, after = max(0.0, minutes[0] - 0.5), min(end, minutes[-1] + 0.5)
    return np.concatenate([[before], minutes, [after]])


def _repeated(values: FloatArray) -> FloatArray:
    return np.concatenate([values[:1], values, values[-1:]])


def _within(values: FloatArray, scale: Scale) -> FloatArray:
    return np.clip(values, scale.bottom, scale.top)


def _draw_range(
    strip: Strip, minutes: FloatArray, low: FloatArray, high: FloatArray, scale: Scale
) -> None:
    strip.axes.fill_between(
        minutes, _within(low, scale), _within(high, scale), color=BAND_FILL, linewidth=0,
        clip_on=False, zorder=2,
    )  # fmt: skip
    for edge in (low, high):
        _draw_line(strip, minutes, edge, scale, BLUE, 0.5, "solid")


def _draw_line(
    strip: Strip, minutes: FloatArray, values: FloatArray, scale: Scale,
    colour: str, width: float, dashes: Dashes,
) -> None:  # fmt: skip
    """Draw a line where it lies on the scale, up to the edge at which it leaves."""
    kept = _within(values, scale)
    outside = np.isnan(values) | (values > scale.top) | (values < scale.bottom)
    both = outside & np.append(outside[1:], True) & np.insert(outside[:-1], 0, True)
    strip.axes.plot(
        minutes, np.where(both, np.nan, kept), color=colour, linewidth=width, linestyle=dashes,
        clip_on=False, zorder=4,
    )  # fmt: skip


def _draw_comb(
    strip: Strip, minutes: FloatArray, counts: FloatArray, reserve: float, scale: Scale
) -> None:
    """Hatch what lacks to the reserve: upright strokes from the line that counts up to it."""
    pitch = COMB_PITCH / strip.width_of(60)
    at = np.arange(minutes[0] + pitch / 2, minutes[-1], pitch)
    feet = np.interp(at, minutes, _within(np.nan_to_num(counts, nan=np.inf), scale))
    short = feet < reserve
    at, feet = at[short], feet[short]
    nothing = np.full(at.shape, np.nan)
    across = np.column_stack([at, at, nothing]).ravel()
    up = np.column_stack([feet, np.full(at.shape, reserve), nothing]).ravel()
    strip.axes.plot(across, up, color=COUNTS, linewidth=0.7, clip_on=False, zorder=3.8)


def _mark_ends(
    strip: Strip, minutes: FloatArray, counts: FloatArray, high: FloatArray, scale: Scale
) -> None:
    """Set small triangles where the band goes on above the scale, or the line below it."""
    pitch = MARK_PITCH / strip.width_of(60)
    at = np.arange(minutes[0] + min(pitch, minutes[-1] - minutes[0]) / 2, minutes[-1], pitch)
    nearest = np.abs(at[:, None] - minutes[None, :]).argmin(axis=1)
    for beyond, edge, shape in (
        (high > scale.top, scale.top, "^"),
        (counts < scale.bottom, scale.bottom, "v"),
    ):
        marked = at[beyond[nearest]]
        strip.axes.plot(
            marked, np.full(marked.shape, edge), shape, color=PALE_TEXT, markersize=3.2,
            clip_on=False, markeredgewidth=0, zorder=4.5,
        )  # fmt: skip


def _write_more_than(strip: Strip, failure: FailureFinding, scale: Scale) -> None:
    """Say in words where even what counts is above the scale, or where no help comes."""
    counts = failure.slack_at_confidence / 60
    for beyond, text in (
        (counts > scale.top, more_than(60 * scale.top)),
        (np.isneginf(counts), "no help comes"),
    ):
        for part in stretches_of(failure.instants):
            for run in runs_of(beyond[part]):
                times = failure.instants[part][run] / 60
                room = strip.width_of(60 * float(times[-1] - times[0]))
                if room > CHARACTER * len(text):
                    middle = strip.across(float(times[0] + times[-1]) / 2)
                    up = strip.bottom + strip.height - 8
                    strip.write(text, middle, up, ha="center", va="center_baseline")


def naming_place(strip: Strip, failure: FailureFinding, scale: Scale) -> tuple[float, int]:
    """Find the instant at which most lines are in view and lie farthest apart.

    Args:
        strip: Where the band is drawn.
        failure: Whose band it is.
        scale: The strip's vertical range.

    Returns:
        How good the best place is, nothing when there is none, and the index of its instant: one
        with room for names at its right, away from the worst moment.
    """
    rows = _four_lines(failure)
    inside = (rows >= scale.bottom) & (rows <= scale.top)
    heights = np.sort(np.where(inside, rows, scale.top), axis=0) / (scale.top - scale.bottom)
    apart = np.minimum(np.diff(heights, axis=0), 0.25).sum(axis=0)
    room = np.where((inside.sum(axis=0) < 3) | (apart < LEAST_APART), 0.0, inside.sum(0) + apart)
    width = strip.plan.duration * NAME_WIDTH / STRIP_WIDTH
    gaps = [*gaps_of(failure, strip.plan.duration), (strip.plan.duration, np.inf)]
    taken = [(failure.instants + width > a) & (failure.instants < b) for a, b in gaps]
    taken.append(np.abs(failure.instants + width / 2 - failure.worst.time) < width)
    room = np.where(np.any(taken, axis=0), 0.0, room)
    return float(room.max()), int(room.argmax())


def _four_lines(failure: FailureFinding) -> FloatArray:
    """Stack what counts and the three quantiles [min], shape (4, instants)."""
    return np.vstack([failure.slack_at_confidence, failure.slack]) / 60


def name_the_lines(
    strip: Strip, failure: FailureFinding, scale: Scale, at: int, confidence: float
) -> None:
    """Name each line by the share of the members that have more slack.

    Args:
        strip: Where the band is drawn.
        failure: Whose band it is.
        scale: The strip's vertical range.
        at: Index of the instant.
        confidence: That the policy asks for.
    """
    values = _four_lines(failure)[:, at]
    minutes = float(failure.instants[at]) / 60
    names = (percent(confidence), "95\u00a0%", "half", "5\u00a0%")
    inside = [row for row in range(4) if scale.bottom <= values[row] <= scale.top]
    order = sorted(inside, key=lambda row: float(values[row]))
    wanted = [strip.up(float(values[row])) for row in order]
    placed = moved_apart(wanted, [NAME_PITCH] * len(order))
    above = placed[-1] - (strip.bottom + strip.height)
    lift = max(0.0, strip.bottom - placed[0]) - max(0.0, above)
    for row, up in zip(order, [at + lift for at in placed], strict=True):
        _lead(strip, minutes, float(values[row]), up, scale)
        strip.write(names[row], strip.across(minutes) + 9, up, va="center_baseline", fontsize=6.8)


def _lead(strip: Strip, minutes: float, value: float, up: float, scale: Scale) -> None:
    """Join a point of a line with its name, 8 points to the right."""
    height = scale.bottom + (up - strip.bottom) / strip.height * (scale.top - scale.bottom)
    strip.axes.plot(
        [minutes, minutes + 8 / strip.width_of(60)], [value, height], color=INK,
        linewidth=0.6, clip_on=False, scalex=False, scaley=False, zorder=5.5,
    )  # fmt: skip
