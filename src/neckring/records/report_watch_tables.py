"""The tables of what watched the run: alarms, sensors, and the files it stood on."""

from __future__ import annotations

from neckring.records.report_course_records import SensorFact
from neckring.records.report_records import RunReport
from neckring.records.report_table import FROM_FIRST, Column, Table, table
from neckring.records.report_words import (
    DASH,
    RANKS,
    lasting,
    moment,
    read_words,
    share,
)


def alarms_table(report: RunReport) -> Table:
    """Alarms."""
    columns = [
        Column("rank"),
        Column("wearer"),
        Column("what", wide=True),
        Column("raised", figure=True),
        Column("acknowledged after", figure=True),
        Column("by"),
        Column("lasted", figure=True),
    ]
    rows = (
        (
            one.rank == 3 and one.acknowledged is None,
            (
                RANKS.get(one.rank, str(one.rank)),
                one.wearer or DASH,
                one.words,
                moment(report, one.raised),
                "never" if one.acknowledged is None else lasting(one.acknowledged - one.raised),
                one.acknowledged_by or DASH,
                "to the end" if one.ended is None else lasting(one.ended - one.raised),
            ),
        )
        for one in report.alarms
    )
    says = f"Alarms in order; one that gets worse is raised anew. {FROM_FIRST}"
    return table(says, columns, rows, "No alarm was raised.")


def sensors_table(report: RunReport) -> Table:
    """Channels and how far they could be believed."""
    columns = [
        Column("wearer"),
        Column("channel"),
        Column("readings", figure=True),
        Column("good", figure=True),
        Column("longest without a good one", figure=True),
        Column("good ones, lowest to highest", figure=True),
        Column("flaws", wide=True),
    ]
    rows = ((one.good < 0.95 * one.count or not one.count, _sensor(one)) for one in report.sensors)
    says = (
        "Sensors. A reading with a flaw is shown as such, kept, and used by nothing. Marked: less "
        "than 95 % good, or silent."
    )
    nothing = report.provenance.readings or "The suits have no sensors."
    return table(says, columns, rows, f"Without readings: {nothing}")


def _sensor(one: SensorFact) -> tuple[str, ...]:
    good = one.value[one.fine]
    flaws = (f"{name} {share(int(bad.sum()), one.count)}" for name, bad in one.flawed.items())
    ends = (float(good.min()), float(good.max())) if len(good) else None
    return (
        one.wearer,
        one.channel,
        str(one.count) if one.count else "silent",
        share(one.good, one.count),
        lasting(one.longest_gap) if one.count else DASH,
        f"{read_words(one, ends[0])} to {read_words(one, ends[1])}" if ends else DASH,
        ", ".join(flaws) or DASH,
    )


def files_table(report: RunReport) -> Table:
    """Station files and their digests."""
    changed = set(report.provenance.changed)
    columns = [Column("file"), Column("digest (SHA-256)", wide=True), Column("since then")]
    names = sorted({*report.provenance.parts, *changed})
    rows = (
        (
            name in changed,
            (
                name,
                report.provenance.parts.get(name, "was not there"),
                "changed" if name in changed else "the same",
            ),
        )
        for name in names
    )
    says = "Station files as they were carried out; comments do not count."
    return table(says, columns, rows, "The log book names no files.")
