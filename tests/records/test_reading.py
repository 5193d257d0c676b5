"""What the summary, the page and the JSON say alike: moments, limits, what is near."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_plans import go_plan, invented_plan

from neckring.outing.findings import LimitFinding
from neckring.records import reading
from neckring.records.presentation import plain_ascii, presentation_of

PLAN = invented_plan()


def limit(**changes: object) -> LimitFinding:
    return replace(PLAN.limits[0], **changes)


@given(st.floats(0, 1e6))
def test_a_moment_is_never_shown_later_than_it_is(seconds: float) -> None:
    minutes = reading.whole_minutes(seconds)
    assert minutes * 60 <= seconds + 1e-3
    assert seconds < (minutes + 1) * 60 + 1e-3


def test_a_moment_carries_the_clock_even_over_midnight() -> None:
    late = replace(PLAN, starts=PLAN.starts.replace(hour=23, minute=50))
    assert reading.moment(late, 25 * 60 + 59) == "25\u00a0min (00:15)"


@pytest.mark.parametrize(
    ("quantity", "stored", "shown"),
    [
        ("core_temperature", 38.456, "38.46 °C"),
        ("heart_rate", 2.5, "150 bpm"),
        ("heat_storage", 5700.0, "5.7 kJ/kg"),
        ("sweat_rate", 1e-4, "6.0 g/min"),
        ("body_water_loss", 0.0123, "1.23 %"),
        ("water_flow", 2.5e-5, "1.50 L/min"),
        ("air_flow", 170 / 60_000, "170 L/min"),
        ("inspired_co2", 1253.0, "1.25 kPa"),
        ("battery_charge", 0.567, "57 %"),
        ("fog_margin", -0.44, "−0.4 K"),
        ("core_rise", -0.001, "0.00 K"),
        ("core_temperature", math.nan, "not computed"),
        ("grip_strength", 2.0, "2.000"),
    ],
)
def test_values_are_shown_in_the_units_people_read(
    quantity: str, stored: float, shown: str
) -> None:
    assert presentation_of(quantity).text(stored).replace("\u00a0", " ") == shown


def test_a_limit_says_its_side_its_figure_and_how_long_it_must_hold() -> None:
    heart = limit(quantity="heart_rate", value=152 / 60, sustained=60.0)
    assert reading.limit_words(heart) == "above 152\u00a0bpm for 60\u00a0s"
    assert reading.limit_words(replace(heart, sustained=300.0)).endswith("for 5\u00a0min")
    assert reading.limit_words(replace(heart, sustained=0.0)) == "above 152\u00a0bpm"


def test_a_limit_passed_too_briefly_to_count_is_not_called_kept() -> None:
    brief = limit(value=38.0, worst=38.2, reached=None, sustained=60.0)
    assert reading.reached_words(PLAN, brief) == "touched briefly"
    assert reading.reached_words(PLAN, replace(brief, worst=37.9)) == "no"
    assert reading.reached_words(PLAN, replace(brief, worst=math.nan)) == "not computed"
    cold = limit(direction="below", value=15.0, worst=14.0, reached=None)
    assert reading.reached_words(PLAN, cold) == "touched briefly"


def test_way_used_runs_from_nothing_at_the_start_to_one_at_the_limit() -> None:
    first = float(PLAN.trace["core_temperature"][0])
    assert reading.way_used(PLAN, limit(value=first + 2, worst=first)) == 0
    assert reading.way_used(PLAN, limit(value=first + 2, worst=first + 1)) == pytest.approx(0.5)
    assert reading.way_used(PLAN, limit(value=first + 2, worst=first + 2)) == pytest.approx(1)
    assert reading.way_used(PLAN, limit(value=first - 1, worst=first)) is None
    assert reading.way_used(PLAN, limit(quantity="nothing_known")) is None


def test_limits_come_crossed_first_by_time_and_then_the_nearest() -> None:
    limits = reading.limits_nearest_first(PLAN)
    crossed = [one.reached for one in limits if one.reached is not None]
    assert crossed == sorted(crossed)
    assert crossed == [one.reached for one in limits[: len(crossed)]]
    used = [reading.way_used(PLAN, one) or 0.0 for one in limits[len(crossed) :]]
    assert used == sorted(used, reverse=True)
    assert len(limits) == len(PLAN.limits)


def test_the_binding_limit_is_called_nearest_when_none_is_crossed() -> None:
    assert reading.binding_sentence(PLAN).startswith("What binds: heart rate above 152")
    assert reading.binding_sentence(go_plan()).startswith("Nearest limit: ")
    assert "No limit binds" in reading.binding_sentence(replace(PLAN, binding_limit=None))


def test_what_is_left_is_rounded_down_and_missing_ice_is_said() -> None:
    left = replace(PLAN.remaining, battery=0.569, ice=None, battery_dead=3600.0)
    lines = dict(reading.remaining_lines(replace(PLAN, remaining=left)))
    assert lines["ice"] == "none from the start"
    assert lines["battery"] == "56\u00a0% left, cuts off at 60\u00a0min (10:30)"


def test_a_balance_that_is_not_a_number_does_not_close() -> None:
    assert reading.closes(-3e-13)
    assert not reading.closes(2e-9)
    assert not reading.closes(math.nan)


@given(st.text())
def test_plain_ascii_is_what_it_says(text: str) -> None:
    plain = plain_ascii(text)
    assert plain.isascii()
    assert all(c.isprintable() or c == "\n" for c in plain)


def test_an_array_is_converted_like_its_values() -> None:
    values = np.array([1.0, 2.0])
    assert presentation_of("heart_rate").shown(values).tolist() == [60.0, 120.0]
