"""A run's report as one self-contained page: for a screen, for paper, without network or script."""

from __future__ import annotations

from dataclasses import dataclass

from neckring import __version__
from neckring.live.book_head import picture_of, text_of, words_of
from neckring.outing.cautions import ALWAYS
from neckring.records.page_frame import environment, style_named
from neckring.records.report_findings import findings, headline
from neckring.records.report_records import RunReport
from neckring.records.report_sections import sections
from neckring.records.report_watch_tables import files_table
from neckring.records.report_words import count, lasting

VERIFIED = (
    "The log book was read from its first entry to its last: every entry is as it was written, in "
    "its order, none is missing between them. That none was cut off at the end is known only by "
    "comparing this head with one that was kept elsewhere when the run was closed."
)


@dataclass(frozen=True)
class Number:
    """One of the numbers at the head of the page."""

    label: str
    value: str
    note: str
    grave: bool = False


def render_report(report: RunReport) -> str:
    """Write a report as one HTML page that needs nothing beside itself.

    The same report always gives the same text.

    Args:
        report: Of the run.

    Returns:
        The whole HTML document.
    """
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            report=report,
            title=title(report),
            headline=headline(report),
            findings=findings(report),
            numbers=numbers(report),
            particulars=particulars(report),
            sections=sections(report),
            verified=VERIFIED,
            head_words=words_of(report.provenance.head),
            head_text=text_of(report.provenance.head),
            head_picture=picture_of(report.provenance.head, 3.0),
            files=files_table(report),
            cautions=ALWAYS,
            version=__version__,
            style=style_named(f"{report.station}, report of {' with '.join(report.runs.values())}"),
        )
    )


def title(report: RunReport) -> str:
    """What the report is called."""
    return f"{'Rehearsal' if report.rehearsal else 'Run'} {' with '.join(report.runs.values())}"


def particulars(report: RunReport) -> list[tuple[str, str]]:
    """Who, what and when, in a few words."""
    told = [
        (f"wearer {letter}", f"{report.wearers[letter]} in {report.suits[letter]}")
        for letter in report.letters
    ]
    if report.opened is not None:
        told.append(("date", f"{report.opened:%Y-%m-%d}"))
        told.append(("opened", f"{report.opened:%H:%M %Z}"))
    told.append(("first dressing", f"{lasting(report.first_dressing)} later"))
    told.append(("people", ", ".join(f"{code} {part}" for code, part in report.people.items())))
    told.append(("made by", f"neckring {report.provenance.version or __version__}"))
    return told


def numbers(report: RunReport) -> list[Number]:
    """The run in figures."""
    stops = [one for one in report.interruptions if one.kind == "stop"]
    holds = [one for one in report.interruptions if one.kind == "hold"]
    grave = [one for one in report.alarms if one.rank == 3]
    missed = sum(len(one.missed) for one in report.calls)
    calls = missed + sum(len(one.answered) for one in report.calls)
    done = [s for p in report.procedures for s in p.steps if s.done is not None]
    late = sum(step.late > 0 for step in done)
    return [
        Number("length", lasting(report.last - report.first_dressing), "from first dressing"),
        *(
            Number(
                f"wearer {one.wearer} in the suit",
                lasting(one.suit),
                f"face closed in {lasting(one.closed)}, away {lasting(one.away)}",
            )
            for one in report.exposures
        ),
        Number("stops", str(len(stops)), f"and {count(len(holds), 'hold')}", bool(stops)),
        Number("alarms to act at once", str(len(grave)), f"of {len(report.alarms)}", bool(grave)),
        Number("calls missed", str(missed), f"of {calls}", bool(missed)),
        Number("symptoms told", str(len(report.symptoms)), "by wearers", bool(report.symptoms)),
        Number("otherwise than written", str(len(report.deviations)), "with reasons"),
        Number("steps over the kit's most", str(late), f"of {len(done)} done"),
    ]
