"""What is written when the disk is full: words that say so, the old file or none, never a half."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from click import Command
from click.testing import CliRunner
from kept_fixtures import kept_day
from kept_runs import RUNS

from neckring.close_command import close
from neckring.kit_command import kit
from neckring.report_command import report
from neckring.sheets_command import sheets

sys.path.insert(0, str(Path(__file__).parents[1] / "live"))

from demo_day import DEMO
from small_disk import fill, small_disk

__all__ = ["kept_day", "small_disk"]

FORM = """\
run: yard-walk
wearer: W3
filled_by: T1
filled_on: 2026-11-29
task_load: {mental_demand: 30, physical_demand: 65, temporal_demand: 20, performance: 15, \
effort: 55, frustration: 10}
"""
OLD = "as it was before"


def typed(command: Command, *words: object) -> tuple[int, str]:
    done = CliRunner().invoke(command, [str(word) for word in words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def files_on(disk: Path) -> set[str]:
    return {str(file.relative_to(disk)) for file in disk.rglob("*") if file.is_file()}


def told_and_nothing_halved(disk: Path, before: set[str], status: int, said: str) -> None:
    assert status == 2, said
    assert "no space left on device" in said.lower()
    assert files_on(disk) == before


def test_a_package_is_there_whole_or_not_at_all(small_disk: Path, kept: Path) -> None:
    # Given a full disk
    fill(small_disk)
    before = files_on(small_disk)

    # When a package is to be written there, and the page where there is room
    page = small_disk.parent / "page.html"
    here = ("--station", DEMO, "--keep", kept, "--out", page)
    status, said = typed(report, *RUNS, *here, "--package", small_disk / "package")

    # Then it says so, and leaves no folder behind
    told_and_nothing_halved(small_disk, before, status, said)
    assert not (small_disk / "package").exists()


def test_a_report_that_finds_no_room_leaves_the_old_one(small_disk: Path, kept: Path) -> None:
    # Given an old report on a disk that is full now
    page = small_disk / "page.html"
    page.write_text(OLD)
    fill(small_disk)
    before = files_on(small_disk)

    # When it is to be written anew
    status, said = typed(report, *RUNS, "--station", DEMO, "--keep", kept, "--out", page)

    # Then it says so, and the old one is as it was
    told_and_nothing_halved(small_disk, before, status, said)
    assert page.read_text() == OLD


def test_a_sheet_that_finds_no_room_leaves_no_half(small_disk: Path) -> None:
    fill(small_disk)
    before = files_on(small_disk)
    there = small_disk / "paper"
    status, said = typed(sheets, "--only", "labels", "--station", DEMO, "--out", there)
    told_and_nothing_halved(small_disk, before, status, said)


def test_a_form_that_finds_no_room_is_not_kept(small_disk: Path, tmp_path: Path) -> None:
    # Given a form, and a full disk for what is kept
    form = tmp_path / "form.yaml"
    form.write_text(FORM)
    fill(small_disk)
    before = files_on(small_disk)

    # When it is handed in
    here = ("--station", DEMO, "--kept", small_disk / "kept")
    status, said = typed(close, "yard-walk", "--form", form, *here)

    # Then it is told, and nothing is kept; and with room it is kept once
    told_and_nothing_halved(small_disk, before, status, said)
    (small_disk / "filler").unlink()
    status, said = typed(close, "yard-walk", "--form", form, *here)
    assert status == 0, said
    assert files_on(small_disk) == {"kept/forms/yard-walk/W3.0001.json"}


def test_a_count_that_finds_no_room_is_not_recorded(small_disk: Path, tmp_path: Path) -> None:
    # Given a ledger with one item out, on a disk that is full now
    station = tmp_path / "station"
    shutil.copytree(DEMO, station)
    here = ("--station", station, "--kept", small_disk / "kept", "--by", "L1")
    status, said = typed(kit, "out", "GA", *here)
    assert status == 0, said
    ballast = fill(small_disk)

    # When more is counted out until it is refused
    status, said = 0, ""
    for _ in range(200):
        status, said = typed(kit, "fault", "GA", "other", "--words", "x" * 900, *here)
        if status:
            break

    # Then it says that the disk is full, the ledger still verifies, and with room it goes on
    assert status == 2
    assert "full" in said
    ballast.unlink()
    status, said = typed(kit, "verify", "--station", station, "--kept", small_disk / "kept")
    assert status == 0, said
    status, said = typed(kit, "in", "GA", *here)
    assert status == 0, said
