"""A run's report: what the log book says, against what the run's own records say of it."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from kept_fixtures import SECRET, day, day_report, kept_day, told  # noqa: F401 - fixtures
from kept_runs import RUNS, copied, opened, plan_of, report_of, sheet

from neckring.live.book_head import read_head
from neckring.live.entries import Kind
from neckring.live.run_state import first_state, fold, fold_all
from neckring.procedure.model import holds
from neckring.records.kept_run import CannotReportError, open_kept
from neckring.records.report_course_records import Stretch
from neckring.records.report_facts import run_report
from neckring.records.report_findings import findings, headline
from neckring.records.report_page import render_report
from neckring.records.report_pdf import press_report
from neckring.records.report_plots import panels
from neckring.records.report_records import RunReport
from neckring.records.report_steps import late_steps
from neckring.records.report_walk import kit_walk, merged, total, within, without
from neckring.records.report_words import clocklike
from neckring.report_command import report as command

DEMO = Path(str(__import__("neckring").__file__)).parent / "station" / "demo"


# The kit and the clocks are those of the run's own fold


def test_the_kit_walked_through_is_the_kit_of_the_fold(kept: Path) -> None:
    # Given a kept day
    found = opened(kept)
    # When both go through it
    walk = {at.run_time: at.state for at in kit_walk(found.entries, found.sheet)}
    state, at, seen = first_state(found.sheet), sheet().start, 0
    for entry in found.entries:
        state = fold(state, entry, found.sheet)
        if state.kit != at:
            at, seen = state.kit, seen + 1
    # Then they end alike and have seen as many changes
    assert list(walk.values())[-1] == state.kit
    assert seen > 100
    assert len(kit_walk(found.entries, found.sheet)) == seen + 1


def test_reserve_clocks_are_those_of_the_run(kept: Path, report: RunReport) -> None:
    state = fold_all(sheet(), opened(kept).entries)
    last = {(one.code, one.wearer): one for one in report.clocks}
    assert set(last) == set(state.clocks)
    for key, now in state.clocks.items():
        assert (last[key].started, last[key].ended) == (now.started, now.ended)


def test_a_face_is_closed_in_just_as_long_as_visor_and_helmet_shut_it(
    kept: Path,
    report: RunReport,
) -> None:
    # Given the demo's kit, in which only an open visor or no helmet frees the face
    ground = sheet().ground
    for one in report.exposures:
        shut = ground.condition(ground.kit.conditions["sealed"], one.wearer)
        walk = kit_walk(opened(kept).entries, sheet())
        ends = [*(at.run_time for at in walk[1:]), report.last]
        sealed = sum(
            end - at.run_time for at, end in zip(walk, ends, strict=True) if holds(shut, at.state)
        )
        # Then that is what the report counts
        assert one.closed == pytest.approx(sealed)
        assert one.suit > one.closed > 0.0


# Stops, deviations, alarms, calls as they were tapped


def test_what_was_called_stands_in_the_report_with_reason_and_end(
    report: RunReport,
) -> None:
    hold, stop, back = report.interruptions
    assert (hold.kind, hold.by, hold.resumed_by) == ("hold", "T1", "L1")
    assert hold.ended is not None
    assert hold.ended - hold.at == pytest.approx(90.0)
    assert hold.late == pytest.approx(0.0)
    assert (stop.kind, stop.wearers, stop.ended is not None) == ("stop", ("A",), True)
    assert (back.kind, back.ended, back.wearers) == ("turn back", None, ("A",))
    kinds = [one.kind for one in report.deviations]
    assert kinds == ["left out", "accepted all the same", "left out"]
    assert report.deviations[0].shown.startswith("Nothing gets worse")
    assert len(report.failed_steps) == len(report.refused) == len(report.symptoms) == 1
    assert "by a tender" not in report.refused[0].what
    assert "for the lead" in report.refused[0].words
    (alarm,) = report.alarms
    assert alarm.acknowledged is not None
    assert alarm.ended is not None
    assert (alarm.acknowledged - alarm.raised, alarm.acknowledged_by) == (6.0, "T2")
    assert alarm.ended - alarm.raised == pytest.approx(86.0)
    assert [len(one.missed) for one in report.calls] == [0, 1]
    (card,) = report.cards
    assert list(card.steps) == [1]


def test_a_step_counts_from_when_its_people_were_free_without_holds(
    report: RunReport,
) -> None:
    # Given the step that followed the hold of 90 s and took 400 s more
    worst = late_steps(report.procedures)[0]
    # Then it took what passed since its person's last step, less the hold
    assert worst.begun is not None
    assert worst.done is not None
    assert worst.took == pytest.approx(worst.done - worst.begun - 90.0)
    assert worst.took is not None
    assert worst.late == pytest.approx(worst.took - worst.most)
    # And no step took less than nothing, nor began before its procedure
    for procedure in report.procedures:
        for step in procedure.steps:
            if step.took is not None:
                assert procedure.begun is not None
                assert step.begun is not None
                assert step.took >= 0.0
                assert step.begun >= procedure.begun


def test_the_way_home_begins_after_the_last_work_on_the_floor(
    report: RunReport,
) -> None:
    spells = {(one.wearer, one.number): one for one in report.spells}
    for one in report.turn_backs:
        assert one.home == spells[one.wearer, 9].begun
        assert one.estimated == (4000.0, 4200.0, 4500.0)
        assert one.planned is None  # no members were drawn


# Readings


def test_flawed_readings_are_counted_and_never_drawn(report: RunReport) -> None:
    heart = next(o for o in report.sensors if (o.wearer, o.channel) == ("A", "heart"))
    assert int(heart.flawed["frozen"].sum()) == heart.count - heart.good == 60
    assert heart.longest_gap == pytest.approx(305.0)
    panel = next(p for p in panels(report) if (p.wearer, p.quantity) == ("A", "heart_rate"))
    assert len(panel.read[0]) == heart.good
    assert len(panel.flawed) == 60
    silent = {o.channel for o in report.sensors if o.wearer == "A" and not o.count}
    assert "pump" in silent


def test_readings_are_drawn_at_the_plans_own_minutes(report: RunReport) -> None:
    # Given readings made from the plan as run time, one minute before the first dressing
    panel = next(
        p for p in panels(report) if (p.wearer, p.quantity) == ("B", "reservoir_temperature")
    )
    minutes, values = panel.read
    trace = plan_of("B").trace
    # Then shifted back by that minute they lie on the plan, but for the noise of 0.1 K
    expected = np.interp(minutes * 60.0 + 60.0, trace["time"], trace["reservoir_temperature"])
    assert abs(float(np.median(values - expected))) < 0.02


def test_without_readings_there_is_a_report_that_says_so(kept: Path, tmp_path: Path) -> None:
    folder = copied(kept, tmp_path / "run")
    (folder / "readings.sqlite").unlink()
    found = report_of(folder)
    assert found.sensors == ()
    assert any("without readings" in sentence for sentence in findings(found))
    assert "without readings" in render_report(found)


# Page and print


def test_the_page_is_one_file_with_no_script_and_escapes_what_people_wrote(
    report: RunReport,
) -> None:
    nasty = '<script>alert("x")</script>'
    note = replace(report.notes[0], words=nasty)
    page = render_report(replace(report, notes=(note,), closed_why=nasty))
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "http://" not in page.replace("http://www.w3.org/2000/svg", "")
    assert page.count("<svg") > 15
    # Here is what the tests of redaction look for
    assert SECRET in page
    head = report.provenance.head
    line = next(one for one in page.splitlines() if "neckring-head:" in one)
    assert read_head(line.split(">")[1].split("<")[0]) == head


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
def test_the_print_holds_the_whole_report_in_letters_that_can_be_read(
    report: RunReport,
    tmp_path: Path,
) -> None:
    # Given a note with a letter that the type of the sheets does not have
    note = replace(report.notes[0], words="\N{CJK UNIFIED IDEOGRAPH-4E2D} well")
    # When it is printed twice
    made = press_report(replace(report, notes=(note,)))
    assert made == press_report(replace(report, notes=(note,)))
    path = tmp_path / "report.pdf"
    path.write_bytes(made)
    text = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True
    ).stdout
    # Then everything stands in it, the strange letter by its number
    assert "[U+4E2D] well" in text
    assert report.provenance.head.digest[:8] in text
    for words in ("Holds, stops, turn backs", "Every step", "Cautions", "INVENTED", "Sensors"):
        assert words in text
    assert " ".join(headline(report).split())[:40] in " ".join(text.split())


def test_no_plan_no_pictures_but_a_report(kept: Path) -> None:
    found = report_of(kept, with_plans=False)
    page = render_report(found)
    assert "planned against actual" not in page
    assert "Every step" in page


# Laws of stretches


STRETCHES = st.lists(
    st.tuples(st.integers(0, 50), st.integers(0, 20)).map(lambda p: Stretch(p[0], p[0] + p[1])),
    max_size=8,
)


def covered(some: list[Stretch] | tuple[Stretch, ...]) -> set[float]:
    return {at for one in some for at in range(int(one.begins), int(one.ends))}


@given(STRETCHES, STRETCHES)
def test_stretches_are_sets_of_seconds(a: list[Stretch], b: list[Stretch]) -> None:
    assert covered(without(a, b)) == covered(a) - covered(b)
    assert covered(within(a, b)) == covered(a) & covered(b)
    assert total(merged(a)) == len(covered(a))


@given(st.floats(-1e5, 1e5))
def test_a_time_is_written_as_a_clock_would(seconds: float) -> None:
    text = clocklike(seconds).replace("\N{MINUS SIGN}", "-")
    hours, minutes, rest = (abs(int(part)) for part in text.split(":"))
    assert hours * 3600 + minutes * 60 + rest == round(abs(seconds))
    assert text.startswith("-") == (round(abs(seconds)) > 0 and seconds < 0)


# Bad input, by the command


def run(*words: object) -> tuple[int, str]:
    done = CliRunner().invoke(command, [str(word) for word in words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def test_a_wrong_folder_or_run_is_told_in_words(kept: Path, tmp_path: Path) -> None:
    here = ("--station", DEMO, "--out", tmp_path / "page.html")
    status, said = run("floor-survy", *here)
    assert status == 2
    assert "did you mean floor-survey" in said
    status, said = run(*RUNS, *here, "--keep", tmp_path / "nowhere")
    assert (status, "there is no such folder" in said) == (2, True)
    status, said = run(*RUNS, *here, "--keep", kept.parent)
    assert (status, "perhaps one of those in it: day" in said) == (2, True)
    status, said = run(*reversed(RUNS), *here, "--keep", kept)
    assert status == 2
    assert "opens the run floor-survey with floor-partner" in said
    status, said = run()
    assert status == 2
    assert not (tmp_path / "page.html").exists()


def test_a_log_that_does_not_verify_is_refused_with_its_place(
    kept: Path,
    tmp_path: Path,
) -> None:
    # Given a log in which one entry was changed behind the desk's back
    folder = copied(kept, tmp_path / "run")
    log = sqlite3.connect(folder / "log.sqlite")
    triggers = log.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall()
    for (name,) in triggers:
        log.execute(f'DROP TRIGGER "{name}"')
    log.execute("UPDATE entry SET text = replace(text, 'tablet', 'Tablet') WHERE number = 20")
    log.commit()
    log.close()
    # Then nobody gets a report of it
    with pytest.raises(CannotReportError, match="entry 20"):
        open_kept(folder, "", sheet())


def test_a_run_that_was_never_opened_has_nothing_to_tell(tmp_path: Path) -> None:
    from kept_runs import KeptDay

    KeptDay(tmp_path / "empty").closes()
    with pytest.raises(CannotReportError, match="no run was opened"):
        open_kept(tmp_path / "empty", "", sheet())


def test_a_rehearsal_is_known_as_one_and_a_run_as_a_run(kept: Path) -> None:
    found = opened(kept)
    assert found.sheet.rehearsal
    real = [e for e in found.entries if e.deed.kind is not Kind.FAULT_BEGUN]
    assert real
    # The digest alone tells, whatever the trainer did
    from neckring.records.kept_run import as_carried_out

    class Where:
        where = "log"

    assert as_carried_out(Where(), real, found.head, sheet()).rehearsal  # type: ignore[arg-type]


def test_a_log_half_way_through_gives_a_report_too(kept: Path) -> None:
    # Given the first entries only, however many
    found = opened(kept)
    from neckring.records.report_facts import Sources
    from neckring.records.report_records import Provenance

    for count in (1, 2, 5, 60, 200):
        sources = Sources(
            found.entries[:count], found.sheet, ("bay",), Provenance("0", "", found.head, {}, ())
        )
        made = run_report(sources)
        assert "was not closed" in headline(made)
    assert "Every step" in render_report(made)


def test_forms_are_shown_as_asked_and_answered(kept: Path, tmp_path: Path) -> None:
    folder = copied(kept, tmp_path / "run")
    (folder / "forms").mkdir()
    form = folder / "forms" / "1.json"
    form.write_text(
        '{"form": "comfort", "wearer": "A", "body": {"left shoulder": 3}, "sore": true}'
    )
    page = render_report(report_of(folder))
    assert "comfort, wearer A" in page
    assert "body, left shoulder" in page
    form.write_text("[1, 2")
    with pytest.raises(CannotReportError, match="it is no JSON"):
        open_kept(folder, "", sheet())
