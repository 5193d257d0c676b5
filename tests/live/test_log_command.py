"""`neckring log`: a log book verified, copied out, and held against a head kept elsewhere."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner

from neckring.cli import main
from neckring.live.entries import Deed, Kind, Role, Stamp
from neckring.live.open_book import open_book


def deed(number: int) -> Deed:
    words = {"words": f"note {number} <of> the day"}
    return Deed(f"key-{number}", Kind.NOTE, "L1", Role.LEAD, "tablet-1", words)


def stamp(number: int) -> Stamp:
    return Stamp(1e9 + number, float(number), float(number))


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A run's folder with a log book of five entries."""
    folder = tmp_path / "run"
    book = open_book(folder / "log.sqlite", "Quarry")
    for number in range(1, 6):
        book.append(deed(number), stamp(number))
    book.close()
    return folder


def typed(*words: object) -> tuple[int, str]:
    end = CliRunner().invoke(main, ["log", *map(str, words)])
    assert end.exception is None or isinstance(end.exception, SystemExit)
    return end.exit_code, end.output


def head_of(output: str) -> str:
    found = re.search(r"^neckring-head:\S+$", output, re.MULTILINE)
    assert found
    return found[0]


def test_a_whole_book_verifies_and_says_its_head(kept: Path) -> None:
    code, output = typed(kept)
    assert code == 0
    assert "the chain verifies" in output
    assert "5 entries" in output
    assert head_of(output).split(":")[2] == "5"


def test_it_goes_out_as_lines_and_as_a_copy_that_verify_to_the_same_head(
    kept: Path, tmp_path: Path
) -> None:
    lines, copy = tmp_path / "all.jsonl", tmp_path / "copy.sqlite"
    code, output = typed(kept, "--export", lines, "--backup", copy)
    assert code == 0
    for other in (lines, copy):
        code, again = typed(other)
        assert code == 0
        assert head_of(again) == head_of(output)


def test_a_cut_tail_is_told_by_the_head_on_paper_only(kept: Path, tmp_path: Path) -> None:
    # Given the head of five entries on paper,
    paper = tmp_path / "head.html"
    code, output = typed(kept, "--paper", paper)
    assert code == 0
    page = paper.read_text(encoding="utf-8")
    assert head_of(output) in page
    assert "<svg" in page
    # when the last two are cut off by somebody with the means to,
    with sqlite3.connect(kept / "log.sqlite") as raw:
        (triggers,) = zip(
            *raw.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"), strict=True
        )
        for name in triggers:
            raw.execute(f'DROP TRIGGER "{name}"')
        (table,) = raw.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND sql LIKE '%previous%'"
        ).fetchone()
        raw.execute(f"DELETE FROM {table} WHERE number > 3")
    # then the chain still verifies, and the head on paper tells.
    assert typed(kept)[0] == 0
    code, told = typed(kept, "--head", head_of(output))
    assert code == 1
    assert "Entries are missing at the end" in told


def test_what_is_no_log_book_or_no_head_is_told_in_words(kept: Path, tmp_path: Path) -> None:
    for words in ((tmp_path / "nothing",), (kept, "--head", "neckring-head:Quarry:5:00:00")):
        code, told = typed(*words)
        assert code == 2
        assert "Traceback" not in told
        assert len(told) > 20
