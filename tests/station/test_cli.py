"""The commands that need no physics: check, schema, new; and how quickly help is there."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from tests.station.faulty import W1, Swap, write_demo

from neckring.cli import LATE_COMMANDS, main


def neckring(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words], catch_exceptions=False)


@pytest.mark.parametrize("option", [[], ["--demo"]])
def test_a_new_station_passes_the_check(tmp_path: Path, option: list[str]) -> None:
    made = neckring("new", tmp_path / "quarry", *option)
    assert made.exit_code == 0
    checked = neckring("check", tmp_path / "quarry")
    assert checked.exit_code == 0
    assert "no fault" in checked.output


def test_new_refuses_a_folder_that_holds_something(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    refused = neckring("new", tmp_path, "--demo")
    assert refused.exit_code == 2
    assert "is not empty" in refused.output
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_new_fills_an_empty_folder_and_leaves_no_draft(tmp_path: Path) -> None:
    target = tmp_path / "quarry"
    target.mkdir()
    assert neckring("new", target).exit_code == 0
    assert [path.name for path in tmp_path.iterdir()] == ["quarry"]
    assert os.stat(target).st_mode & 0o777 == 0o777 & ~_umask()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def test_new_that_fails_half_way_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Given a disk that fills up at the third file
    written: list[Path] = []
    real = Path.write_bytes

    def fail(path: Path, content: bytes) -> int:
        written.append(path)
        if len(written) == 3:
            raise OSError(28, "No space left on device")
        return real(path, content)

    monkeypatch.setattr(Path, "write_bytes", fail)
    # When a station is written, then nothing of it is there
    refused = neckring("new", tmp_path / "quarry")
    assert refused.exit_code == 2
    assert "no space left on device" in refused.output
    assert list(tmp_path.iterdir()) == []


def test_new_over_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "quarry").write_text("mine")
    assert neckring("new", tmp_path / "quarry").exit_code == 2
    assert neckring("new", tmp_path / "quarry" / "inner").exit_code == 2
    assert (tmp_path / "quarry").read_text() == "mine"


def test_check_tells_faults_and_ends_with_two(tmp_path: Path) -> None:
    write_demo(tmp_path)
    Swap(W1, "age: 34 yr", "age: 400 yr")(tmp_path)
    told = neckring("check", tmp_path)
    assert told.exit_code == 2
    assert told.output.startswith('wearers/W1.yaml:4:6: age: read "400 yr"; accepted: an age from')
    assert "1 fault;" in told.output


def test_check_tells_the_same_as_json(tmp_path: Path) -> None:
    write_demo(tmp_path)
    Swap(W1, "age: 34 yr", "age: 400 yr")(tmp_path)
    told = neckring("check", tmp_path, "--json")
    assert told.exit_code == 2
    record = json.loads(told.output)
    assert record["usable"] is False
    assert record["warnings"] == []
    assert [(fault["file"], fault["line"], fault["column"]) for fault in record["faults"]] == [
        (W1, 4, 6)
    ]


def test_check_of_a_folder_that_is_not_there(tmp_path: Path) -> None:
    told = neckring("check", tmp_path / "nowhere")
    assert told.exit_code == 2
    assert "no such file or directory" in told.output
    assert neckring("check", __file__).exit_code == 2


def test_check_reads_the_current_folder_by_default(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_demo(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert neckring("check").exit_code == 0


def test_schema_lists_prints_and_writes(tmp_path: Path) -> None:
    assert "wearers/*.yaml" in neckring("schema").output
    assert json.loads(neckring("schema", "wearer").output)["title"] == "wearers/*.yaml"
    assert neckring("schema", "--out", tmp_path / "schemas").exit_code == 0
    written = sorted(path.name for path in (tmp_path / "schemas").iterdir())
    assert written == [
        f"{kind}.schema.json"
        for kind in (
            *("drills", "kit", "kit_items", "limits", "panels", "people"),
            *("procedure", "run", "station", "suit", "wearer"),
        )
    ]
    refused = neckring("schema", "shoe")
    assert refused.exit_code == 2
    assert 'read "shoe"; accepted: station' in refused.output


def test_help_lists_late_commands_and_imports_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from neckring.cli import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "print(sorted(set(sys.modules) & {'pydantic', 'ruamel.yaml', 'numpy', 'numba', 'pint',"
        " 'matplotlib', 'jinja2', 'rich', 'scipy', 'neckring.station', 'neckring.plan_command'}))"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout
    assert said.rstrip().endswith("[]")
    for name in ("check", "new", "schema", *LATE_COMMANDS):
        assert f"  {name} " in said


def test_a_check_needs_neither_numbers_nor_plots(tmp_path: Path) -> None:
    write_demo(tmp_path)
    code = (
        "import sys\n"
        "from neckring.cli import main\n"
        f"try: main(['check', {str(tmp_path)!r}])\n"
        "except SystemExit: pass\n"
        "print(sorted(set(sys.modules) & {'numpy', 'numba', 'pint', 'matplotlib'}))"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout
    assert said.rstrip().endswith("[]")
