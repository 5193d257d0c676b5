"""The command as a user calls it, and as an editor sees it while a file is written."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from neckring.cli import main
from neckring.records.proof_json import proof_schema

CODE = "put-on-helmet"


@pytest.fixture
def station(tmp_path: Path) -> Path:
    """The station that a new team starts from."""
    folder = tmp_path / "station"
    assert CliRunner().invoke(main, ["new", str(folder)]).exit_code == 0
    return folder


def prove(station: Path, *more: str) -> Result:
    return CliRunner().invoke(main, ["prove", CODE, "--station", str(station), *more])


def spoil(station: Path, old: str, new: str) -> None:
    file = station / "procedures" / f"{CODE}.yaml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


FELT = (
    '  - {who: A, check: air_felt, how: own safety, say: "Air on the face?", '
    'answer: "Air on my face."}\n'
)


def test_the_starter_is_proved_and_its_report_written(station: Path, tmp_path: Path) -> None:
    report = tmp_path / "pages" / "helmet.html"
    result = prove(station, "--report", str(report), "--strict")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("PROVED")
    text = report.read_text(encoding="utf-8")
    assert "Put on the helmet" in text
    assert "://" not in text.replace("http://www.w3.org/", "")


def test_strict_ends_with_one_when_a_check_is_missing(station: Path, tmp_path: Path) -> None:
    # Given the starter without the question whether air is felt,
    spoil(station, FELT, "")
    report = str(tmp_path / "p.html")
    # then it is broken, and says what the missing check is.
    result = prove(station, "--report", report, "--strict")
    assert result.exit_code == 1
    assert result.stdout.startswith("BROKEN")
    assert "no air moves" in result.stdout
    assert "feel air on the face" in " ".join(result.stdout.split())
    assert prove(station, "--report", report).exit_code == 0


def test_json_matches_its_schema(station: Path) -> None:
    result = prove(station, "--json", "--no-pairs")
    document = json.loads(result.stdout)
    jsonschema.Draft202012Validator(proof_schema()).validate(document)
    assert document["verdict"] == "proved"
    assert document["pairs"] is None


def test_an_unknown_procedure_is_told_with_those_there_are(station: Path) -> None:
    result = CliRunner().invoke(main, ["prove", "put-on-helmt", "--station", str(station)])
    assert result.exit_code == 2
    assert "did you mean put-on-helmet?" in result.stderr


def test_an_unknown_run_is_told(station: Path) -> None:
    result = prove(station, "--run", "second-run")
    assert result.exit_code == 2
    assert "first-run" in result.stderr


def test_faults_of_files_are_told_with_their_place_and_nothing_is_written(
    station: Path, tmp_path: Path
) -> None:
    spoil(station, "move: seat_helmet", "move: seat_helmt")
    report = tmp_path / "p.html"
    result = prove(station, "--report", str(report))
    assert result.exit_code == 2
    assert "procedures/put-on-helmet.yaml:" in result.stderr
    assert 'did you mean "seat_helmet"?' in result.stderr
    assert not report.exists()


def test_harm_clocks_of_a_run_shorten_what_the_kit_allows(tmp_path: Path) -> None:
    # Given the demo, whose kit allows sealed air to stand for some seconds,
    folder = tmp_path / "demo"
    assert CliRunner().invoke(main, ["new", str(folder), "--demo"]).exit_code == 0
    from neckring.procedure.listing import listed
    from neckring.prove_command import harm_clocks
    from neckring.station.loading import load_station

    demo = load_station(folder)
    clocks = harm_clocks(demo, "floor-survey")
    # then each timed rule takes the shorter of the kit's time and the run's clock.
    assert 10.0 < clocks["fans"] < 300.0
    plain = listed("go", demo.procedures, demo.kits).procedure.timed
    held = listed("go", demo.procedures, demo.kits, clocks).procedure.timed
    assert len(plain) == len(held) > 0
    kit = demo.kits["dipper"]
    for before, after in zip(plain, held, strict=True):
        rule = kit.rules[before.name.partition(" of ")[0]]
        assert after.longest == min(before.longest, clocks.get(rule.clock or "", before.longest))


@pytest.fixture
def watcher(station: Path) -> Iterator[subprocess.Popen[str]]:
    """`neckring prove --watch`, running."""
    command = str(Path(sys.executable).with_name("neckring"))
    process = subprocess.Popen(
        [command, "prove", CODE, "--station", str(station), "--watch"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={"PYTHONUNBUFFERED": "1", "PATH": "/usr/bin:/bin", "HOME": str(Path.home())},
    )
    yield process
    process.kill()
    process.wait()


def lines_until(process: subprocess.Popen[str], word: str, seconds: float = 90.0) -> list[str]:
    assert process.stdout is not None
    ends = time.monotonic() + seconds
    lines = []
    while time.monotonic() < ends:
        line = process.stdout.readline()
        lines.append(line)
        if word in line:
            return lines
    raise AssertionError(f"never said {word!r}: {lines}")


def test_watching_proves_again_on_each_save_and_points_at_lines(
    station: Path, watcher: subprocess.Popen[str]
) -> None:
    # Given a watcher that has proved the starter,
    lines_until(watcher, "proved:")
    # when the check of air is taken out and saved, then it points into the file,
    spoil(station, FELT, "")
    said = lines_until(watcher, "broken:")
    assert any(line.startswith("procedures/put-on-helmet.yaml:") for line in said)
    # and a fault in writing is told, not died of,
    spoil(station, "move: lock_helmet", "move: lock_helmt")
    lines_until(watcher, "lock_helmt")
    # and mended again.
    spoil(station, "move: lock_helmt", "move: lock_helmet")
    lines_until(watcher, "broken:")
    assert watcher.poll() is None


def test_the_demo_is_written_with_its_kit_and_procedures() -> None:
    shipped = Path(str(files("neckring.station") / "demo"))
    assert len(list((shipped / "procedures").glob("*.yaml"))) >= 9
    assert (shipped / "kits" / "dipper.yaml").is_file()
