"""One kept day for all tests of reports: made once, never changed."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import pytest
from kept_runs import make_kept, report_of

from neckring.records.report_records import RunReport

SECRET = "Qzxv Secretname Vjkqw"
FOLDER = tempfile.TemporaryDirectory(prefix="kept-day-")


@cache
def day() -> Path:
    return make_kept(Path(FOLDER.name) / "day", secret=SECRET)


@cache
def told() -> RunReport:
    return report_of(day())


@pytest.fixture(name="kept")
def kept_day() -> Path:
    """A whole day, with a secret in every free text."""
    return day()


@pytest.fixture(name="report")
def day_report() -> RunReport:
    return told()
