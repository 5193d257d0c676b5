"""Clearances: closed forms, and the chance that a place fits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm
from small_fits import measured

from neckring.fitting.clearance import (
    DOUBTFUL,
    chance_within,
    clearance,
    doubt_of,
    left_over,
)
from neckring.fitting.places import RULES
from neckring.station.fit import PLACES, Place

LENGTHS = st.floats(0.1, 2.0)


def place(room: str, least: str, most: str | None = None) -> Place:
    return Place.model_validate({"room": room, "least": least, **({"most": most} if most else {})})


def test_every_place_has_its_rule_and_every_rule_a_place() -> None:
    assert set(RULES) == set(PLACES)


def test_layers_lie_on_two_sides_of_a_breadth_and_all_round_a_loop() -> None:
    # Given a round body 0.9 m about in a loop of 1 m, and layers of 5 mm
    body, thickness, room = 0.9, 0.005, 1.0
    # When the outside of the layers is worked out from the radius
    outside = 2 * math.pi * (body / (2 * math.pi) + thickness)
    # Then that is what lies in the loop; half of what yields (12.5 mm) comes back
    assert left_over("chest_girth", room, thickness, body) == pytest.approx(room - outside + 0.0125)
    # And a chest 250 mm deep has a layer before and one behind it, and yields nothing
    assert left_over("chest", 0.300, thickness, 0.250) == pytest.approx(0.040)


@given(LENGTHS, st.floats(0.001, 0.05), st.floats(-0.1, 0.1), st.floats(0.001, 0.2))
def test_the_chance_is_that_of_many_bodies(
    likely: float, deviation: float, least: float, width: float
) -> None:
    likely = likely - 1.0
    found = chance_within(likely, deviation, least, least + width)
    drawn = likely + deviation * _EVEN
    counted = np.mean((drawn >= least) & (drawn <= least + width))
    assert found == pytest.approx(counted, abs=2e-3)


_EVEN = norm.ppf((np.arange(4000) + 0.5) / 4000)


@pytest.mark.parametrize(
    ("body", "verdict", "side"),
    [(270, "fits", "tight"), (305, "does not fit", "tight"), (295, "in doubt", "tight"),
     (180, "does not fit", "loose")],
)  # fmt: skip
def test_a_chest_in_a_shell(body: float, verdict: str, side: str) -> None:
    # Given a shell 310 mm deep with layers of 5 mm, of which 5 to 60 mm must be left
    room = place("310 mm", "5 mm", "60 mm")
    # When a chest of so many millimetres is in it
    found = clearance("chest", room, measured("chest", body), 0.310, 0.005)
    # Then
    assert (found.verdict, found.side) == (verdict, side)
    assert found.harm == ("bars" if side == "tight" else "hurts")
    assert found.low < found.likely < found.high


@given(st.sampled_from(PLACES), st.floats(-100, 200), st.floats(1, 60))
def test_what_bars_is_counted_on_the_side_that_bars(name: str, left: float, doubt: float) -> None:
    # Given any place with 0 to 40 mm wanted and some clearance, known well or badly
    found = clearance(
        name, place("500 mm", "0 mm", "40 mm"), measured(name, 500 - left, doubt), 0.5, 0.0
    )
    rule = RULES[name]
    scale = doubt_of(name, found.measure)
    tight, loose = norm.cdf(-found.likely / scale), norm.sf((found.most - found.likely) / scale)
    # Then the chance to be barred is that of the sides that bar, and all three make the whole
    expected = (tight if rule.tight_harm == "bars" else 0.0) + (
        loose if rule.loose_harm == "bars" else 0.0
    )
    assert found.barred == pytest.approx(expected, abs=1e-9)
    assert found.chance + tight + loose == pytest.approx(1.0)
    # And whoever may be barred is told of the side that bars
    if found.barred > 1.0 - DOUBTFUL:
        assert found.harm == "bars"


def test_nothing_is_too_much_where_no_most_is_written() -> None:
    found = clearance("hatch", place("600 mm", "10 mm"), measured("hatch", 350), 0.6, 0.0)
    assert found.verdict == "fits"
    assert found.most == math.inf


@given(st.floats(200, 400), st.floats(1, 10), st.floats(1, 20))
def test_a_doubtful_measure_is_never_surer_to_fit(body: float, one: float, more: float) -> None:
    # Given a place that fits on the figures alone
    room = place("310 mm", "5 mm", "60 mm")
    known = clearance("chest", room, measured("chest", body, one), 0.310, 0.005)
    doubted = clearance("chest", room, measured("chest", body, one + more), 0.310, 0.005)
    inside = known.least <= known.likely <= known.most
    # Then more doubt makes it less sure, and what does not fit less surely so
    if inside:
        assert doubted.chance <= known.chance + 1e-12
    assert doubt_of("chest", doubted.measure) > doubt_of("chest", known.measure)
    assert (known.chance >= DOUBTFUL) == (known.verdict == "fits")
