"""Many runs together: sums of what each run's report says, and bad logs named, never counted."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from kept_fixtures import day, day_report, kept_day, told  # noqa: F401 - fixtures
from kept_runs import copied, demo, make_kept, opened

from neckring.live.chain import row_text
from neckring.live.entries import Kind
from neckring.records import campaign_reading
from neckring.records.campaign_page import campaign_table, render_campaign, tables
from neckring.records.campaign_reading import CampaignReader, folders_in, is_estimate
from neckring.records.kept_run import CannotReportError
from neckring.records.report_csv import csv_text
from neckring.records.report_records import RunReport
from neckring.report_command import report as command


@pytest.fixture(scope="module")
def reader() -> CampaignReader:
    return CampaignReader(demo())


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The rehearsed day twice, and a real one without a fault."""
    folder = tmp_path_factory.mktemp("campaign")
    copied(day(), folder / "one")
    copied(day(), folder / "two")
    make_kept(folder / "three", faults=False, estimates=1)
    return folder


def test_a_summary_says_what_the_runs_own_report_says(
    kept: Path,
    report: RunReport,
    reader: CampaignReader,
) -> None:
    found = reader.summary(kept)
    assert found.entries == report.provenance.head.count
    assert found.exposures == report.exposures
    assert found.length == report.last
    assert sum(found.stops.values()) == 1
    assert sum(found.deviations.values()) == len(report.deviations)
    assert (found.calls, found.missed) == (
        sum(len(one.answered) for one in report.calls),
        sum(len(one.missed) for one in report.calls),
    )
    assert found.alarms == {3: 1}
    assert (found.longest_wait, found.unacknowledged) == (6.0, 0)
    assert (found.faults, found.cards, found.rehearsal) == ({"fans": 1}, {"air-lost": 1}, True)


def test_a_campaign_is_the_sum_of_its_runs(runs: Path, reader: CampaignReader) -> None:
    found = reader.campaign(folders_in([runs]))
    assert [run.rehearsal for run in found.runs].count(True) == 2
    assert found.unreadable == {}
    suit = {key: one.suit for key, one in found.exposures().items()}
    for code, letter in (("floor-survey", "A"), ("floor-partner", "B")):
        each = [one.suit for run in found.runs for one in run.exposures if one.wearer == letter]
        assert suit[code, letter] == pytest.approx(sum(each))
    assert sum(found.merged("faults").values()) == 2
    # A page and a table of it
    page = render_campaign(found)
    assert all(run.name in page for run in found.runs)
    assert all(one.rows or one.nothing for one in tables(found))
    assert csv_text(campaign_table(found)).count("\r\n") == 4


def test_a_log_that_does_not_verify_is_named_and_not_counted(
    runs: Path, reader: CampaignReader, tmp_path: Path
) -> None:
    # Given three logs, of which one was changed
    for path in runs.iterdir():
        copied(path, tmp_path / path.name)
    log = sqlite3.connect(tmp_path / "two" / "log.sqlite")
    for (name,) in log.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
        log.execute(f'DROP TRIGGER "{name}"')
    log.execute("UPDATE entry SET text = replace(text, 'tablet', 'Tablet') WHERE number = 20")
    log.commit()
    log.close()
    # Then the others are counted, and it is told with its place
    found = reader.campaign(folders_in([tmp_path]))
    assert len(found.runs) == 2
    assert "entry 20" in found.unreadable["two"]
    station = Path(str(__import__("neckring").__file__)).parent / "station" / "demo"
    out = tmp_path / "page.html"
    words = ["--campaign", str(tmp_path), "--station", str(station), "--out", str(out)]
    done = CliRunner().invoke(command, words)
    assert done.exit_code == 1
    assert "not read: two" in done.output
    assert "entry 20" in out.read_text()


def test_processes_find_just_what_one_finds(
    runs: Path, reader: CampaignReader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(campaign_reading, "FEW", 2)
    assert reader.campaign(folders_in([runs]), workers=2) == reader.campaign(folders_in([runs]))


def test_no_log_anywhere_is_told(tmp_path: Path) -> None:
    with pytest.raises(CannotReportError, match="accepted: folders that runs were kept in"):
        folders_in([tmp_path])
    with pytest.raises(CannotReportError, match="there is no such folder"):
        folders_in([tmp_path / "nowhere"])


def test_estimates_and_nothing_else_are_passed_over_unread(kept: Path) -> None:
    for entry in opened(kept).entries:
        assert is_estimate(row_text(entry)) == (entry.deed.kind is Kind.ESTIMATE)


@given(st.text(max_size=60), st.sampled_from(list(Kind)), st.text(max_size=20))
def test_no_text_of_people_makes_an_entry_pass_for_an_estimate(
    words: str, kind: Kind, station: str
) -> None:
    # Given an entry whose people write what they like, the marks of another kind among it
    body = {
        "words": words + '"kind":"estimate"',
        "kind": "estimate",
        '"kind":"': '"kind":"estimate"',
    }
    text = json.dumps(
        {
            "deed": {"actor": words, "body": body, "device": words, "key": words,
                     "kind": kind.value, "offset": 0.0, "role": "lead", "tapped_at": 1.0},
            "number": 1, "schema": 1, "stamp": {"monotonic": 1, "run_time": 1, "wall": 1},
            "station": station + '"kind":"estimate"',
        },
        separators=(",", ":"), ensure_ascii=False,
    )  # fmt: skip
    assert is_estimate(text) == (kind is Kind.ESTIMATE)
