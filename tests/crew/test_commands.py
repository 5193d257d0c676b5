"""`neckring crew` and `neckring close` as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from tests.crew.crowd import HEAD, write
from tests.station.faulty import Swap, write_demo

from neckring.close_command import close
from neckring.crew.body_map import REGIONS
from neckring.crew.feeling_scales import FEELINGS
from neckring.crew.task_load import SCALES
from neckring.crew_command import crew

LOAD = (
    "task_load: {mental_demand: 30, physical_demand: 65, temporal_demand: 20, performance: 15, "
    "effort: 60, frustration: 10}\n"
)


@pytest.fixture
def station(tmp_path: Path) -> Path:
    write_demo(tmp_path)
    return tmp_path


def who(station: Path, *words: str) -> Result:
    return CliRunner().invoke(crew, [*words, "--station", str(station)])


def closed(station: Path, *words: str) -> Result:
    return CliRunner().invoke(close, [*words, "--station", str(station)])


def test_who_may_on_the_day_of_a_run(station) -> None:
    found = who(station, "yard-walk")
    assert found.exit_code == 0
    assert "people on 2026-11-27 (invented data)" in found.output
    assert "W3 as wearer: may" in found.output
    assert "ran out on 2026-11-19" in found.output
    assert "in force is v3" in " ".join(found.output.split())
    assert "CONFLICT heart rate above: city_rehab 100 bpm, county_rehab 110 bpm" in found.output
    assert all(len(line) <= 80 and line.isascii() for line in found.output.splitlines())


def test_half_a_year_later_they_may_not(station) -> None:
    late = who(station, "yard-walk", "--on", "2027-06-01", "--strict")
    assert late.exit_code == 1
    assert "W3 as wearer: MAY NOT" in late.output
    told = json.loads(who(station, "--on", "2027-06-01", "--json").output)
    assert not any(one["may"] for one in told["roles"]["wearer"])


def test_a_day_that_is_none_and_a_run_that_is_none(station) -> None:
    assert 'read "1.6.2027"; accepted: a date' in who(station, "--on", "1.6.2027").stderr
    assert "did you mean yard-walk?" in who(station, "yard-wlk").stderr
    (station / "people.yaml").unlink()
    found = who(station)
    assert (found.exit_code, "no such file" in found.stderr) == (2, True)


def test_a_name_in_the_people_file_is_refused(station) -> None:
    Swap("people.yaml", "  W2:\n", "  W2:\n    surname: Somebody\n")(station)
    found = who(station)
    assert found.exit_code == 2
    assert "people.W2.surname" in found.stderr
    assert "Somebody" not in found.stderr


def test_a_form_is_kept_and_a_second_one_beside_it(station) -> None:
    # Given a form with the task load
    file = write(station, "form.yaml", HEAD + LOAD)
    found = closed(station, "yard-walk", "--form", str(file))
    assert found.exit_code == 0, found.output
    assert "task load: 33.3 of 100" in found.stdout
    # When it is sent again it is kept once; changed, beside the first; and back again, a third time
    assert "kept already" in closed(station, "yard-walk", "--form", str(file)).stderr
    for text in (LOAD.replace("30", "60"), LOAD):
        write(station, "form.yaml", HEAD + text)
        last = closed(station, "yard-walk", "--form", str(file))
    names = sorted(one.name for one in (station / "kept" / "forms" / "yard-walk").iterdir())
    assert names == ["W3.0001.json", "W3.0002.json", "W3.0003.json"]
    assert "task load: 33.3 of 100" in last.stdout
    told = json.loads(closed(station, "yard-walk", "--json").output)
    assert told["task_load"] == pytest.approx(200 / 6)
    assert closed(station, "yard-walk", "--strict").exit_code == 1


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("run: yard-walk", "run: yard-wlk", 'form.yaml:1:6: run: read "yard-wlk"; accepted:'),
        ("run: yard-walk", "run: bench-climb", "wearer: read"),
        ("wearer: W3", "wearer: W1", "W3, who wears the suit in run yard-walk"),
        ("filled_by: W3", "filled_by: Maria", "filled_by: read"),
        ("mental_demand: 30", "mental_demand: 31", "in steps of 5"),
        ("mental_demand: 30, ", "", "task_load.mental_demand: read nothing"),
        ("run: yard-walk", "run: [", "form.yaml"),
    ],
)
def test_a_form_that_cannot_be_taken_is_told_with_its_place(station, old, new, words) -> None:
    text = (HEAD + LOAD).replace(old, new)
    file = write(station, "form.yaml", text)
    found = closed(station, "yard-walk", "--form", str(file))
    assert found.exit_code == 2
    assert words in found.stderr
    assert not (station / "kept").exists()


def test_a_form_for_a_run_that_is_not_there(station) -> None:
    found = closed(station, "no-such-run")
    assert found.exit_code == 2
    assert 'no run has the code "no-such-run"; accepted: bench-climb' in found.stderr


def test_an_empty_form_is_no_form_until_it_is_filled_in(station) -> None:
    # Given the blank, as printed
    blank = closed(station, "yard-walk", "--blank").output
    file = write(station, "form.yaml", blank)
    # Then it says that nothing is filled in
    assert "a form with nothing in it" in closed(station, "yard-walk", "--form", str(file)).stderr
    # And with every # taken away, what was not filled in is never taken for an answer
    bare = "\n".join(line.removeprefix("#") for line in blank.splitlines()) + "\n"
    file.write_text(bare, encoding="utf-8")
    assert closed(station, "yard-walk", "--form", str(file)).exit_code == 2
    # And filled in, it is taken
    filled = blank.replace("#task_load", "task_load")
    for code in SCALES:
        filled = filled.replace(f"#  {code}: __", f"  {code}: 40", 1)
    file.write_text(filled, encoding="utf-8")
    assert "task load: 40.0" in closed(station, "yard-walk", "--form", str(file)).stdout


def test_the_page_of_empty_forms_asks_all_that_a_form_holds(station) -> None:
    page = station / "forms.html"
    assert closed(station, "yard-walk", "--page", str(page)).exit_code == 0
    text = page.read_text(encoding="utf-8")
    for question, _, _ in SCALES.values():
        assert question in text
    assert all(scale.question in text for scale in FEELINGS.values())
    assert text.count("<polygon") == len(REGIONS)
    assert "<script" not in text
    assert "src=" not in text
    assert "http" not in text.replace("http-equiv", "").replace("http://www.w3.org/2000/svg", "")


def test_a_kept_form_that_was_spoilt_is_told_and_left(station) -> None:
    file = write(station, "form.yaml", HEAD + LOAD)
    closed(station, "yard-walk", "--form", str(file))
    kept = station / "kept" / "forms" / "yard-walk" / "W3.0001.json"
    kept.write_text("{", encoding="utf-8")
    found = closed(station, "yard-walk")
    assert found.exit_code == 2
    assert "W3.0001.json" in found.stderr
    assert kept.read_text(encoding="utf-8") == "{"
