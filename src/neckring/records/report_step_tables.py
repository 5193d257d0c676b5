"""The tables of steps: against the kit, at meetings, by person."""

from __future__ import annotations

from neckring.records.report_records import RunReport
from neckring.records.report_step_records import ProcedureFact, StepFact
from neckring.records.report_steps import late_people, late_steps
from neckring.records.report_table import FROM_FIRST, Column, Table, table
from neckring.records.report_words import (
    DASH,
    count,
    lasting,
    moment,
    person,
)

STEP_COLUMNS = (
    Column("step"),
    Column("who"),
    Column("what", wide=True),
    Column("done at", figure=True),
    Column("took", figure=True),
    Column("kit: least, likely, most", figure=True),
    Column("over", figure=True),
    Column("by"),
)


def late_table(report: RunReport, most: int = 20) -> Table:
    """Steps that took longer than the most of the kit."""
    late = late_steps(report.procedures)
    more = f" The {most} longest of {len(late)}." if len(late) > most else ""
    says = (
        "Steps that took longer than the kit's most, the longest over it first. A step counts "
        "from when its people had recorded what came before and the kit stood as it needs; holds "
        "and stops are left out."
        f"{more}"
    )
    rows = ((False, _step_row(report, step, with_code=True)) for step in late[:most])
    return table(says, STEP_COLUMNS, rows, "No step took longer than the kit's most.")


def steps_table(report: RunReport, procedure: ProcedureFact) -> Table:
    """Every step of one procedure."""
    rows = (
        (step.late > 0 or step.status != "done", _step_row(report, step))
        for step in procedure.steps
    )
    says = f"{procedure.code}: {procedure.title}"
    return table(says, STEP_COLUMNS, rows, "It has no steps.")


def _step_row(report: RunReport, step: StepFact, with_code: bool = False) -> tuple[str, ...]:
    number = f"{step.procedure} {step.number}" if with_code else str(step.number)
    checked = f", checked by {', '.join(step.confirmed_by)}" if step.confirmed_by else ""
    read = f" Read: {step.measured}." if step.measured else ""
    failed = f" {count(step.failures, 'time')} not as expected." if step.failures else ""
    return (
        number,
        ", ".join(step.lanes),
        f"{step.words}.{read}{failed}" if read or failed else step.words,
        step.status if step.done is None else moment(report, step.done),
        lasting(step.took),
        f"{step.least:.0f}, {step.likely:.0f}, {step.most:.0f} s" if step.most else DASH,
        lasting(step.late) if step.late > 0 else DASH,
        f"{step.by or DASH}{checked}",
    )


def meetings_table(report: RunReport) -> Table:
    """Who came last where several wait for one another."""
    columns = [
        Column("meeting"),
        Column("at", figure=True),
        Column("came last"),
        Column("waited for them", wide=True),
    ]
    rows = []
    for one in report.meetings:
        latest = one.arrived[one.last]
        others = [
            f"{person(lane)} {lasting(latest - at)}"
            for lane, at in one.arrived.items()
            if latest - at >= 1.0
        ]
        if others:
            cells = (
                f"{one.procedure} {one.number}",
                moment(report, one.at),
                person(one.last),
                ", ".join(others),
            )
            rows.append((False, cells))
    return table(
        f"Meetings at which somebody waited. {FROM_FIRST}",
        columns,
        rows,
        "Nobody waited at a meeting.",
    )


def people_table(report: RunReport) -> Table:
    """Whose steps ran over, and who came last to meetings."""
    over = late_people(report.procedures)
    last: dict[str, int] = {}
    for one in report.meetings:
        last[one.last] = last.get(one.last, 0) + 1
    lanes = dict.fromkeys(lane for p in report.procedures for s in p.steps for lane in s.lanes)
    columns = [
        Column("who"),
        Column("over the kit's most, all steps", figure=True),
        Column("came last to meetings", figure=True),
    ]
    rows = (
        (False, (person(lane), lasting(over.get(lane, 0.0)), count(last.get(lane, 0), "time")))
        for lane in lanes
    )
    return table("Who was late, all procedures together.", columns, rows, "Nobody did a step.")
