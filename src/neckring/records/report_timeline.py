"""The run as it was under the run as planned: spells in boxes, holds and stops across them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from neckring.records.picture_sheet import PALE_INK, Strip, drawing_style, new_sheet
from neckring.records.picture_svg import Drawing, drawing_of
from neckring.records.pictures import INK
from neckring.records.plan_timeline import draw_box
from neckring.records.report_course_records import SpellFact, Stretch
from neckring.records.report_plots import as_drawn
from neckring.records.report_records import RunReport
from neckring.records.report_words import lasting, moment, signed, whom

TITLE = "The run as planned and as it was"
CAPTION = (
    "Boxes are spells, with the plan over what was. Under them procedures, and when the run was "
    "held or stopped. The broken line: when somebody called a turn back or the way home began. "
    "The table of spells has every time."
)
ROW = 20.0
"""Height of one row [pt]."""
Row = tuple[str, Sequence[tuple[Stretch, str]]]


def draw_course(report: RunReport) -> Drawing | None:
    """Draw spells planned and real, procedures, holds and stops; None without a plan.

    Args:
        report: Of the run.
    """
    letters = [letter for letter in report.letters if letter in report.plans]
    if not letters:
        return None
    rows = [row for letter in letters for row in _spell_rows(report, letter)]
    rows.append(("procedures", _procedures(report)))
    rows.append(("held, stopped", _held(report)))
    with drawing_style():
        plan = as_drawn(report, letters[0])
        figure, (strip,) = new_sheet(plan, [ROW * len(rows)], 0.0, not report.rehearsal)
        strip.axes.set_ylim(0, len(rows))
        for number, (name, boxes) in enumerate(reversed(rows)):
            strip.write(name, 54.0, strip.up(number + 0.5), ha="right", va="center_baseline")
            for stretch, word in boxes:
                _draw(strip, report, number, stretch, word)
        _mark_turn_backs(strip, report)
        drawn = drawing_of(figure, "course", TITLE, course_words(report))
    # The caption beside it is short: every spell stands in a table under it.
    return replace(drawn, words=CAPTION)


def _draw(strip: Strip, report: RunReport, row: int, stretch: Stretch, word: str) -> None:
    begins, ends = (max(0.0, report.since(at)) for at in (stretch.begins, stretch.ends))
    if ends > begins:
        # What lasts a moment only is still drawn as wide as a stroke.
        draw_box(strip, row, begins, max(ends, begins + strip.plan.duration / 600.0), word)


def _spell_rows(report: RunReport, letter: str) -> Iterator[Row]:
    own = [one for one in report.spells if one.wearer == letter]
    yield f"{letter} plan", [(o.planned, o.activity) for o in own if o.planned is not None]
    yield f"{letter} real", [(Stretch(*ends), o.activity) for o in own if (ends := _ends(o))]


def _ends(one: SpellFact) -> tuple[float, float] | None:
    return None if one.begun is None or one.ended is None else (one.begun, one.ended)


def _procedures(report: RunReport) -> list[tuple[Stretch, str]]:
    return [
        (Stretch(one.begun, report.last if one.ended is None else one.ended), one.code)
        for one in report.procedures
        if one.begun is not None
    ]


def _held(report: RunReport) -> list[tuple[Stretch, str]]:
    return [
        (Stretch(one.at, report.last if one.ended is None else one.ended), one.kind)
        for one in report.interruptions
        if one.kind != "turn back"
    ]


def _mark_turn_backs(strip: Strip, report: RunReport) -> None:
    """A thick stroke where each way home began, with its letter under the top edge."""
    for one in report.turn_backs:
        real = min((at for at in (one.called, one.home) if at is not None), default=None)
        if real is not None:
            minutes = report.since(real) / 60.0
            strip.axes.axvline(minutes, color=INK, linewidth=1.2, dashes=(3, 2), clip_on=False)
            up = strip.bottom + strip.height + 3
            strip.write("home", strip.across(minutes), up, ha="center", color=PALE_INK)


def course_words(report: RunReport) -> str:
    """The picture in words."""
    spells = "; ".join(
        f"{one.wearer} {one.number + 1} {one.activity} at {moment(report, one.begun)}"
        + ("" if one.planned is None else f", {signed(one.begun - one.planned.begins)}")
        for one in report.spells
        if one.begun is not None
    )
    held = "; ".join(
        f"{one.kind} of {whom(one.wearers)} at {moment(report, one.at)} for "
        f"{lasting((report.last if one.ended is None else one.ended) - one.at)}"
        for one in report.interruptions
        if one.kind != "turn back"
    )
    return (
        f"Spells as they were, each against the plan: {spells or 'none recorded'}. "
        f"Held or stopped: {held or 'never'}."
    )
