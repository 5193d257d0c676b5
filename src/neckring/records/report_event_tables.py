"""The tables of what happened: stops, deviations, calls, cards, words of people."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from neckring.records.report_event_records import Happening, Interruption
from neckring.records.report_records import RunReport
from neckring.records.report_step_records import Deviation
from neckring.records.report_table import FROM_FIRST, Column, Table, table
from neckring.records.report_words import (
    DASH,
    lasting,
    moment,
    whom,
)


def interruptions_table(report: RunReport) -> Table:
    """Holds, stops, turn backs."""
    columns = [
        Column("what"),
        Column("whom"),
        Column("at", figure=True),
        Column("by"),
        Column("reason", wide=True),
        Column("tap to log", figure=True),
        Column("lasted", figure=True),
        Column("went on by"),
        Column("because", wide=True),
    ]
    says = (
        f"Holds, stops and turn backs. {FROM_FIRST} Tap to log: how long a tap waited on its "
        "tablet before it reached the desk."
    )
    rows = ((one.kind == "stop", _interruption_row(report, one)) for one in report.interruptions)
    return table(says, columns, rows, "Nothing was held or stopped, and nobody called a turn back.")


def _interruption_row(report: RunReport, one: Interruption) -> tuple[str, ...]:
    lasted = None if one.ended is None else one.ended - one.at
    over = one.kind == "turn back" or one.ended is not None
    return (
        one.kind,
        whom(one.wearers),
        moment(report, one.at),
        one.by,
        one.reason or DASH,
        DASH if one.late is None else lasting(max(0.0, one.late)),
        lasting(lasted) if over else "to the end",
        one.resumed_by or DASH,
        one.resumed_why or DASH,
    )


def deviations_table(report: RunReport) -> Table:
    """What was done otherwise than written."""
    columns = [
        Column("what"),
        Column("which", wide=True),
        Column("at", figure=True),
        Column("by"),
        Column("reason", wide=True),
        Column("the prover had shown", wide=True),
    ]

    def row(one: Deviation) -> tuple[str, ...]:
        shown = one.shown or "not asked: nothing was left out or moved"
        return one.kind, one.what, moment(report, one.at), one.by, one.reason or DASH, shown

    rows = ((one.kind != "moved", row(one)) for one in report.deviations)
    return table(
        f"What was done otherwise than written. {FROM_FIRST}",
        columns,
        rows,
        "Every step was done as written and in order.",
    )


def happenings_table(
    report: RunReport, some: Sequence[Happening], says: str, nothing: str
) -> Table:
    """What people recorded, with their words."""
    columns = [
        Column("at", figure=True),
        Column("whom"),
        Column("by"),
        Column("what", wide=True),
        Column("in their words", wide=True),
    ]
    rows = (
        (
            False,
            (
                moment(report, one.at),
                one.wearer or DASH,
                one.by,
                one.what or one.kind,
                one.words or DASH,
            ),
        )
        for one in some
    )
    return table(f"{says} {FROM_FIRST}", columns, rows, nothing)


def calls_table(report: RunReport) -> Table:
    """Symptom calls."""
    columns = [
        Column("wearer"),
        Column("answered", figure=True),
        Column("missed", figure=True),
        Column("missed at", wide=True),
        Column("longest without an answer", figure=True),
    ]
    rows = (
        (
            bool(one.missed),
            (
                one.wearer,
                str(len(one.answered)),
                str(len(one.missed)),
                ", ".join(moment(report, at) for at in one.missed) or DASH,
                lasting(_longest_between(one.answered)),
            ),
        )
        for one in report.calls
    )
    return table(f"Symptom calls. {FROM_FIRST}", columns, rows, "Nobody was to be called.")


def _longest_between(times: Sequence[float]) -> float | None:
    gaps = [after - before for before, after in pairwise(times)]
    return max(gaps, default=None)


def cards_table(report: RunReport) -> Table:
    """Emergency cards."""
    columns = [
        Column("card"),
        Column("wearer"),
        Column("opened", figure=True),
        Column("by"),
        Column("steps done, after", wide=True),
        Column("closed after", figure=True),
    ]
    rows = (
        (
            one.closed is None,
            (
                one.card,
                one.wearer,
                moment(report, one.opened),
                one.by,
                ", ".join(f"{n}: {lasting(at - one.opened)}" for n, at in one.steps.items())
                or "none",
                "never" if one.closed is None else lasting(one.closed - one.opened),
            ),
        )
        for one in report.cards
    )
    return table(f"Emergency cards. {FROM_FIRST}", columns, rows, "No emergency card was opened.")
