"""Letters that can be read: published angles and worked heights."""

from __future__ import annotations

import math

import pytest

from neckring.records.letter_height import (
    CAPITALS_PER_SIZE,
    LEAST,
    PREFERRED,
    label_height,
    letter_height,
    size_of,
)

NUREG = "NUREG-0700 revision 2, 1.3.1-4: height = 6.283 D MA / 21600"
FAA = "FAA human factors web course, Visual displays, Text 3 of 9"
SMITH = "Smith 1979, Letter size and legibility, Human Factors 21(6):661-670, abstract"


@pytest.mark.parametrize("distance", [0.4, 0.6, 0.8, 1.2])
@pytest.mark.parametrize("minutes", [16, 20, 22, 24])
def test_height_of_letters_by_the_published_equation(outside_check, distance, minutes) -> None:
    # given the equation as printed, whose angle stands for its tangent
    printed = 6.283 * distance * minutes / 21600.0
    # then ours is the same, but for that and for the printed pi
    outside_check(
        area="letters",
        name=f"height at {distance} m and {minutes}'",
        source=NUREG,
        expected=1000.0 * printed,
        obtained=1000.0 * letter_height(distance, minutes),
        tolerance=5e-5,
        relative=True,
        unit="mm",
        kind="published",
    )


def test_angles_are_those_published(outside_check) -> None:
    # given what two agencies ask for
    # then the usual angle is preferred, and the least is the least
    outside_check(
        area="letters",
        name="angle of letters, preferred",
        source=f"{NUREG}; 20 to 22 minutes are preferred. {FAA}: at least 20",
        low=20.0,
        high=22.0,
        obtained=PREFERRED,
        unit="minutes of arc",
        kind="published",
    )
    outside_check(
        area="letters",
        name="angle of letters, least",
        source=f"{NUREG}; at least 16. {FAA}: avoid less than 16",
        expected=16.0,
        tolerance=0.0,
        obtained=LEAST,
        unit="minutes of arc",
        kind="published",
    )


def test_rule_of_thumb_is_near(outside_check) -> None:
    # given the agency's rough estimate, a two-hundredth of the distance
    # then ours is no lower, and not half as high again
    outside_check(
        area="letters",
        name="height over distance, times 200",
        source=f"{FAA}: as a rough estimate 1/200 of the distance",
        low=1.0,
        high=1.5,
        obtained=200.0 * letter_height(1.0),
        kind="published",
    )


def test_labels_behind_a_fogged_visor_are_read_by_virtually_all(outside_check) -> None:
    # given a field study of some 300 printed displays
    # then a label behind a fogged visor fills more than the angle at which all were read
    outside_check(
        area="letters",
        name="angle of a label behind a fogged visor, at 0.8 m",
        source=f"{SMITH}: virtually 100 % legible at 0.007 rad",
        low=0.007,
        obtained=label_height(0.8, "curved or fogged visor") / 0.8,
        unit="rad",
        kind="published",
    )


def test_size_of_type(outside_check) -> None:
    # given the font's own table of measures
    from fontTools.ttLib import TTFont

    from neckring.records.sheet_press import font_file

    with TTFont(font_file("DejaVuSans-Bold")) as font:
        glyphs, units = font["glyf"], font["head"].unitsPerEm
        height = glyphs["H"].yMax / units
    outside_check(
        area="letters",
        name="height of the capital H of the type of our sheets, of its size",
        source="outline of H in DejaVu Sans Bold, read by fontTools",
        expected=height,
        obtained=CAPITALS_PER_SIZE,
        tolerance=1e-9,
        kind="reference library",
    )
    # and a size of 72 points has capitals of that share of an inch
    assert size_of(0.0254 * CAPITALS_PER_SIZE) == pytest.approx(72.0)
    assert math.isclose(size_of(2e-3), 2.0 * size_of(1e-3))
