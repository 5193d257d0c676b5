"""`neckring calibrate`: from kept folders to a proposed change, applied only when asked for."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from logged_runs import deeds_of, keep, kept, known_world, opening
from logged_worlds import DEMO_FOLDER

from neckring.calibrate_command import calibrate
from neckring.calibration.amending import amended
from neckring.calibration.findings import Place
from neckring.live.entries import Kind
from neckring.records.calibrate_folders import kept_run
from neckring.records.calibrate_writing import CannotWriteError, texts_of, write
from neckring.station.loading import load_station


def run(*words: object):
    return CliRunner().invoke(calibrate, [str(word) for word in words], catch_exceptions=False)


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return kept(tmp_path_factory.mktemp("kept") / "day")


@pytest.fixture
def station(tmp_path) -> Path:
    return Path(shutil.copytree(DEMO_FOLDER, tmp_path / "station"))


def texts(station: Path) -> dict[str, str]:
    return {str(path): path.read_text("utf-8") for path in sorted(station.rglob("*.yaml"))}


def test_it_shows_and_writes_only_when_asked_for(folder, station):
    # given a finished run of a station
    before = texts(station)
    # when it is calibrated
    shown = run(folder, "--station", station)
    # then what is found is shown as a change, and nothing is written
    assert shown.exit_code == 0, shown.stderr
    assert "garment conductance" in shown.stdout
    assert "-  conductance: 22 W/K +/- 6           # all of it" in shown.stdout
    assert texts(station) == before
    # when the change is asked for
    written = run(folder, "--station", station, "--write")
    # then only values differ, comments stay, and the station is in order; the wearer's work factor,
    # which was not written before, has a line of its own
    assert written.exit_code == 0, written.stderr
    after = texts(station)
    changed, wearer = [path for path in after if after[path] != before[path]]
    assert "1 line changed" in written.stderr
    (added,) = {*after[wearer].splitlines()} - {*before[wearer].splitlines()}
    assert added.startswith("work_factor: ")
    assert after[wearer].replace(f"{added}\n", "") == before[wearer]
    pairs = list(zip(before[changed].splitlines(), after[changed].splitlines(), strict=True))
    differing = [(old, new) for old, new in pairs if old != new]
    assert 1 <= len(differing) <= 4
    for old, new in differing:
        assert old.partition("#")[2] == new.partition("#")[2]
        assert old.partition(":")[0] == new.partition(":")[0]
    true = known_world().course.doubts.drawn(known_world().scores)
    corrected = load_station(station).suits["dipper"].garment.conductance
    assert abs(corrected.nominal - float(true.of(true.suit.garment.conductance)[0])) < 2.0
    # and the same run once more is said to count twice
    cautions = kept_run(folder, load_station(station)).cautions
    assert any("suits/dipper.yaml" in one and "count twice" in one for one in cautions)


def test_json_holds_the_same(folder, station):
    found = json.loads(run(folder, "--station", station, "--json").stdout)
    (garment,) = [c for c in found["corrections"] if c["words"] == "garment conductance"]
    assert garment["says_more"]
    assert garment["readings"] > 100
    (proposal,) = garment["proposals"]
    assert proposal["place"]["keys"] == ["garment", "conductance"]
    assert proposal["text"] in found["diff"]
    assert found["invented"] is True
    assert any("no spell" in caution for caution in found["cautions"])


def a_change(station: Path, text: str = "21 W/K +/- 1"):
    loaded = load_station(station)
    places = [(Place("suit", code, ("garment", "conductance")), text) for code in loaded.suits]
    return amended(loaded, places, texts_of(loaded, station))


def test_half_written_files_never_stand(station, monkeypatch):
    # given a change of two files, and a disk that takes only one new file
    change, before, taken = a_change(station), texts(station), []

    def full(draft, path):
        taken.append(path)
        if len(taken) == 2:
            raise OSError(28, "No space left on device")
        Path(draft).rename(path)

    monkeypatch.setattr("neckring.whole_file.os.replace", full)
    # when it is written
    with pytest.raises(CannotWriteError, match="all files are as they were"):
        write(station, change)
    # then all is as it was, and nothing else lies about
    assert len(taken) == 3
    assert texts(station) == before
    assert not [path for path in station.rglob("*") if path.name.startswith(".")]


def test_a_change_that_the_check_refuses_is_not_written(station):
    change, before = a_change(station, "2000 W/K"), texts(station)
    with pytest.raises(CannotWriteError, match="nothing was written"):
        write(station, change)
    assert texts(station) == before


def test_a_file_changed_meanwhile_is_left_alone(station):
    change = a_change(station)
    suit = station / "suits" / "dipper.yaml"
    suit.write_text(suit.read_text("utf-8") + "# a word from the lead\n", "utf-8")
    with pytest.raises(CannotWriteError, match="changed meanwhile"):
        write(station, change)
    assert "22 W/K +/- 6" in suit.read_text("utf-8")


def _without(deeds, kind):
    return [one for one in deeds if one[1] is not kind]


def unusable(tmp_path: Path, what: str) -> Path:
    """A folder from which nothing can be learned."""
    folder, usual = tmp_path / "kept", deeds_of(known_world(), opening())
    if what == "no folder":
        return folder
    if what == "no log":
        folder.mkdir()
    elif what == "no book":
        folder.mkdir()
        (folder / "log.sqlite").write_bytes(b"SQLite format 3\0 and then something else" * 30)
    elif what == "open":
        keep(folder, _without(usual, Kind.RUN_CLOSED), None)
    elif what == "unknown run":
        body = opening(runs=["moon-walk", "floor-partner"])
        keep(folder, deeds_of(known_world(), body), None)
    elif what == "rehearsal":
        keep(folder, deeds_of(known_world(), opening(rehearsal=True)), None)
    elif what == "no readings":
        keep(folder, usual, None)
    return folder


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("no folder", "no such folder"),
        ("no log", "no log.sqlite is in it"),
        ("no book", "log.sqlite"),
        ("open", "the run is still open"),
        ("unknown run", 'the run "moon-walk"; accepted: runs of this station'),
        ("rehearsal", "a rehearsal, whose suits were simulated"),
        ("no readings", "neither a good reading nor a step done"),
    ],
)
def test_what_cannot_be_used_is_said_with_what_is_accepted(tmp_path, what, words):
    refused = run(unusable(tmp_path, what), "--station", DEMO_FOLDER)
    assert refused.exit_code == 2
    assert words in refused.stderr
    assert "accepted: " in refused.stderr
    assert "Traceback" not in refused.stderr


def test_a_run_given_twice_counts_once(folder):
    refused = run(folder, folder, "--station", DEMO_FOLDER)
    assert refused.exit_code == 2
    assert "must not count twice" in refused.stderr


def test_rehearsals_are_never_written(folder):
    refused = run(folder, "--station", DEMO_FOLDER, "--rehearsals", "--write")
    assert refused.exit_code == 2
    assert "simulated suits must not be written" in refused.stderr
