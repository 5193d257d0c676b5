"""`neckring console` and `neckring rehearse` as typed: what is wrong is told in words, status 2."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from book_worlds import in_memory
from click.testing import CliRunner, Result
from console_here import RUNS, console_here, wanted
from demo_day import DEMO, LEAD, MEDIC, ROLES

from neckring.cli import main
from neckring.live.entries import Deed, Kind
from neckring.web.serving import bound

COMMAND = str(Path(sys.executable).with_name("neckring"))
PATIENCE = 90.0


def typed(*words: str) -> Result:
    return CliRunner().invoke(main, [*words])


def console(kept: Path, *words: str, station: Path = DEMO, runs: tuple[str, ...] = RUNS) -> Result:
    return typed(
        "console", *runs, "--station", str(station), "--keep", str(kept), "--port", "0", *words
    )


def refused(result: Result, *words: str) -> None:
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    for each in words:
        assert each in result.output


@pytest.mark.parametrize(
    ("option", "value"), [("--serial", "C=/dev/ttyUSB0"), ("--strap", "A"), ("--serial", "A=")]
)
def test_a_wearer_that_is_none_is_told(tmp_path: Path, option: str, value: str) -> None:
    # When a sensor is given to nobody, then it is said, and nothing was opened
    refused(console(tmp_path / "kept", option, value), f'read "{value}"', "as in A=")
    assert not (tmp_path / "kept").exists()


def test_a_second_wearer_who_is_not_there_is_told_before_anything_is_opened(
    tmp_path: Path,
) -> None:
    starter = DEMO.parent / "starter"
    result = console(
        tmp_path / "kept", "--serial", "B=/dev/null", station=starter, runs=("first-run",)
    )
    refused(result, 'wearer: read "B"; accepted: A')
    assert not (tmp_path / "kept").exists()


def test_a_run_that_is_missing_is_told(tmp_path: Path) -> None:
    result = console(tmp_path / "kept", runs=("floor-survay", "floor-partner"))
    refused(result, "floor-survay", "floor-survey")
    assert not (tmp_path / "kept").exists()


def test_a_port_in_use_is_told(tmp_path: Path) -> None:
    with bound("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        result = console(tmp_path / "kept", "--port", str(port))
    refused(result, f"port {port}: address already in use", "--port")


def test_a_timeline_with_a_fault_is_told_before_anything_is_opened(tmp_path: Path) -> None:
    # Given a timeline in which a fault is misspelt
    timeline = tmp_path / "faults.yaml"
    timeline.write_text("faults:\n  - {at: 20 min, wearer: A, fault: fanz}\n")

    # When a rehearsal is started with it, then the place is told
    result = typed(
        *("rehearse", *RUNS, "--station", str(DEMO), "--keep", str(tmp_path / "kept")),
        *("--port", "0", "--timeline", str(timeline)),
    )
    refused(result, "faults.yaml:2", "fanz", "fans")
    assert not (tmp_path / "kept").exists()


def test_files_changed_since_the_run_was_opened_are_told(tmp_path: Path) -> None:
    # Given a run that was opened, and a suit's file that was changed since
    station = Path(shutil.copytree(DEMO, tmp_path / "station"))
    with console_here(wanted(tmp_path / "kept", folder=station)):
        pass
    run = station / "runs" / "floor-survey.yaml"
    run.write_text(run.read_text().replace("for: 12 min", "for: 13 min"))

    # When the console is started again, then it names the file and what may be said
    refused(console(tmp_path / "kept", station=station), "runs/floor-survey.yaml", "explicitly")


def test_a_book_of_another_run_is_told(tmp_path: Path) -> None:
    with console_here(wanted(tmp_path / "kept")):
        pass
    result = console(tmp_path / "kept", runs=RUNS[::-1])
    refused(result, "this book is of floor-survey and floor-partner")


def test_a_run_that_is_over_is_told_and_may_be_looked_at(tmp_path: Path) -> None:
    # Given a run that is closed, and nobody released yet
    with console_here(wanted(tmp_path / "kept")) as here:
        take(here.served.desk, "k-1", LEAD, Kind.RUN_CLOSED, reason="weather")

    # When the console comes back, then it is there: somebody must still be released
    with console_here(wanted(tmp_path / "kept")) as here:
        for letter in "AB":
            take(here.served.desk, f"r-{letter}", MEDIC, Kind.RELEASED, wearer=letter)
    before = (tmp_path / "kept" / "log.sqlite").read_bytes()

    # And once everybody is, it refuses, writes nothing, and says how to look at it
    refused(console(tmp_path / "kept"), "is closed", "--replay", "--keep")
    assert (tmp_path / "kept" / "log.sqlite").read_bytes() == before


def take(desk, key: str, who: str, kind: Kind, **body: str) -> None:
    answer = desk.take(Deed(key, kind, who, ROLES[who], "tablet", body))
    assert answer.status == "recorded", answer.why


@pytest.mark.parametrize("again", [False, True])
def test_a_rehearsal_that_is_ended_reports_or_is_cut_short_whole(again: bool) -> None:
    # Given a rehearsal that is up
    with in_memory() as folder:
        process = subprocess.Popen(
            [
                *(COMMAND, "rehearse", *RUNS, "--station", str(DEMO), "--keep", f"{folder}/kept"),
                *("--port", "0", "--particles", "0"),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        assert process.stdout is not None
        for line in process.stdout:
            if "Ctrl-C" in line:
                break

        # When it is ended from the keyboard, once, or again while it reports
        process.send_signal(signal.SIGINT)
        told = ""
        for line in process.stdout:
            told += line
            if again and "has ended" in line:
                process.send_signal(signal.SIGINT)
        assert process.wait(PATIENCE) == 0

        # Then it reports or says that it was cut short, and the book is whole
        assert "Traceback" not in told
        assert "No fault was put in" in told or (again and "cut short" in told)
        with console_here(wanted(Path(folder) / "kept", rehearsal=True)) as here:
            assert here.served.desk.state.restarts == 1
