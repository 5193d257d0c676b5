"""The run as strips: what is done, where, and where cooling and air come from."""

from __future__ import annotations

from neckring.outing.findings import Plan
from neckring.records.picture_sheet import (
    LEFT_EDGE,
    STRIP_WIDTH,
    Strip,
    draw_spell_bands,
    mark_longest,
    new_sheet,
)
from neckring.records.picture_svg import Drawing, drawing_of
from neckring.records.picture_words import describe_timeline
from neckring.records.reading import whole_minutes

TITLE = "The run from first dressing to last item stowed"
FILLS = {"facility": "#dbe9f3", "pack": "#a9d3ee", "on": "#e3e4e7"}
CHARACTER = 4.6  # points, about the mean width of a letter of 7.5 points


def draw_timeline(plan: Plan) -> Drawing:
    """Draw the spells, and under them place, cooling, air and helmet.

    Args:
        plan: The run.

    Returns:
        The SVG with its title and description in words.
    """
    figure, (activities, rows) = new_sheet(plan, [84.0, 72.0], gap=2.0)
    _draw_activities(activities)
    _draw_rows(rows)
    return drawing_of(figure, "timeline", TITLE, describe_timeline(plan))


def _draw_activities(strip: Strip) -> None:
    plan = strip.plan
    draw_spell_bands(strip)
    begins = [spell.begins / 60 for spell in plan.spells]
    strip.axes.vlines(begins, 0, 1, color="#b9bcc2", linewidth=0.5, clip_on=False)
    for spell in plan.spells:
        wide = strip.width_of(spell.ends - spell.begins)
        upright = wide < CHARACTER * (len(spell.activity) + 1)
        if wide > 8:
            middle = strip.across((spell.begins + spell.ends) / 120)
            strip.write(
                spell.activity, middle, strip.bottom + 42, ha="center", va="center",
                rotation=90 if upright else 0,
            )  # fmt: skip
    if plan.longest < plan.duration:
        lines = ("limits hold up to", f"{whole_minutes(plan.longest)} min", "(dash-dotted line)")
        for row, line in enumerate(lines):
            strip.write(line, LEFT_EDGE + STRIP_WIDTH + 11, strip.bottom + 49 - 10 * row)


def _draw_rows(strip: Strip) -> None:
    """Draw place, cooling, air and helmet as boxes that span equal neighbouring spells."""
    spells = strip.plan.spells
    rows = (
        ("place", [spell.place for spell in spells]),
        ("cooling", [spell.cooling for spell in spells]),
        ("air", [spell.air for spell in spells]),
        ("helmet", ["on" if spell.helmet_on else "off" for spell in spells]),
    )
    strip.axes.set_ylim(0, len(rows))
    for row, (name, words) in enumerate(reversed(rows)):
        strip.write(name, LEFT_EDGE - 5, strip.up(row + 0.5), ha="right", va="center_baseline")
        for begins, ends, word in stretches(strip.plan, words):
            draw_box(strip, row, begins, ends, word)
    mark_longest(strip)


def draw_box(strip: Strip, row: int, begins: float, ends: float, word: str) -> None:
    """Draw one box of a row, from one time to another [s], with its word inside if it fits."""
    strip.axes.broken_barh(
        [(begins / 60, (ends - begins) / 60)], (row + 0.08, 0.84),
        facecolor=FILLS.get(word, "white"), edgecolor="#8a8d93", linewidth=0.5, clip_on=False,
    )  # fmt: skip
    if strip.width_of(ends - begins) > CHARACTER * len(word):
        middle = strip.across((begins + ends) / 120)
        strip.write(word, middle, strip.up(row + 0.5), ha="center", va="center_baseline")


def stretches(plan: Plan, words: list[str]) -> list[tuple[float, float, str]]:
    """Join neighbouring spells with the same word.

    Args:
        plan: The run.
        words: One word for each spell.

    Returns:
        For each stretch: when it begins and ends [s], and its word.
    """
    joined: list[tuple[float, float, str]] = []
    for spell, word in zip(plan.spells, words, strict=True):
        if joined and joined[-1][2] == word:
            joined[-1] = (joined[-1][0], spell.ends, word)
        else:
            joined.append((spell.begins, spell.ends, word))
    return joined
