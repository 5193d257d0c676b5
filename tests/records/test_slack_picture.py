"""The slack picture: a band for each failure that matters, nothing cut silently."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_outlooks import with_outlook
from invented_plans import invented_plan

from neckring.outing.findings import Plan
from neckring.outing.outlook import FailureFinding, Outlook
from neckring.records.outlook_words import is_kept
from neckring.records.picture_svg import Drawing
from neckring.records.slack_bands import bands, folded, gaps_of, scale_of, stretches_of
from neckring.records.slack_picture import MOST_BANDS, draw_slack

AHEAD = with_outlook(invented_plan())


def outlook_of(plan: Plan) -> Outlook:
    assert plan.outlook is not None
    return plan.outlook


def failure(code: str) -> FailureFinding:
    return next(one for one in outlook_of(AHEAD).failures if one.code == code)


def drawn(plan: Plan, *failures: FailureFinding) -> list[Drawing]:
    return draw_slack(plan, replace(outlook_of(plan), failures=failures))


def said(drawing: Drawing) -> list[str]:
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", drawing.svg)
    return [text.replace("\u00a0", " ") for text in texts]


def with_slack(one: FailureFinding, slack: np.ndarray) -> FailureFinding:
    at = int(np.argmin(slack))
    worst = replace(one.worst, time=float(one.instants[at]), slack=float(slack[at]))
    rows = np.vstack([slack, slack, slack])
    return replace(one, slack=rows, slack_at_confidence=slack, worst=worst)


def test_every_failure_has_a_band_or_is_named_as_folded(looked_ahead: Plan) -> None:
    outlook = outlook_of(looked_ahead)
    aside = folded(outlook)
    banded = [one for group in bands(outlook) for one in group]
    all_ = [*banded, *aside.beyond, *aside.impossible]
    assert sorted(one.code for one in all_) == sorted(one.code for one in outlook.failures)
    assert all(is_kept(one) for one in aside.beyond)
    assert [one.code for one in aside.impossible] == ["umbilical"]


def test_failures_with_the_same_band_share_it_and_both_are_named() -> None:
    groups = [[one.code for one in group] for group in bands(outlook_of(AHEAD))]
    assert ["pump-stops", "line-kinked"] in groups
    assert ["leak"] in groups
    texts = said(draw_slack(AHEAD, outlook_of(AHEAD))[0])
    assert "The pump stops; the main line is kinked shut" in texts


def test_the_worst_slack_stands_at_its_moment_and_the_outcome_in_words() -> None:
    texts = said(draw_slack(AHEAD, outlook_of(AHEAD))[0])
    for wanted in (
        "turn back by 33 min (10:03)",
        "The wearer is down and must be carried",
        "−14 min at 44 min",
        "reserve 10 min",
        "reserve 30 s",
        "harm before help",
        "reserve not kept",
        "first: inspired CO₂",
        "cannot happen",
        "more than 8 min",
        "bench",
        "99 %",
        "half",
    ):
        assert wanted in texts, wanted


def test_a_run_without_a_turn_back_time_says_so() -> None:
    outlook = replace(outlook_of(AHEAD), turn_back=None)
    assert "no turn-back time" in said(draw_slack(AHEAD, outlook)[0])
    whole = replace(outlook, turn_back=4440.0, kept=0.995)
    assert "the reserve is kept to the end" in said(draw_slack(AHEAD, whole)[0])


@given(st.lists(st.floats(-7200, 7200), min_size=1, max_size=40), st.floats(0, 1800))
def test_zero_reserve_and_worst_are_always_on_the_scale(slack: list[float], reserve: float) -> None:
    values = np.array(slack)
    values[values > reserve + 1800] = np.inf
    one = replace(failure("leak"), instants=60.0 * np.arange(len(slack)), reserve=reserve)
    one = with_slack(one, values)
    scale = scale_of(one, 1800.0)
    for wanted in (0.0, reserve / 60, *(v / 60 for v in [one.worst.slack] if np.isfinite(v))):
        assert scale.bottom - 1e-9 <= wanted <= scale.top + 1e-9
    assert scale.bottom < scale.top
    finite = values[np.isfinite(values)]
    assert (finite / 60 >= scale.bottom - 1e-9).all()


@given(st.lists(st.booleans(), max_size=60))
def test_stretches_and_gaps_cover_the_run(possible: list[bool]) -> None:
    instants = 60.0 * np.flatnonzero(possible)
    parts = stretches_of(instants)
    assert np.array_equal(np.concatenate([np.zeros(0), *(instants[p] for p in parts)]), instants)
    assert all((np.diff(instants[part]) == 60).all() for part in parts)
    if parts:
        gaps = gaps_of(replace(failure("leak"), instants=instants), 3600.0)
        assert all(not ((instants > a) & (instants < b)).any() for a, b in gaps)


def test_what_leaves_the_scale_is_marked_above_and_below() -> None:
    one = failure("leak")
    slack = np.full(one.instants.shape, np.inf)
    slack[20:26] = -np.inf
    slack[26:] = 300.0
    texts = said(drawn(AHEAD, with_slack(one, slack))[0])
    assert "more than 20 min" in texts
    assert "no help comes at 33 min" in texts


def test_hatching_stands_only_where_the_reserve_is_not_kept() -> None:
    one = failure("leak")
    kept = drawn(AHEAD, with_slack(one, np.full(one.instants.shape, 700.0)))[0]
    short = drawn(AHEAD, with_slack(one, np.full(one.instants.shape, 400.0)))[0]

    def strokes(drawing: Drawing) -> int:
        return drawing.svg.count("M", drawing.svg.index("#a63c00") - 6000)

    assert strokes(short) > strokes(kept) + 50


def test_a_band_can_be_one_minute_long_and_a_reserve_nothing() -> None:
    one = failure("leak")
    single = replace(
        with_slack(replace(one, instants=one.instants[20:21]), np.array([50.0])), reserve=0.0
    )
    texts = said(drawn(AHEAD, single)[0])
    assert "50 s at 33 min" in texts
    assert "nan" not in drawn(AHEAD, single)[0].svg.lower()


def test_many_failures_are_shared_out_over_several_drawings() -> None:
    one = failure("leak")
    many = [
        replace(
            with_slack(one, one.slack_at_confidence + 120 * n), code=f"f{n}", words=f"fault {n}"
        )
        for n in range(2 * MOST_BANDS + 1)
    ]
    drawings = drawn(AHEAD, *many)
    assert [drawing.key for drawing in drawings] == ["slack-1", "slack-2", "slack-3"]
    told = " ".join(drawing.words for drawing in drawings)
    assert all(f"When fault {n}:" in told for n in range(len(many)))


def test_nothing_near_enough_to_matter_draws_nothing() -> None:
    assert drawn(AHEAD, failure("silence"), failure("umbilical")) == []


def test_the_words_tell_every_band(looked_ahead: Plan) -> None:
    outlook = outlook_of(looked_ahead)
    told = " ".join(drawing.words for drawing in draw_slack(looked_ahead, outlook))
    for group in bands(outlook):
        for one in group:
            assert one.words in told


def test_it_needs_nothing_from_outside_and_stays_on_its_sheet(looked_ahead: Plan) -> None:
    for drawing in draw_slack(looked_ahead, outlook_of(looked_ahead)):
        for unwanted in ("http", "xmlns", "url(", "style=", "clip-path", "NaN"):
            assert unwanted not in drawing.svg
        view = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', drawing.svg)
        assert view is not None
        width, height = map(float, view.groups())
        for path in re.findall(r'<path d="([^"]+)" (?:fill|stroke)', drawing.svg):
            numbers = [float(n) for n in re.findall(r"-?[\d.]+", path)]
            assert all(-0.1 <= x <= width for x in numbers[0::2])
            assert all(-0.1 <= y <= height for y in numbers[1::2])


@pytest.mark.parametrize("minutes", [5, 700])
def test_short_and_long_runs_can_be_drawn(minutes: int) -> None:
    factor = minutes * 60 / AHEAD.duration
    spells = tuple(
        replace(spell, begins=spell.begins * factor, ends=spell.ends * factor)
        for spell in AHEAD.spells
    )
    plan = replace(AHEAD, duration=minutes * 60.0, spells=spells, outlook=None)
    trace = AHEAD.trace | {"time": AHEAD.trace["time"] * factor}
    stretched = with_outlook(replace(plan, trace=trace), turn_back=minutes * 20.0)
    for drawing in draw_slack(stretched, outlook_of(stretched)):
        assert len(drawing.svg) < 900_000
