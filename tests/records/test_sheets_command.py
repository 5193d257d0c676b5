"""`neckring sheets` as it is typed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from printed import DEMO, needs, text_of

from neckring.sheets_command import sheets


@pytest.fixture
def typed(tmp_path, monkeypatch):
    """Type it in an empty folder; answers with the exit status and all that was told."""
    monkeypatch.chdir(tmp_path)

    def type_it(*words: str, station: Path = DEMO):
        told = CliRunner().invoke(sheets, [*words, "--station", str(station)])
        assert told.exception is None or isinstance(told.exception, SystemExit)
        return told.exit_code, told.output

    return type_it


CARDS = ("air-lost", "fire-in-pack", "umbilical-snagged", "water-lost", "wearer-down")


def written(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def copied(tmp_path: Path) -> Path:
    folder = tmp_path / "station"
    shutil.copytree(DEMO, folder)
    return folder


def test_everything_of_a_station_is_written(typed, tmp_path) -> None:
    status, told = typed("--only", "cards", "--only", "count", "--only", "labels", "--out", "paper")
    assert status == 0, told
    assert written(tmp_path / "paper") == {
        "count-dipper.pdf",
        "labels-dipper.pdf",
        *(
            f"cards/{code}-{letter}.pdf"
            for code in CARDS
            for letter in "AB"
        ),
    }  # fmt: skip


@needs("pdftotext")
def test_run_has_a_brief_and_a_debrief_from_its_plan(typed, tmp_path) -> None:
    status, told = typed("yard-walk", "--only", "brief")
    assert status == 0, told
    assert written(tmp_path / "sheets") == {"brief-yard-walk.pdf", "debrief-yard-walk.pdf"}
    assert "yard-walk" in text_of((tmp_path / "sheets" / "brief-yard-walk.pdf").read_bytes())


def test_brief_of_no_run_and_unknown_run_are_refused(typed, tmp_path) -> None:
    status, told = typed("--only", "brief")
    assert status == 2
    assert "read no RUN" in told
    status, told = typed("yard-wlk")
    assert status == 2
    assert "did you mean yard-walk?" in told
    assert written(tmp_path) == set()


def test_letter_that_cannot_be_printed_is_answered_with_its_place(typed, tmp_path) -> None:
    # given a procedure with a letter that the type of the sheets lacks
    folder = copied(tmp_path)
    file = folder / "procedures" / "air-lost.yaml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace("the visor stays up", "the visor stays up 漢", 1), encoding="utf-8"
    )
    status, told = typed("--only", "cards", station=folder)
    # then its place is told, and nothing was written
    line = next(n for n, each in enumerate(text.splitlines(), 1) if "the visor stays up" in each)
    assert status == 2
    assert f"procedures/air-lost.yaml:{line}:" in told
    assert "U+6F22" in told
    assert not (tmp_path / "sheets").exists()


def test_fault_of_the_drills_is_told(typed, tmp_path) -> None:
    folder = copied(tmp_path)
    (folder / "drills.yaml").write_text(
        "drills:\n  - {key: open_helmet, suit: dipper, took: 9, on: 2026-11-20, source: a watch}\n",
        encoding="utf-8",
    )
    status, told = typed("--only", "cards", station=folder)
    assert status == 2
    assert "drills.yaml:2:" in told
    assert "took" in told


def test_station_without_labels_says_so(typed, tmp_path) -> None:
    starter = DEMO.parent / "starter"
    status, told = typed("--only", "labels", station=starter)
    assert status == 2
    assert "labels: none; no kit has the keys labels or tags" in told
    # and when all is asked for, what there is is printed
    status, told = typed(station=starter)
    assert status == 0, told
    assert "labels: none" in told
    assert "count-kit-one.pdf" in written(tmp_path / "sheets")


def test_folder_that_cannot_be_written_is_told(typed, tmp_path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    status, told = typed("--only", "count", "--out", "taken/inside")
    assert status == 2
    assert "cannot write the sheet" in told
