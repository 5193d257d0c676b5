"""The tables of a run's course: procedures, spells, turn-back, clocks, exposures."""

from __future__ import annotations

from collections.abc import Iterator

from neckring.records.report_records import RunReport
from neckring.records.report_step_records import ProcedureFact
from neckring.records.report_table import FROM_FIRST, Column, Table, table
from neckring.records.report_words import (
    DASH,
    lasting,
    moment,
    signed,
)


def course_table(report: RunReport) -> Table:
    """Procedures of the day."""
    columns = [
        Column("procedure"),
        Column("begun", figure=True),
        Column("ended", figure=True),
        Column("took", figure=True),
        Column("held or stopped", figure=True),
        Column("steps done", figure=True),
        Column("left out", figure=True),
        Column("over the kit's most", figure=True),
    ]
    says = f"Procedures of the day. {FROM_FIRST}"
    rows = (_course_row(report, one) for one in report.procedures)
    return table(says, columns, rows, "No procedure was carried out.")


def _course_row(report: RunReport, one: ProcedureFact) -> tuple[bool, tuple[str, ...]]:
    done = sum(step.done is not None for step in one.steps)
    left_out = sum(step.status == "left out" for step in one.steps)
    took = None if one.begun is None or one.ended is None else one.ended - one.begun
    return took is None or left_out > 0, (
        f"{one.code}: {one.title}",
        moment(report, one.begun),
        moment(report, one.ended),
        lasting(took),
        lasting(one.held) if one.held else DASH,
        f"{done} of {len(one.steps)}",
        str(left_out) if left_out else DASH,
        str(sum(step.late > 0 for step in one.steps)),
    )


def spells_table(report: RunReport) -> Table:
    """Spells of the outing, planned and as they were."""
    columns = [
        Column("wearer"),
        Column("spell"),
        Column("place"),
        Column("planned", figure=True),
        Column("begun", figure=True),
        Column("lasted", figure=True),
        Column("against the plan", figure=True),
    ]
    says = (
        f"Spells of the outing. {FROM_FIRST} Against the plan: how much later or earlier the "
        "spell began."
    )
    return table(says, columns, _spell_rows(report), "No outing was planned.")


def _spell_rows(report: RunReport) -> Iterator[tuple[bool, tuple[str, ...]]]:
    for one in report.spells:
        lasted = None if one.begun is None or one.ended is None else one.ended - one.begun
        later = DASH
        if one.begun is not None and one.planned is not None:
            later = signed(one.begun - one.planned.begins)
        yield (
            one.begun is None,
            (
                one.wearer,
                f"{one.number + 1} {one.activity}",
                one.place,
                DASH if one.planned is None else moment(report, one.planned.begins),
                "not recorded" if one.begun is None else moment(report, one.begun),
                lasting(lasted),
                later,
            ),
        )


def turn_back_table(report: RunReport) -> Table:
    """Turn-back time, three ways."""
    columns = [
        Column("wearer"),
        Column("planned, at the latest", figure=True),
        Column("estimated, 5 to 95 %", figure=True),
        Column("called", figure=True),
        Column("way home began", figure=True),
        Column("slack to the plan", figure=True),
    ]
    says = (
        f"Turn-back time. {FROM_FIRST} Estimated: the last live estimate before the way home "
        "began. A planned time is there only when the report was made with --members."
    )
    return table(says, columns, _turn_back_rows(report), "Nobody was to go away.")


def _turn_back_rows(report: RunReport) -> Iterator[tuple[bool, tuple[str, ...]]]:
    for one in report.turn_backs:
        real = min((at for at in (one.called, one.home) if at is not None), default=None)
        late = one.planned is not None and real is not None and real > one.planned
        slack = DASH
        if one.planned is not None and real is not None:
            slack = f"{lasting(abs(one.planned - real))} {'too late' if late else 'left'}"
        yield (
            late,
            (
                one.wearer,
                "not computed" if one.planned is None else moment(report, one.planned),
                _band(report, one.estimated),
                moment(report, one.called),
                moment(report, one.home),
                slack,
            ),
        )


def _band(report: RunReport, band: tuple[float | None, float | None, float | None] | None) -> str:
    if band is None:
        return "no estimate"
    low, middle, high = (moment(report, end) for end in band)
    return f"{middle} ({low} to {high})"


def clocks_table(report: RunReport) -> Table:
    """Reserve clocks."""
    columns = [
        Column("clock"),
        Column("wearer"),
        Column("started", figure=True),
        Column("ended", figure=True),
        Column("ran", figure=True),
        Column("may run", figure=True),
        Column("ran out", figure=True),
    ]
    rows = (
        (
            one.over is not None,
            (
                f"{one.code}: {one.words}",
                one.wearer,
                moment(report, one.started),
                "never" if one.ended is None else moment(report, one.ended),
                lasting((report.last if one.ended is None else one.ended) - one.started),
                "by plan or estimate" if one.lasts is None else lasting(one.lasts),
                "no" if one.over is None else moment(report, one.over),
            ),
        )
        for one in report.clocks
    )
    return table(f"Reserve clocks. {FROM_FIRST}", columns, rows, "No reserve clock started.")


def exposure_table(report: RunReport) -> Table:
    """How long each wearer was in it."""
    columns = [
        Column("wearer"),
        Column("in the suit", figure=True),
        Column("face closed in", figure=True),
        Column("on the pack's air", figure=True),
        Column("away", figure=True),
        Column("waited in procedures", figure=True),
        Column("of it with the face closed in", figure=True),
    ]
    says = (
        "How long each wearer was in it, by the steps and spells recorded. Face closed in: no "
        "fresh air but what pack or umbilical bring. Waited: a procedure ran, nothing was held, "
        "and no step was done by or on the wearer."
    )
    waits = {one.wearer: one for one in report.waits}
    rows = (
        (
            False,
            (
                one.wearer,
                lasting(one.suit),
                lasting(one.closed),
                lasting(one.pack),
                lasting(one.away),
                lasting(waits[one.wearer].waited),
                lasting(waits[one.wearer].closed),
            ),
        )
        for one in report.exposures
    )
    return table(says, columns, rows, "Nobody wore a suit.")
