"""A report as sections of sentences, pictures and tables: one order for page and print."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from neckring.live.drill_words import story_words
from neckring.records import report_course_tables as course
from neckring.records import report_event_tables as events
from neckring.records import report_step_tables as steps
from neckring.records import report_watch_tables as watch
from neckring.records.picture_svg import Drawing
from neckring.records.report_plots import draw_quantities
from neckring.records.report_records import RunReport
from neckring.records.report_step_plot import draw_steps
from neckring.records.report_table import Column, Table, table
from neckring.records.report_timeline import draw_course
from neckring.records.report_words import DASH, moment


@dataclass(frozen=True)
class Section:
    """One section.

    Attributes:
        key: Short name, unique in the report.
        title: Its heading.
        sentences: What is said first.
        pictures: Drawings, in order.
        tables: Tables, in order.
    """

    key: str
    title: str
    sentences: tuple[str, ...] = ()
    pictures: tuple[Drawing, ...] = ()
    tables: tuple[Table, ...] = ()


HOW_TO_READ = (
    "Dashed dark line: as planned, from first dressing. Band and line: the live estimate, 5 to 95 "
    "% and its middle. Dots: good readings; short strokes at the lower edge: readings with a flaw, "
    "whose values are not drawn. Numbers over a picture and its shading are the real spells. "
    "Horizontal lines are limits of the signed sheet."
)
HOW_STEPS_ARE_TIMED = (
    "Grey bars: from the kit's least to its most; stroke: its likely time. White dots: as it was; "
    "filled diamonds: longer than the most. The scale is logarithmic."
)


def sections(report: RunReport) -> tuple[Section, ...]:
    """Everything a report shows, in its order.

    Args:
        report: Of the run.
    """
    return (
        _course(report),
        _interruptions(report),
        *_quantities(report),
        _steps(report),
        _deviations(report),
        _alarms(report),
        *_drill(report),
        _sensors(report),
        _words(report),
        *_forms(report),
        _every_step(report),
    )


def _course(report: RunReport) -> Section:
    drawing = draw_course(report)
    tables = (
        course.course_table(report),
        course.exposure_table(report),
        course.turn_back_table(report),
        course.clocks_table(report),
        course.spells_table(report),
    )
    return Section("course", "The run against its plan", (), (drawing,) if drawing else (), tables)


def _interruptions(report: RunReport) -> Section:
    return Section(
        "stops", "Holds, stops, turn backs", tables=(events.interruptions_table(report),)
    )


def _quantities(report: RunReport) -> Iterator[Section]:
    drawn = tuple(draw_quantities(report))
    if drawn:
        yield Section(
            "quantities", "Temperatures, air, water, battery", (HOW_TO_READ,), pictures=drawn
        )


def _steps(report: RunReport) -> Section:
    tables = (
        steps.late_table(report),
        steps.people_table(report),
        steps.meetings_table(report),
    )
    pictures = tuple(draw_steps(report))
    said = (HOW_STEPS_ARE_TIMED,) if pictures else ()
    return Section("steps", "Step times against the kit", said, pictures, tables)


def _deviations(report: RunReport) -> Section:
    tables = (
        events.deviations_table(report),
        events.happenings_table(
            report,
            report.failed_steps,
            "Steps whose expected sign was not there.",
            "Every step showed its expected sign.",
        ),
        events.happenings_table(
            report,
            report.refused,
            "Deeds that the desk refused; nothing of them counts.",
            "The desk refused nothing.",
        ),
    )
    return Section("deviations", "Otherwise than written", tables=tables)


def _alarms(report: RunReport) -> Section:
    tables = (
        watch.alarms_table(report),
        events.calls_table(report),
        events.happenings_table(
            report, report.symptoms, "Symptoms as told.", "No symptom was told."
        ),
        events.cards_table(report),
    )
    return Section("alarms", "Alarms, calls, symptoms, cards", tables=tables)


def _drill(report: RunReport) -> Iterator[Section]:
    if report.drill is None:
        return
    told = tuple(line.strip() for story in report.drill.stories for line in story_words(story))
    extra = tuple(f"While no fault was there: {done}." for done in report.drill.without_fault)
    nothing = ("No fault was put in.",) if not report.drill.stories else ()
    yield Section("drill", "Faults of the rehearsal", (*nothing, *told, *extra))


def _sensors(report: RunReport) -> Section:
    return Section("sensors", "Sensors", tables=(watch.sensors_table(report),))


def _words(report: RunReport) -> Section:
    released = table(
        "Released after the run.",
        (Column("wearer"), Column("by"), Column("at", figure=True)),
        (
            (letter not in report.released, (letter, *_release(report, letter)))
            for letter in report.letters
        ),
        "Nobody was to be released.",
    )
    notes = events.happenings_table(report, report.notes, "Notes.", "No note was written.")
    return Section("notes", "Release and notes", tables=(released, notes))


def _release(report: RunReport, letter: str) -> tuple[str, str]:
    if letter not in report.released:
        return DASH, "not released"
    by, at = report.released[letter]
    return by, moment(report, at)


def _forms(report: RunReport) -> Iterator[Section]:
    if report.forms:
        columns = (Column("asked", wide=True), Column("answered", wide=True))
        tables = tuple(
            table(
                f"{form.name}{f', wearer {form.wearer}' if form.wearer else ''}",
                columns,
                ((False, line) for line in form.lines),
                "It was left empty.",
            )
            for form in report.forms
        )
        yield Section("forms", "Forms", tables=tables)


def _every_step(report: RunReport) -> Section:
    begun = [one for one in report.procedures if one.begun is not None]
    tables = tuple(steps.steps_table(report, one) for one in begun)
    said = () if tables else ("No procedure was carried out.",)
    return Section("every-step", "Every step", said, tables=tables)
