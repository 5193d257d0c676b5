"""The strain index, by the figures that its paper prints, and days by a public library."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from neckring.crew.deadline import business_day
from neckring.crew.strain_index import strain_index

MORAN = "Moran, Shitzer and Pandolf 1998, Am J Physiol 275:R129, abstract"
BPM = 1.0 / 60.0
CASES = (
    ("at rest, 36.5 degC and 60 bpm", 36.5, 60.0, 0.0, "published"),
    ("at the top, 39.5 degC and 180 bpm", 39.5, 180.0, 10.0, "published"),
    ("half of either rise, 38.0 degC and 120 bpm", 38.0, 120.0, 5.0, "identity"),
    ("heat alone, 39.5 degC and 60 bpm", 39.5, 60.0, 5.0, "identity"),
    ("heart alone, 36.5 degC and 180 bpm", 36.5, 180.0, 5.0, "identity"),
)


@pytest.mark.parametrize(("name", "core", "heart", "expected", "kind"), CASES)
def test_the_index_from_rest_at_36_5_and_60(
    outside_check, name, core, heart, expected, kind
) -> None:
    outside_check(
        area="people",
        name=f"strain index {name}",
        source=MORAN,
        kind=kind,
        obtained=strain_index(core, 36.5, heart * BPM, 60.0 * BPM),
        expected=expected,
        tolerance=1e-9,
    )


def test_an_ordinary_start(outside_check) -> None:
    # Given 37.0 to 38.4 degC and 72 to 150 bpm: 5 x 1.4/2.5 + 5 x 78/108 = 2.8 + 3.6111
    outside_check(
        area="people",
        name="strain index from 37.0 degC and 72 bpm to 38.4 degC and 150 bpm",
        source=f"{MORAN}; worked by hand from its formula",
        kind="identity",
        obtained=strain_index(38.4, 37.0, 150 * BPM, 72 * BPM),
        expected=6.4111,
        tolerance=1e-4,
    )


def test_without_core_temperature_there_is_no_index() -> None:
    assert strain_index(None, 36.5, 2.0, 1.0) is None
    assert strain_index(38.0, None, 2.0, 1.0) is None
    assert strain_index(39.6, 39.5, 2.0, 1.0) is None


def test_business_days_by_a_public_library(outside_check) -> None:
    # Given two years of starts, four numbers of days and some holidays
    holidays = [datetime.date(2026, 12, 25), datetime.date(2027, 1, 1), datetime.date(2027, 3, 29)]
    starts = [datetime.date(2026, 1, 1) + datetime.timedelta(days=n) for n in range(730)]
    differing = 0
    for number in (1, 2, 5, 10):
        # numpy moves to the business day before the start first, and counts from there
        theirs = np.busday_offset(
            np.array(starts, dtype="datetime64[D]"), number, roll="backward", holidays=holidays
        )
        ours = [business_day(start, number, holidays) for start in starts]
        differing += sum(
            np.datetime64(one) != other for one, other in zip(ours, theirs, strict=True)
        )
    outside_check(
        area="people",
        name="business days: 2,920 dates that differ from numpy.busday_offset",
        source="numpy, busday_offset",
        kind="reference library",
        obtained=float(differing),
        expected=0.0,
        tolerance=0.0,
    )
