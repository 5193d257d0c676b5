"""The slack picture: harm less help over the run, one band per failure, the worst on top.

Each failure has a strip of its own over one time axis, because some slacks are told in seconds and
others in tens of minutes. Colour adds to what shape and line style tell already.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from neckring.outing.findings import Plan
from neckring.outing.outlook import FailureFinding, Outlook
from neckring.records.outlook_words import (
    crossed_words,
    keeps_to_the_end,
    least_kept,
    name_words,
    reserve_words,
    share_words,
    slack_words,
    span_words,
    state_words,
)
from neckring.records.picture_sheet import (
    FOOT,
    LEFT_EDGE,
    SHEET_WIDTH,
    STRIP_WIDTH,
    Strip,
    drawing_style,
    moved_apart,
    new_sheet,
    number_spells,
    shade_spells,
)
from neckring.records.picture_svg import Drawing, drawing_of
from neckring.records.pictures import INK
from neckring.records.plan_timeline import CHARACTER, draw_box, stretches
from neckring.records.reading import moment, whole_minutes
from neckring.records.slack_bands import Scale, bands, gaps_of, scale_of
from neckring.records.slack_strokes import (
    PALE_TEXT,
    draw_band,
    draw_levels,
    name_the_lines,
    naming_place,
)

TITLE = "Slack over the run: harm less help, for each failure"
PLACE_HEIGHT, BAND_HEIGHT, GAP = 12.0, 40.0, 22.0  # points
MOST_BANDS = 9  # in one drawing, so that each fits on a sheet of paper
LONGEST_HEADING = 88  # letters
NO_TURN_BACK = "no turn-back time"
CANNOT_HAPPEN = (("cannot happen",), ("cannot", "happen"))

Group = tuple[FailureFinding, ...]


def draw_slack(plan: Plan, outlook: Outlook) -> list[Drawing]:
    """Draw the slack of every failure that is near enough to matter.

    Args:
        plan: The run.
        outlook: Its harm against help.

    Returns:
        As many drawings as are needed, each with the run's places on top; none when no failure
        has a band.
    """
    groups = bands(outlook)
    parts = [groups[at : at + MOST_BANDS] for at in range(0, len(groups), MOST_BANDS)]
    with drawing_style():
        return [_draw_part(plan, outlook, part, str(n)) for n, part in enumerate(parts, start=1)]


def _draw_part(plan: Plan, outlook: Outlook, groups: Sequence[Group], number: str) -> Drawing:
    heights = [PLACE_HEIGHT, *[BAND_HEIGHT] * len(groups)]
    figure, (places, *strips) = new_sheet(plan, heights, GAP)
    _draw_places(places)
    drawn = []
    for strip, group in zip(strips, groups, strict=True):
        scale = scale_of(group[0], outlook.computed)
        _draw_failure(strip, outlook, group, scale)
        drawn.append((strip, group[0], scale))
    _name_lines_once(drawn, outlook.confidence)
    _mark_turn_back(outlook, [places, *strips])
    words = " ".join(describe_slack(plan, outlook, group) for group in groups)
    return drawing_of(figure, f"slack-{number}", TITLE, words)


def _name_lines_once(
    drawn: Sequence[tuple[Strip, FailureFinding, Scale]], confidence: float
) -> None:
    """Name the lines of the one band where there is most room for it."""
    found = [(naming_place(*one), one) for one in drawn]
    (room, at), one = max(found, key=lambda pair: pair[0][0])
    if room > 0:
        name_the_lines(*one, at, confidence)


def _draw_places(strip: Strip) -> None:
    """Draw where the wearer is, under the numbers of the spells."""
    number_spells(strip)
    strip.axes.set_ylim(0, 1)
    strip.write("place", LEFT_EDGE - 5, strip.up(0.5), ha="right", va="center_baseline")
    for begins, ends, word in stretches(strip.plan, [spell.place for spell in strip.plan.spells]):
        draw_box(strip, 0, begins, ends, word)


def _draw_failure(strip: Strip, outlook: Outlook, group: Group, scale: Scale) -> None:
    failure = group[0]
    strip.axes.set_ylim(scale.bottom, scale.top)
    shade_spells(strip)
    draw_levels(strip, failure.reserve, scale)
    draw_band(strip, failure, scale)
    _write_levels(strip, failure, scale)
    _write_gaps(strip, failure)
    _write_heading(strip, [name_words(one, outlook) for one in group])
    _mark_worst(strip, outlook, failure, scale)
    _write_outcome(strip, failure)


def _write_heading(strip: Strip, names: Sequence[str]) -> None:
    """Write what fails over the strip."""
    heading = short_heading(names)
    heading = heading[:1].upper() + heading[1:]
    up = strip.bottom + strip.height + 2.5
    strip.write(heading, LEFT_EDGE, up, fontsize=8.5, fontweight="bold")


def short_heading(names: Sequence[str]) -> str:
    """Join names as far as there is room over a strip, and say how many are left out."""
    heading = "; ".join(names)
    if len(heading) <= LONGEST_HEADING:
        return heading
    more = f"; and {len(names) - 1} more alike" if len(names) > 1 else ""
    return names[0][: LONGEST_HEADING - len(more)] + more


def left_out(outlook: Outlook) -> list[tuple[str, list[str]]]:
    """List the failures that no heading has room for, under the one whose band they share."""
    groups = [[name_words(one, outlook) for one in group] for group in bands(outlook)]
    cut = [names for names in groups if short_heading(names) != "; ".join(names)]
    return [(names[0], names[1:]) for names in cut if len(names) > 1]


def _write_levels(strip: Strip, failure: FailureFinding, scale: Scale) -> None:
    """Write the scale's ends, zero and the reserve at the left."""
    reserve = failure.reserve / 60
    levels = {edge: span_words(60 * edge) for edge in (scale.top, scale.bottom)}
    levels |= {0.0: "0", reserve: f"reserve {reserve_words(failure.reserve)}"}
    ordered = sorted(levels)
    placed = moved_apart([strip.up(level) for level in ordered], [8.5] * len(ordered))
    for level, up in zip(ordered, placed, strict=True):
        size = 7.0 if len(levels[level]) < 15 else 6.2
        strip.write(
            levels[level], LEFT_EDGE - 4, up, ha="right", va="center_baseline", fontsize=size
        )


