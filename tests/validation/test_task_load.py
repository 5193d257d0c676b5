"""Task load and recovery of the heart, by the arithmetic of their published manuals."""

from __future__ import annotations

import pytest

from neckring.crew.recovery import recovery_pattern
from neckring.crew.task_load import SCALES, raw, weighted

MANUAL = (
    "Hart 1986, NASA Task Load Index v1.0, paper and pencil package: sum of rating times tally "
    "over the 15 pairs, divided by 15; the ratings here are our own, worked by hand"
)
RAW = "Byers, Bittner and Hill 1989: plain mean of the six; worked by hand"
OSHA = "OSHA Technical Manual, table III:4-4, as quoted in a site's health plan"
RATINGS = dict(zip(SCALES, (55.0, 80.0, 35.0, 20.0, 70.0, 25.0), strict=True))
TALLY = dict(zip(SCALES, (3, 5, 1, 2, 4, 0), strict=True))


def test_the_plain_mean(outside_check) -> None:
    # Given 55 + 80 + 35 + 20 + 70 + 25 = 285 of six scales
    outside_check(
        area="people",
        name="task load, unweighted: 285 of six",
        source=RAW,
        kind="identity",
        obtained=raw(RATINGS),
        expected=47.5,
        tolerance=1e-12,
    )


def test_the_weighted_mean(outside_check) -> None:
    # Given 165 + 400 + 35 + 40 + 280 + 0 = 920 over fifteen pairs
    outside_check(
        area="people",
        name="task load, weighted: 920 of fifteen pairs",
        source=MANUAL,
        kind="identity",
        obtained=weighted(RATINGS, TALLY),
        expected=61.0 + 1.0 / 3.0,
        tolerance=1e-12,
    )


def test_the_index_goes_from_0_to_100(outside_check) -> None:
    for end in (0.0, 100.0):
        outside_check(
            area="people",
            name=f"task load with every rating at {end:.0f}",
            source=MANUAL,
            kind="published",
            obtained=weighted(dict.fromkeys(SCALES, end), TALLY),
            expected=end,
            tolerance=1e-12,
        )


def test_what_is_no_set_of_six_is_refused() -> None:
    with pytest.raises(ValueError, match="six ratings"):
        raw({"effort": 50.0})
    with pytest.raises(ValueError, match="between 0 and 100"):
        raw(RATINGS | {"effort": 105.0})
    with pytest.raises(ValueError, match="15 times"):
        weighted(RATINGS, TALLY | {"frustration": 1})
    with pytest.raises(ValueError, match="five pairs"):
        weighted(RATINGS, dict(zip(SCALES, (6, 4, 1, 2, 2, 0), strict=True)))


ROWS = (
    ("under 90 bpm after 3 min", 120, 89, "satisfactory"),
    ("90 bpm after 3 min, 10 bpm down", 100, 90, "high"),
    ("90 bpm after 3 min, 9 bpm down", 99, 90, "none"),
)


@pytest.mark.parametrize(("row", "first", "third", "printed"), ROWS)
def test_recovery_of_the_heart(outside_check, row, first, third, printed) -> None:
    outside_check(
        area="people",
        name=f"recovery of the heart, {row}: {printed}",
        source=OSHA,
        kind="published",
        obtained=float(recovery_pattern(first / 60.0, third / 60.0) == printed),
        expected=1.0,
        tolerance=0.0,
    )
