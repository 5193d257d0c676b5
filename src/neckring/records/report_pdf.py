"""A run's report in print: the sections of the page, through the press of all sheets."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from neckring import __version__
from neckring.live.book_head import picture_of, text_of, words_of
from neckring.outing.cautions import ALWAYS
from neckring.records.report_findings import findings, headline
from neckring.records.report_page import VERIFIED, Number, numbers, particulars, title
from neckring.records.report_records import RunReport
from neckring.records.report_sections import Section, sections
from neckring.records.report_table import Table
from neckring.records.report_watch_tables import files_table
from neckring.records.sheet_press import CannotPrintError, Head, pressed

TYPE = "DejaVu Sans"
UNOPENED = datetime.date(1970, 1, 1)
"""Of a log book that tells no date."""


@dataclass(frozen=True)
class PrintedPicture:
    """A picture that stands alone: with its name space and its type."""

    key: str
    title: str
    words: str
    svg: str


@dataclass(frozen=True)
class PrintedTable:
    """A table whose marked rows are a list."""

    says: str
    columns: tuple[dict[str, Any], ...]
    rows: tuple[tuple[str, ...], ...]
    marked: tuple[int, ...]
    nothing: str


@dataclass(frozen=True)
class PrintedSection:
    """A section."""

    title: str
    sentences: tuple[str, ...]
    pictures: tuple[PrintedPicture, ...]
    tables: tuple[PrintedTable, ...]


@dataclass(frozen=True)
class PrintedReport:
    """Everything that is printed."""

    head: Head
    particulars: tuple[tuple[str, str], ...]
    headline: str
    findings: tuple[str, ...]
    numbers: tuple[Number, ...]
    sections: tuple[PrintedSection, ...]
    verified: str
    head_words: str
    head_text: str
    head_picture: str
    command: str
    files: PrintedTable
    cautions: tuple[str, ...]


def press_report(report: RunReport) -> bytes:
    """Print a report.

    Args:
        report: Of the run.

    Returns:
        The PDF; the same bytes for the same report. It bears the date of the run, not of today.
    """
    date = report.opened.date() if report.opened else UNOPENED
    sheet = printed(report, date)
    try:
        return pressed("report", sheet, date)
    except CannotPrintError as problem:
        # People may write any letter; one that the type lacks is printed by its number.
        return pressed("report", _spelled(sheet, problem.letters), date)


def printed(report: RunReport, date: datetime.date) -> PrintedReport:
    """What is printed of a report."""
    head = report.provenance.head
    return PrintedReport(
        head=Head(
            report.station,
            report.invented,
            title(report),
            f"report of a {'rehearsal' if report.rehearsal else 'run'}",
            f"log {head.digest[:12]}",
            f"from the log of {date.isoformat()}",
            report.provenance.version or __version__,
        ),
        particulars=tuple(particulars(report)),
        headline=headline(report),
        findings=findings(report),
        numbers=tuple(numbers(report)),
        sections=tuple(_section(one) for one in sections(report)),
        verified=VERIFIED,
        head_words=words_of(head),
        head_text=text_of(head),
        head_picture=picture_of(head),
        command=report.provenance.command,
        files=_table(files_table(report)),
        cautions=tuple(ALWAYS),
    )


def _section(one: Section) -> PrintedSection:
    return PrintedSection(
        one.title,
        one.sentences,
        tuple(
            PrintedPicture(each.key, each.title, each.words, stand_alone(each.svg))
            for each in one.pictures
        ),
        tuple(_table(each) for each in one.tables),
    )


def _table(one: Table) -> PrintedTable:
    columns = tuple({"name": c.name, "figure": c.figure, "wide": c.wide} for c in one.columns)
    return PrintedTable(one.says, columns, one.rows, tuple(sorted(one.marked)), one.nothing)


def stand_alone(svg: str) -> str:
    """A picture of a page as a file of its own."""
    head = f'<svg xmlns="http://www.w3.org/2000/svg" font-family="{TYPE}" '
    return svg.replace("<svg ", head, 1)


def _spelled(value: Any, letters: str) -> Any:  # noqa: ANN401 - whatever a sheet holds
    """The same with letters that cannot be printed spelled as [U+1F600]."""
    if isinstance(value, str):
        table = {ord(letter): f"[U+{ord(letter):04X}]" for letter in letters}
        return value.translate(table)
    if isinstance(value, tuple):
        return tuple(_spelled(each, letters) for each in value)
    if isinstance(value, dict):
        return {key: _spelled(each, letters) for key, each in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        parts = {f.name: _spelled(getattr(value, f.name), letters) for f in fields(value)}
        return type(value)(**parts)
    return value
