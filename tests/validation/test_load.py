"""Load on the wearer and body measures against surveys and measurements."""

import pytest

from neckring.body.anthropometry import percentiles
from neckring.suit import load

MMHG = 133.322


@pytest.mark.parametrize(
    ("measure", "sex", "mean"),
    [
        ("stature", "male", 1.7562),
        ("stature", "female", 1.6285),
        ("biacromial_breadth", "male", 0.4157),
        ("biacromial_breadth", "female", 0.3653),
        ("chest_depth", "male", 0.2538),
        ("chest_depth", "female", 0.2474),
    ],
)
def test_medians_lie_at_the_surveys_means(outside_check, measure, sex, mean):
    outside_check(
        area="load",
        name=f"ANSUR II {measure.replace('_', ' ')}, {sex}: median against the survey's mean",
        source="ANSUR II 2012 (Gordon et al. 2014, NATICK/TR-15/007), means of the public data",
        kind="published",
        unit="m",
        expected=mean,
        tolerance=0.012,
        relative=True,
        obtained=percentiles(measure, sex).median,
    )


@pytest.mark.parametrize(("sex", "stature"), [("male", 1.753), ("female", 1.613)])
def test_soldiers_are_near_civilians_in_stature(outside_check, sex, stature):
    outside_check(
        area="load",
        name=f"median stature of the sample, {sex}, against US civilians",
        source="NHANES 2015-2018 means of adults (from memory)",
        kind="from memory",
        unit="m",
        expected=stature,
        tolerance=0.015,
        relative=True,
        obtained=percentiles("stature", sex).median,
    )


def test_centre_of_gravity(outside_check):
    outside_check(
        area="load",
        name="30 kg carried 0.20 m behind an 80 kg wearer",
        source="moments about the ankle: 30 x 0.20/110 m",
        kind="identity",
        unit="mm",
        expected=54.5,
        tolerance=0.1,
        obtained=1e3 * load.centre_of_gravity_shift(80.0, 30.0, 0.20),
    )


@pytest.mark.parametrize(
    ("share", "right", "left"), [(0.1, 98.0, 46.0), (0.2, 153.0, 92.0), (0.3, 170.0, 90.0)]
)
def test_straps_of_school_bags(outside_check, share, right, left):
    # Children of 12 to 14: 45 kg, straps 50 mm wide lying on 120 mm, all on the shoulders; assumed.
    band = load.strap_pressure(45.0 * share, 0.0, 0.050, 0.120)
    outside_check(
        area="load",
        name=f"strap pressure at {share:.0%} of body mass, mean of both shoulders",
        source="J Pediatr Orthop 2008 (school bags, 98/153/170 mmHg right, 46/92/90 left); body "
        "mass and strap assumed",
        kind="published",
        unit="mmHg",
        expected=0.5 * (right + left),
        tolerance=0.5,
        relative=True,
        obtained=band.likely / MMHG,
        informative=True,
    )
