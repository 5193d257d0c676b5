"""Trees that are kept: the same as parsed anew, known by the text, and never believed blindly."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest

from neckring.station.kept_trees import KeptTrees, data_of, node_from
from neckring.station.loading import load_station, tree_of
from neckring.station.yaml_reading import read_yaml

STATIONS = Path(str(files("neckring.station")))


@pytest.mark.parametrize("station", ["demo", "starter"])
def test_a_kept_tree_is_the_tree(station: str) -> None:
    # Given every file of the shipped stations, when it is kept and read again, then it is the same
    for path in sorted((STATIONS / station).rglob("*.yaml")):
        tree, _ = read_yaml(path.read_text(encoding="utf-8"), path.name)
        assert node_from(json.loads(json.dumps(data_of(tree))), path.name) == tree


def test_a_station_from_kept_trees_is_the_station(tmp_path: Path) -> None:
    # Given trees that were kept once
    kept = KeptTrees(tmp_path / "trees.json", "1", tree_of)
    load_station(STATIONS / "demo", kept.tree_of)
    assert kept.new
    kept.path.write_text(kept.text)

    # When the station is read with them, then nothing is parsed, and it is the same station
    def no_parser(text: str, file: str):
        raise AssertionError(f"{file} was parsed")

    again = KeptTrees(kept.path, "1", no_parser)
    assert load_station(STATIONS / "demo", again.tree_of) == load_station(STATIONS / "demo")
    assert not again.new


def test_what_was_changed_complained_of_or_spoilt_is_parsed(tmp_path: Path) -> None:
    # Given a tree that is kept, and a text that was complained of
    parsed = []

    def parser(text: str, file: str):
        parsed.append(text)
        return tree_of(text, file)

    kept = KeptTrees(tmp_path / "trees.json", "1", parser)
    kept.tree_of("a: 1\n", "x.yaml")
    assert kept.tree_of("a: 1\na: 2\n", "x.yaml")[1]
    kept.path.write_text(kept.text)

    # When they are asked for again, then only what is kept and unchanged is not parsed
    for version, text, file, expected in (
        ("1", "a: 1\n", "x.yaml", False),
        ("1", "a: 2\n", "x.yaml", True),
        ("1", "a: 1\n", "y.yaml", True),
        ("1", "a: 1\na: 2\n", "x.yaml", True),
        ("2", "a: 1\n", "x.yaml", True),
    ):
        parsed.clear()
        tree, told = KeptTrees(kept.path, version, parser).tree_of(text, file)
        assert bool(parsed) is expected
        assert (tree, told) == tree_of(text, file)

    # And a file that is not whole counts for nothing
    written = json.loads(kept.path.read_text())
    for spoilt in ("", "[]", json.dumps({**written, "trees": dict.fromkeys(written["trees"], 7)})):
        kept.path.write_text(spoilt)
        parsed.clear()
        assert KeptTrees(kept.path, "1", parser).tree_of("a: 1\n", "x.yaml") == tree_of(
            "a: 1\n", "x.yaml"
        )
        assert parsed
