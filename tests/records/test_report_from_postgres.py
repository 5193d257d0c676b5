"""A report of a run whose log stands in a PostgreSQL database: the same as of one in a file."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from kept_fixtures import day, kept_day  # noqa: F401 - fixtures

sys.path.append(str(Path(__file__).parents[1] / "live"))

from click.testing import CliRunner
from demo_day import DEMO, sheet
from postgres_server import WHY_SKIPPED, Server, server

from neckring.live.open_book import open_book, read_book
from neckring.report_command import report

__all__ = ["server"]
pytestmark = pytest.mark.skipif(bool(WHY_SKIPPED), reason=WHY_SKIPPED)


def told(kept: Path, out: Path, *more: str) -> dict[str, str]:
    """Tables of the report, by name."""
    words = ["floor-survey", "floor-partner", "--station", str(DEMO), "--keep", str(kept)]
    words += ["--out", str(out / "page.html"), "--csv", str(out / "tables"), *more]
    done = CliRunner().invoke(report, words, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return {p.name: p.read_text("utf-8") for p in sorted((out / "tables").iterdir())}


def test_it_is_the_same_from_a_database(server: Server, kept: Path, tmp_path: Path) -> None:
    # Given a run in a file, and the very same deeds in a database
    in_file = read_book(kept / "log.sqlite")
    in_database = open_book(server.url, sheet().station)
    for entry in in_file.entries():
        in_database.append(entry.deed, entry.stamp)
    # then both chains have one head,
    assert in_database.verify() == in_file.verify()
    in_database.close()
    in_file.close()
    # and when a report is made of each, with no file of a log beside the readings of the second
    elsewhere = tmp_path / "readings only"
    elsewhere.mkdir()
    (elsewhere / "readings.sqlite").write_bytes((kept / "readings.sqlite").read_bytes())
    for part in ("file", "database"):
        (tmp_path / part).mkdir()
    of_file = told(kept, tmp_path / "file")
    of_database = told(elsewhere, tmp_path / "database", "--book", server.url)
    # then every table is the same to the letter.
    assert of_file == of_database
    assert len(of_file) > 5


def test_a_database_that_has_no_such_log_is_told_in_words(server: Server, kept: Path) -> None:
    server_url = server.url.replace("/postgres", "/elsewhere")
    words = ["floor-survey", "floor-partner", "--station", str(DEMO), "--keep", str(kept)]
    done = CliRunner().invoke(report, [*words, "--book", server_url], catch_exceptions=False)
    assert done.exit_code == 2
    assert "elsewhere" in done.output
    assert "Traceback" not in done.output
