"""`neckring plan` as a user meets it: output, files, exit statuses, wrong input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import validate

from neckring.cli import main
from neckring.records.plan_json import plan_schema

# A run that is shortened when nothing fails needs no drawn members for its verdict.
FEW = ("--members", "0")


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("quarry") / "station"
    assert CliRunner().invoke(main, ["new", str(folder), "--demo"]).exit_code == 0
    return folder


def plan(*words: str) -> Result:
    return CliRunner().invoke(main, ["plan", *words])


def test_summary_and_report(station: Path, tmp_path: Path) -> None:
    # When a run is planned
    report = tmp_path / "reports" / "survey.html"
    done = plan("floor-survey", "--station", str(station), "--report", str(report))

    # Then the summary says the verdict first, the report is whole, and nothing else is left behind
    assert done.exit_code == 0
    assert done.stdout.splitlines()[0] == "GO"
    assert report.read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert [file.name for file in report.parent.iterdir()] == ["survey.html"]


@pytest.mark.parametrize("run", ["yard-walk", "floor-survey", "bench-climb"])
def test_json_follows_its_schema_and_closes(station: Path, run: str) -> None:
    done = plan(run, "--station", str(station), "--json")
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    validate(told, plan_schema())
    assert {"verdict", "binding_limit", "limits", "residuals", "remaining"} <= set(told)
    assert all(abs(value) < 1e-9 for value in told["residuals"].values())


def test_easy_run_goes_and_hard_run_is_shortened(station: Path) -> None:
    verdicts = {
        run: json.loads(plan(run, "--station", str(station), "--json", *FEW).stdout)["verdict"]
        for run in ("yard-walk", "bench-climb")
    }
    assert verdicts == {"yard-walk": "go", "bench-climb": "shorten"}


def test_strict_turns_the_verdict_into_a_status(station: Path) -> None:
    strict = ("--station", str(station), "--json", "--strict", *FEW)
    assert plan("yard-walk", *strict).exit_code == 0
    assert plan("bench-climb", *strict).exit_code == 1


def test_sources_name_every_assumption(station: Path) -> None:
    lines = plan("bench-climb", "--station", str(station), "--sources").stdout.splitlines()
    assert any("Takahashi et al. 2021" in line for line in lines)
    assert any("[assumed]" in line for line in lines)
    assert any("outside Santee 2001" in line for line in lines)


def test_same_input_gives_the_same_bytes(station: Path, tmp_path: Path) -> None:
    pages = []
    for name in ("one", "other"):
        report = tmp_path / f"{name}.html"
        plan("yard-walk", "--station", str(station), "--report", str(report))
        pages.append(report.read_bytes())
    assert pages[0] == pages[1]


def test_unknown_run_names_the_known_ones(station: Path) -> None:
    done = plan("yard-wlak", "--station", str(station))
    assert done.exit_code == 2
    assert 'no run has the code "yard-wlak"' in done.stderr
    assert "did you mean yard-walk?" in done.stderr


def test_faulty_station_is_told_like_check_tells_it(station: Path, tmp_path: Path) -> None:
    # Given a station with a negative mass
    broken = tmp_path / "broken"
    for file in station.rglob("*.yaml"):
        copy = broken / file.relative_to(station)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_bytes(file.read_bytes())
    wearer = broken / "wearers" / "W3.yaml"
    text = wearer.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("mass:"))
    wearer.write_text(text.replace(line, "mass: -60 kg"), encoding="utf-8")

    # When a run is planned, no report is written and the fault has its place
    report = tmp_path / "never.html"
    done = plan("yard-walk", "--station", str(broken), "--report", str(report))
    assert done.exit_code == 2
    assert "wearers/W3.yaml:" in done.stderr
    assert not report.exists()


def test_report_that_cannot_be_written_says_so(station: Path, tmp_path: Path) -> None:
    # Given a path whose folder is a file
    blocked = tmp_path / "file"
    blocked.write_text("", encoding="utf-8")
    done = plan("yard-walk", "--station", str(station), "--report", str(blocked / "r.html"))
    assert done.exit_code == 2
    assert "cannot write the report" in done.stderr
    assert done.exception is None or isinstance(done.exception, SystemExit)