def _write_gaps(strip: Strip, failure: FailureFinding) -> None:
    """Say where the failure cannot happen, so that an empty stretch is not taken for a good one."""
    for begins, ends in gaps_of(failure, strip.plan.duration):
        room, middle = strip.width_of(ends - begins), strip.across((begins + ends) / 120)
        lines = next((w for w in CANNOT_HAPPEN if room > 4.2 * max(map(len, w))), ("–",))
        for row, line in enumerate(lines):
            up = strip.bottom + strip.height * 0.6 + 9 * ((len(lines) - 1) / 2 - row)
            strip.write(line, middle, up, ha="center", va="center_baseline", color=PALE_TEXT)


def _mark_worst(strip: Strip, outlook: Outlook, failure: FailureFinding, scale: Scale) -> None:
    """Mark the worst moment and write its slack under it, where a lowest point leaves room."""
    worst = failure.worst
    height = float(np.clip(np.nan_to_num(worst.slack / 60), scale.bottom, scale.top))
    strip.axes.plot(
        worst.time / 60, height, "o", color=INK, markersize=5.5, clip_on=False,
        markeredgecolor="white", markeredgewidth=0.8, zorder=6,
    )  # fmt: skip
    slack = slack_words(worst.slack, failure.reserve, outlook.computed)
    text = f"{slack} at {whole_minutes(worst.time)}\u00a0min"
    wide = (CHARACTER + 0.3) * len(text)
    across, up = strip.across(worst.time / 60), strip.up(height) - 8
    if up < strip.bottom and strip.bottom <= FOOT:  # the minutes stand under the lowest strip
        before = across + wide + 6 > LEFT_EDGE + STRIP_WIDTH
        across, up = across + (-1 if before else 1) * (wide / 2 + 5), strip.bottom + 5
    strip.write(
        text, min(max(across, LEFT_EDGE + wide / 2), SHEET_WIDTH - wide / 2), up, ha="center",
        va="center_baseline", fontweight="bold", fontsize=8.0,
    )  # fmt: skip


def _write_outcome(strip: Strip, failure: FailureFinding) -> None:
    """Write at the right how the failure fares."""
    first = "no limit crossed"
    if math.isfinite(failure.worst.harm):
        first = f"first: {crossed_words(failure)}"
    lines = (state_words(failure), first, f"{share_words(least_kept(failure))} keep the reserve")
    for row, line in enumerate(lines):
        up = strip.bottom + strip.height / 2 + 9.5 * (1 - row)
        bold = row == 0 and line != "reserve kept"
        strip.write(
            line, LEFT_EDGE + STRIP_WIDTH + 11, up, va="center_baseline",
            fontweight="bold" if bold else "normal",
        )  # fmt: skip


def _mark_turn_back(outlook: Outlook, strips: Sequence[Strip]) -> None:
    """Draw an upright line through all strips at the last minute to start home."""
    plan, up = strips[0].plan, strips[0].bottom + strips[0].height + 12
    if outlook.turn_back is None or keeps_to_the_end(outlook):
        kept = "the reserve is kept to the end" if keeps_to_the_end(outlook) else NO_TURN_BACK
        strips[0].write(kept, LEFT_EDGE, up, fontweight="bold", fontsize=8.0)
        return
    minutes = outlook.turn_back / 60
    for strip in strips:
        low, high = strip.axes.get_ylim()
        above = (high - low) * (GAP if strip is not strips[0] else 9.0) / strip.height
        strip.axes.plot(
            [minutes, minutes], [low, high + above], color=INK, linewidth=1.5, clip_on=False,
            scaley=False, scalex=False, zorder=5,
        )  # fmt: skip
    text, across = f"turn back by {moment(plan, outlook.turn_back)}", strips[0].across(minutes)
    fits = across + (CHARACTER + 0.6) * len(text) < SHEET_WIDTH
    strips[0].write(
        text, across, up, ha="left" if fits else "right", fontweight="bold", fontsize=8.0
    )


def describe_slack(plan: Plan, outlook: Outlook, group: Group) -> str:
    """Tell one band in words, for people who cannot see it.

    Args:
        plan: The run.
        outlook: Its harm against help.
        group: Failures with that band.

    Returns:
        One sentence.
    """
    failure = group[0]
    names = "; ".join(name_words(one, outlook) for one in group)
    slack = slack_words(failure.worst.slack, failure.reserve, outlook.computed)
    return (
        f"When {names}: least slack {slack} at {moment(plan, failure.worst.time)}, "
        f"{failure.worst.place}, against a reserve of {reserve_words(failure.reserve)}: "
        f"{state_words(failure)}."
    )
