"""A wearer's work factor: in plans, as a proposal, and as a line that was not written before."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from logged_worlds import DEMO_FOLDER

from neckring.calibration.amending import amended
from neckring.calibration.corrected import work_factor_text
from neckring.calibration.findings import Place
from neckring.live.estimated import Band
from neckring.outing.draws import dimensions
from neckring.outing.scenario import Scenario
from neckring.outing.spells import legs
from neckring.records.calibrate_writing import check, texts_of, write
from neckring.station.loading import load_station
from neckring.units import parse_quantity

DEMO = load_station(DEMO_FOLDER)
RUN = DEMO.runs["floor-survey"]
USUAL = Scenario(DEMO.station, DEMO.suits[RUN.suit], DEMO.wearers[RUN.wearer], RUN)


def with_factor(text: str) -> Scenario:
    factor = parse_quantity(text, "number")
    return replace(USUAL, wearer=USUAL.wearer.model_copy(update={"work_factor": factor}))


@given(st.floats(0.5, 2.0))
@settings(max_examples=20, deadline=None)
def test_every_spell_takes_so_much_more(factor: float) -> None:
    # Given a wearer with a work factor / when the spells are made ready
    pairs = zip(legs(USUAL), legs(with_factor(f"{factor!r}")), strict=True)
    # then each takes that much more, and nothing else of it changes.
    for usual, mine in pairs:
        for end in ("low", "likely", "high"):
            told, without = getattr(mine.rate, end), getattr(usual.rate, end)
            np.testing.assert_allclose(told, factor * without, rtol=1e-12)
        assert mine.duration == usual.duration
        assert np.array_equal(mine.climbing, usual.climbing)


def test_its_spread_is_a_doubt_of_the_plan_and_without_it_there_is_none() -> None:
    keys = [one.key for one in dimensions(with_factor("1.1 +/- 0.05"))]
    usual = [one.key for one in dimensions(USUAL)]
    assert sorted({*keys} - {*usual}) == ["wearer.work_factor"]
    assert len(keys) == len(usual) + 1


def test_what_stands_there_is_multiplied() -> None:
    # Given a wearer who is planned with 1.2, and who works at nine tenths of that
    band = Band(0.85, 0.9, 0.95)
    written = parse_quantity("1.2 +/- 0.1", "number")
    # then 1.08 is proposed, and the spread is that of the runs, in the same measure.
    assert work_factor_text(band, written) == "1.080 +/- 0.036"
    assert work_factor_text(band, None) == "0.900 +/- 0.030"


@pytest.fixture
def station(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO_FOLDER, tmp_path / "station"))


def test_a_line_is_written_where_there_was_none(station: Path) -> None:
    # Given a wearer's file without the key / when a factor is proposed and accepted
    loaded, before = load_station(station), texts_of(DEMO, station)
    code = RUN.wearer
    place = Place("wearer", code, ("work_factor",))
    change = amended(loaded, [(place, "1.08 +/- 0.04")], before)
    assert change.refused == ()
    (file,) = change.texts
    assert change.diff.count("\n+work_factor: 1.08 +/- 0.04\n") == 1
    check(station, change)
    write(station, change)
    # then it is read, and every other line is as it was.
    assert load_station(station).wearers[code].work_factor == parse_quantity(
        "1.08 +/- 0.04", "number"
    )
    lines = (station / file).read_text("utf-8").splitlines(keepends=True)
    assert [one for one in lines if "work_factor" not in one] == before[file].splitlines(
        keepends=True
    )
    # And when it is proposed once more, the line is changed and no second one is written.
    again = load_station(station)
    change = amended(again, [(place, "1.02 +/- 0.03")], texts_of(again, station))
    assert change.texts[file].count("work_factor") == 1


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("code: X\nage: 3 # years\n", "code: X\nage: 3 # years\nnew: 1\n"),
        ("code: X\r\nage: 3\r\n", "code: X\r\nage: 3\r\nnew: 1\r\n"),
        ("code: X\nage: 3", "code: X\nage: 3\nnew: 1"),
        ("code: X\nsizes:\n  a: 1\n  b: 2\n", "code: X\nnew: 1\nsizes:\n  a: 1\n  b: 2\n"),
        ("code: X\nabout: |\n  long\n  words\n", "code: X\nnew: 1\nabout: |\n  long\n  words\n"),
    ],
)
def test_it_stands_behind_the_last_value_on_one_line(written: str, expected: str) -> None:
    assert put(written, ("new",)) == expected


def test_it_stands_in_its_own_group_with_its_indent() -> None:
    written = "code: X\nhelp:\n    notice: 5 s  # told\n    # a word\nlast: 1\n"
    expected = written.replace("# told\n", "# told\n    new: 1\n")
    assert put(written, ("help", "new")) == expected


@pytest.mark.parametrize(
    "written",
    ["{code: X, age: 3}\n", "{\n  code: X,\n  age: 3\n}\n", "? code\n: X\n"],
)
def test_where_no_line_can_be_put_it_is_told(written: str) -> None:
    assert put(written, ("new",)) is None


def put(written: str, path: tuple[str, ...]) -> str | None:
    """A key put into the text of a wearer's file; None when it was refused."""
    from neckring.station.yaml_reading import read_yaml

    tree = read_yaml(written, "wearers/x.yaml")[0]
    loaded = replace(DEMO, trees={"wearer": {"wearers/x.yaml": tree}})
    change = amended(loaded, [(Place("wearer", "X", path), "1")], {"wearers/x.yaml": written})
    return change.texts.get("wearers/x.yaml")
