"""Packages: the same bytes each time, sums that others can check, and no leak when redacted."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re
import shutil
import subprocess
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from kept_fixtures import SECRET, day, day_report, kept_day, told  # noqa: F401 - fixtures
from kept_runs import opened, report_of

from neckring.live.book_export import verify_export
from neckring.live.entries import Entry
from neckring.outing.findings import Plan
from neckring.records.data_package import (
    SUMS,
    CannotPackError,
    package_files,
    verify_package,
    write_folder,
)
from neckring.records.redaction import WITHHELD, redacted_files
from neckring.records.report_csv import csv_files, csv_tables
from neckring.records.report_records import RunReport

Files = Mapping[str, bytes]
WRITTEN = "Leaked9Word"
"""Put in the place of every text of a report."""
OF_PEOPLE_AND_PLACES = (
    *("W1", "W2", "L1", "T1", "T2", "M1", "R1"),
    *("floor-survey", "floor-partner", "dipper", "wagtail", "Tarn", "Quarry", "changeover"),
    *("water_in", "yard", "floor", "bay", "air-lost/A/", "tablet", "London", "UTC"),
)


@pytest.fixture(scope="module")
def entries() -> tuple[Entry, ...]:
    return opened(day()).entries


@pytest.fixture(scope="module")
def package(entries: tuple[Entry, ...]) -> Files:
    return package_files(told(), entries)


@pytest.fixture(scope="module")
def redacted(entries: tuple[Entry, ...]) -> Files:
    return redacted_files(told(), entries)


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode(), newline="")))


# The package


def test_the_same_run_gives_the_same_bytes(kept: Path, package: Files, redacted: Files) -> None:
    again, entries = report_of(kept), opened(kept).entries
    assert package_files(again, entries) == package
    assert redacted_files(again, entries) == redacted


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not installed")
def test_sums_are_those_of_coreutils(package: Files, tmp_path: Path) -> None:
    # Source of the check: GNU coreutils' own sha256sum, which reads its format (manual, 6.5)
    write_folder(tmp_path / "package", package)
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", SUMS],
        cwd=tmp_path / "package",
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.count(": OK") == len(package) - 1


def test_whatever_was_changed_added_or_taken_is_told(package: Files, tmp_path: Path) -> None:
    folder = tmp_path / "package"
    write_folder(folder, package)
    assert verify_package(folder) == ()
    with (folder / "steps.csv").open("ab") as file:
        file.write(b" ")
    (folder / "more.txt").write_text("x")
    (folder / "spells.csv").unlink()
    assert verify_package(folder) == (
        "spells.csv: it is missing",
        "more.txt: it has no sum",
        "steps.csv: it is not as it was written",
    )
    (folder / SUMS).write_text("../../etc/passwd\n")
    assert "accepted: SUM  FILE" in verify_package(folder)[0]


def test_nothing_is_written_over(package: Files, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(CannotPackError, match="something is in it already"):
        write_folder(tmp_path, package)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_the_log_in_it_verifies_by_itself(
    report: RunReport, package: Files, tmp_path: Path
) -> None:
    path = tmp_path / "log.jsonl"
    path.write_bytes(package["log.jsonl"])
    assert verify_export(path) == report.provenance.head
    told = json.loads(package["provenance.json"])
    assert told["log"]["digest"] == report.provenance.head.digest


def test_every_column_of_every_table_is_in_the_dictionary(package: Files, redacted: Files) -> None:
    for files in (package, redacted):
        told = {
            (row["file"], row["column"], row["unit"]) for row in rows(files["data_dictionary.csv"])
        }
        there = set()
        for name, content in files.items():
            if name.endswith(".csv") and name != "data_dictionary.csv":
                for heading in next(csv.reader(io.StringIO(content.decode()))):
                    column, _, unit = heading.partition(" [")
                    there.add((name, column, unit.removesuffix("]")))
        assert there == told
        assert all(row["meaning"] and row["source"] for row in rows(files["data_dictionary.csv"]))


def test_numbers_read_back_as_just_what_they_were(report: RunReport, package: Files) -> None:
    heart = next(o for o in report.sensors if (o.wearer, o.channel) == ("B", "heart"))
    read = [
        r for r in rows(package["readings.csv"]) if (r["wearer"], r["channel"]) == ("B", "heart")
    ]
    assert [float(row["value [unit of the line]"]) for row in read] == heart.value.tolist()
    assert [float(row["run_time [s]"]) for row in read] == heart.time.tolist()
    assert {row["unit"] for row in read} == {"1/s"}


def test_a_text_that_looks_like_a_formula_is_disarmed(
    report: RunReport,
    entries: tuple[Entry, ...],
) -> None:
    alarm = dataclasses.replace(report.alarms[0], words='=HYPERLINK("x")')
    files = csv_files(csv_tables(dataclasses.replace(report, alarms=(alarm,)), entries))
    assert rows(files["alarms.csv"])[0]["words"] == '\'=HYPERLINK("x")'


# The redacted one


def test_no_code_no_word_of_people_and_no_date_is_in_the_redacted_package(
    report: RunReport,
    package: Files,
    redacted: Files,
) -> None:
    # Given a day whose people wrote a secret wherever they could, and which the package shows
    assert SECRET.encode() in package["events.csv"]
    everything = b"\n".join((*redacted.values(), *(name.encode() for name in redacted))).decode()
    # Then neither that stands in it,
    for word in SECRET.split():
        assert word not in everything
    # nor any code of the station,
    for code in OF_PEOPLE_AND_PLACES:
        assert not re.search(rf"(?<![\w-]){re.escape(code)}(?![\w-])", everything), code
    # nor a date, a clock time, or a digest that leads back to the log
    assert not re.search(r"\d{4}-\d\d-\d\d|\d\d:\d\d|\b17956\d{5}", everything)
    digests = (report.provenance.head.digest, *report.provenance.parts.values())
    assert not [digest for digest in digests if digest[:16] in everything]


def test_whatever_text_a_report_holds_none_gets_through(
    report: RunReport,
    entries: tuple[Entry, ...],
) -> None:
    # Given a report and a log in which every text is a leak, letters and kinds as well
    leaking = planted(report)
    leaking_entries = [
        dataclasses.replace(e, deed=dataclasses.replace(e.deed, body=planted(dict(e.deed.body))))
        for e in entries
    ]
    # Then the redacted package has none of it, though as many lines
    files = redacted_files(leaking, leaking_entries)
    assert not [name for name, content in files.items() if WRITTEN.encode() in content]
    assert WITHHELD in files["steps.csv"].decode()
    plain = redacted_files(report, entries)
    for name in ("events.csv", "steps.csv", "spells.csv", "readings.csv"):
        assert len(rows(files[name])) == len(rows(plain[name]))


def test_what_may_pass_does_pass(report: RunReport, redacted: Files) -> None:
    events = rows(redacted["events.csv"])
    assert {row["cause"] for row in events} == {"", "air-lost"}
    assert {row["fault"] for row in events} == {"", "fans"}
    assert {row["wearer"] for row in events} == {"", "A", "B"}
    assert WITHHELD not in redacted["steps.csv"].decode()
    assert WITHHELD not in redacted["readings.csv"].decode()
    late = [row for row in rows(redacted["steps.csv"]) if row["took [s]"] == "400"]
    assert len(late) == 1
    assert len(rows(redacted["steps.csv"])) == sum(len(p.steps) for p in report.procedures)


def planted(value: Any) -> Any:
    """The same with every text a leak; numbers, arrays and plans stay."""
    if isinstance(value, str):
        return WRITTEN if value not in ("", "A", "B") else value
    if isinstance(value, np.ndarray | Plan | datetime) or value is None:
        return value
    if isinstance(value, Mapping):
        return {planted(key): planted(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return type(value)(planted(each) for each in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {f.name: planted(getattr(value, f.name)) for f in dataclasses.fields(value)}
        return type(value)(**fields)
    return value
