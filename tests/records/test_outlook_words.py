"""Harm against help in words: never rosier than computed, endless clocks told as such."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.outing.findings import Plan
from neckring.outing.outlook import FailureFinding, Outlook
from neckring.records import outlook_words as words


def outlook_of(plan: Plan) -> Outlook:
    assert plan.outlook is not None
    return plan.outlook


def failure_of(plan: Plan, **worst: float) -> FailureFinding:
    first = outlook_of(plan).failures[0]
    return replace(first, worst=replace(first.worst, **worst))


def seconds_in(text: str) -> float:
    figure, unit = text.replace("\N{MINUS SIGN}", "-").split("\u00a0")
    return float(figure) * {"s": 1, "min": 60}[unit]


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0.0, "0 s"),
        (-0.4, "−1 s"),
        (59.99, "59 s"),
        (60.0, "60 s"),
        (-24.0, "−24 s"),
        (120.0, "2 min"),
        (599.0, "9.9 min"),
        (600.0, "10 min"),
        (-601.0, "−11 min"),
        (3725.0, "62 min"),
    ],
)
def test_a_span_is_told_in_the_unit_that_fits(seconds: float, shown: str) -> None:
    assert words.span_words(seconds).replace("\u00a0", " ") == shown


@given(st.floats(-1e5, 1e5))
def test_slack_is_never_told_longer_and_help_never_shorter_than_it_is(seconds: float) -> None:
    down, up = words.span_words(seconds), words.span_words(seconds, up=True)
    assert seconds_in(down) <= seconds + 1e-3
    assert seconds_in(up) >= seconds - 1e-3


@given(st.floats(0, 1))
def test_shares_kept_are_rounded_down_and_chances_up(share: float) -> None:
    assert float(words.share_words(share).split("\u00a0")[0]) <= 100 * share + 1e-3
    assert float(words.chance_words(share).split("\u00a0")[0]) >= 100 * share - 1e-3


def test_a_share_just_short_of_the_confidence_does_not_read_as_reaching_it() -> None:
    assert words.share_words(0.98996) == "98.9\u00a0%"
    assert words.percent(0.99) == "99\u00a0%"
    assert words.percent(0.999) == "99.9\u00a0%"


def test_a_reserve_is_told_as_signed() -> None:
    assert words.reserve_words(750.0) == "12.5\u00a0min"
    assert words.reserve_words(90.0) == "90\u00a0s"


def test_an_endless_slack_says_how_far_was_computed() -> None:
    assert words.slack_words(math.inf, 600, 1800) == "more than 40\u00a0min"
    assert words.slack_words(-math.inf, 600, 1800) == "no help comes"
    assert words.slack_words(math.nan, 600, 1800) == "not computed"


def test_endless_clocks_are_told_as_such(ahead: Plan) -> None:
    endless = failure_of(ahead, harm=math.inf, help=300.0, slack=math.inf)
    assert words.harm_words(endless, 1800) == "more than 45\u00a0min"
    assert words.crossed_words(endless) == "none in what is computed"
    helpless = failure_of(ahead, harm=math.inf, help=math.inf)
    assert words.harm_words(helpless, 1800) == words.NEVER
    assert words.help_words(helpless) == words.NEVER
    unknown = failure_of(ahead, harm=math.nan, help=math.nan, slack=math.nan)
    assert words.harm_words(unknown, 1800) == "not computed"
    assert words.help_words(unknown) == "not computed"
    assert words.state_words(unknown) == "not computed"


@pytest.mark.parametrize(
    ("slack", "state"),
    [
        (600.0, "reserve kept"),
        (math.inf, "reserve kept"),
        (599.0, "reserve not kept"),
        (-1.0, "harm before help"),
        (-math.inf, "harm before help"),
    ],
)
def test_the_outcome_of_a_failure_is_told_in_words(ahead: Plan, slack: float, state: str) -> None:
    assert words.state_words(failure_of(ahead, slack=slack)) == state


def test_small_slack_shows_clocks_fine_enough_to_tell_them_apart(ahead: Plan) -> None:
    near = failure_of(ahead, harm=1225.0, help=1157.0, slack=68.0)
    assert words.harm_words(near, 1800) == "20.4\u00a0min"
    assert words.help_words(near) == "19.3\u00a0min"


def test_the_turn_back_time_is_told_also_when_there_is_none_and_when_it_is_the_end(
    ahead: Plan,
) -> None:
    outlook = outlook_of(ahead)
    assert "33\u00a0min (10:03)" in words.turn_back_sentence(ahead, outlook)
    none = replace(outlook, turn_back=None)
    assert "no turn-back time" in words.turn_back_sentence(ahead, none)
    whole = replace(outlook, turn_back=ahead.duration - 60, kept=outlook.confidence)
    assert "kept to the end of the run" in words.turn_back_sentence(ahead, whole)
    assert "No need to turn back in 75" in words.turn_back_line(ahead, whole, 80)


def test_one_failure_listed_for_two_reliefs_is_told_apart(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    heat, air = outlook.failures[0], outlook.failures[5]
    assert words.name_words(heat, outlook) == heat.words
    twice = replace(outlook, failures=(heat, replace(air, words=heat.words)))
    names = [words.name_words(one, twice) for one in twice.failures]
    assert names == [f"{heat.words} (heat)", f"{heat.words} (air)"]


@pytest.mark.parametrize("width", [80, 60])
def test_the_worst_line_keeps_its_figures_and_shortens_the_name(ahead: Plan, width: int) -> None:
    outlook = outlook_of(ahead)
    long = replace(outlook.failures[0], words="everything that can break breaks at once " * 3)
    for failures in ((long,), outlook.failures, outlook.failures[3:]):
        line = words.worst_line(ahead, replace(outlook, failures=failures), width)
        assert len(line) <= width
        for wanted in ("If ", " at ", "harm ", "help ", "reserve "):
            assert wanted in line
    assert words.worst_line(ahead, replace(outlook, failures=()), width).startswith("No failure")


def test_a_unit_is_said_once_only_where_all_clocks_share_it(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    long = failure_of(ahead, harm=95.0, help=130.0, slack=-35.0)
    line = words.worst_line(ahead, replace(outlook, failures=(long,)), 70)
    assert "harm 95\u00a0s, help 2.2\u00a0min, reserve 10\u00a0min" in line


def test_what_to_do_first_is_a_change_when_it_is_no_go_and_else_a_measurement(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    assert words.first_step(outlook).startswith("Change first: the longest safe outing, 41 min")
    fine = replace(outlook, verdict="go")
    assert words.first_step(fine).startswith("Measure first, for 61\u00a0% of the doubt: the g")
    unmeasurable = replace(fine, doubts=tuple(replace(d, measurable=False) for d in fine.doubts))
    assert words.first_step(unmeasurable) == fine.advice[0]
    assert "Nothing" in words.first_step(replace(unmeasurable, advice=()))


def test_the_worst_over_time_is_the_least_of_all_failures_at_each_instant(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    instants, least = words.worst_over_time(outlook)
    assert (np.diff(instants) > 0).all()
    for time, slack in zip(instants, least, strict=True):
        there = [
            f.slack_at_confidence[f.instants == time][0] - f.reserve
            for f in outlook.failures
            if time in f.instants
        ]
        assert slack == min(there)
    first = outlook.failures[0]
    assert least.min() == first.worst.slack - first.reserve
    assert len(words.worst_over_time(replace(outlook, failures=()))[0]) == 0


def test_a_bar_stays_on_its_scale_and_is_left_out_when_unknown(ahead: Plan) -> None:
    doubt = outlook_of(ahead).doubts[0]
    assert words.bar(doubt) == (52.0, 61.0, 70.0)
    assert words.bar(replace(doubt, low=-0.1, high=1.3)) == (0.0, 61.0, 100.0)
    assert words.bar(replace(doubt, low=math.nan)) is None
