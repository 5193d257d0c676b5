"""Plans beside each other: one table, one picture, the same words on page and terminal."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from invented_outlooks import with_outlook
from invented_plans import go_plan, invented_plan, no_go_plan
from rich.console import Console
from test_plan_page import HOSTILE, Page

from neckring.outing.findings import Plan
from neckring.records.compare_page import render_comparison
from neckring.records.compare_plot import COLOURS, LINE_STYLES, draw_worst_slack
from neckring.records.compare_summary import print_comparison
from neckring.records.comparison import compared

Named = list[tuple[str, Plan]]


@pytest.fixture(scope="module")
def plans() -> Named:
    return [
        ("bench-survey", with_outlook(invented_plan())),
        ("floor-walk", with_outlook(go_plan(), harm=1.5)),
        ("throttled-fan", with_outlook(no_go_plan(), harm=0.6)),
        ("not looked ahead", invented_plan()),
    ]


@pytest.fixture(scope="module")
def page(plans: Named) -> str:
    return render_comparison(plans)


def printed(plans: Named, width: int = 80, terminal: bool = False) -> str:
    file = io.StringIO()
    console = Console(file=file, width=width, force_terminal=terminal)
    print_comparison(plans, console, "build/compare.html")
    return file.getvalue()


def answers(plans: Named) -> dict[str, tuple[str, ...]]:
    return {
        row.question: tuple(one.replace("\u00a0", " ") for one in row.answers)
        for row in compared(plans)
    }


def test_every_plan_answers_every_question(plans: Named) -> None:
    told = answers(plans)
    assert told["verdict"] == ("SHORTEN", "GO", "NO-GO", "SHORTEN")
    assert told["first limit, nothing failing"][0].startswith("heart rate above 152 bpm for 60 s")
    assert told["first limit, nothing failing"][1].startswith("none; nearest heart rate")
    assert told["worst failure"][0] == (
        "the wearer is down and must be carried at 44 min (10:14), bench"
    )
    assert told["its slack"][0] == "−14 min, reserve 10 min"
    assert told["turn back by"] == ("33 min (10:03)", "its end", "none", "not computed")
    assert told["reserve kept by"][0] == "46.7 % (99 % asked)"
    assert told["highest heart rate"][:3] == ("157 bpm", "122 bpm", "182 bpm")
    assert told["highest core temperature"][0] == "37.36 °C"
    assert told["lowest inspired O₂"][2] == "17.6 kPa"
    assert told["highest inspired CO₂"][2] == "2.95 kPa"
    assert told["ice left"] == ("0 %", "0 %", "none from the start", "0 %")
    assert told["charge left"][0] == "56 %"
    assert told["water lost"][0] == "0.27 kg"


def test_what_a_plan_lacks_is_said(plans: Named) -> None:
    plan = plans[0][1]
    assert plan.outlook is not None
    bare = replace(
        plan, trace={"time": plan.trace["time"]}, binding_limit=None,
        outlook=replace(plan.outlook, failures=()),
    )  # fmt: skip
    told = answers([("bare", bare)])
    assert told["highest heart rate"] == ("not computed",)
    assert told["first limit, nothing failing"] == ("none is set",)
    assert told["worst failure"] == ("none was looked at",)
    assert draw_worst_slack([("bare", bare)]) is None


def test_the_page_holds_the_whole_table_and_the_cautions(plans: Named, page: str) -> None:
    read = Page(page)
    for row in compared(plans):
        assert f"{row.question} {' '.join(row.answers)}".replace("\u00a0", " ") in read.text
    for caution in plans[0][1].cautions:
        assert read.text.count(caution) == 1
    assert "Invented data: this station" in read.text
    assert "Not looked ahead: not looked ahead." in read.text


def test_the_page_is_well_formed_and_needs_nothing_outside(page: str) -> None:
    read = Page(page)
    ids = [a["id"] for _, a in read.elements if "id" in a]
    assert len(ids) == len(set(ids))
    labels = [a["aria-labelledby"] for _, a in read.elements if "aria-labelledby" in a]
    assert set(" ".join(labels).split()) <= set(ids)
    for unwanted in ("http://", "https://", "url(", "<script", "{{"):
        assert unwanted not in page
    assert not [a for _, a in read.elements if "style" in a or "onload" in a]
    levels = [int(tag[1]) for tag, _ in read.elements if re.fullmatch("h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_the_same_plans_give_the_same_page(plans: Named, page: str) -> None:
    assert render_comparison(plans) == page


def test_each_line_is_named_at_its_worst_minute(plans: Named) -> None:
    drawing = draw_worst_slack(plans)
    assert drawing is not None
    text = drawing.svg.replace("\u00a0", " ")
    for wanted in (
        "bench-survey", "−24 min at 44 min", "floor-walk", "76 s at 39 min", "throttled-fan",
        "−42 min at 44 min", "the reserve", "more than 4.9 min: upper edge",
    ):  # fmt: skip
        assert wanted in text, wanted
    assert "not looked ahead" not in text
    assert "bench-survey: least slack beyond the reserve −24" in drawing.words


def test_lines_differ_in_dashes_too_and_repeat_late(plans: Named) -> None:
    looks = {(COLOURS[n % len(COLOURS)], str(LINE_STYLES[n % len(LINE_STYLES)])) for n in range(30)}
    assert len(looks) == 30
    assert len(set(map(str, LINE_STYLES))) == len(LINE_STYLES)
    many = [(f"run {n}", plans[n % 3][1]) for n in range(9)]
    drawing = draw_worst_slack(many)
    assert drawing is not None
    dashes = set(re.findall(r'stroke-dasharray="([^"]+)"', drawing.svg))
    assert len(dashes) >= len(LINE_STYLES) - 1


def test_runs_of_different_length_and_without_any_help_can_be_drawn(plans: Named) -> None:
    short = plans[1][1]
    assert short.outlook is not None
    first = short.outlook.failures[0]
    helpless = replace(first, slack_at_confidence=np.full(first.instants.shape, -np.inf))
    outlook = replace(short.outlook, failures=(helpless,))
    cut = replace(short, duration=4200.0, outlook=outlook)
    drawing = draw_worst_slack([plans[0], ("cut", cut)])
    assert drawing is not None
    assert "no help comes" in drawing.svg
    assert "nan" not in drawing.svg.lower()


def test_plans_that_all_leave_more_than_is_computed_are_told_not_drawn(plans: Named) -> None:
    plan = plans[0][1]
    assert plan.outlook is not None
    calm = tuple(one for one in plan.outlook.failures if one.code == "silence")
    easy = replace(plan, outlook=replace(plan.outlook, failures=calm))
    assert draw_worst_slack([("easy", easy)]) is None
    assert "Nothing to draw" in render_comparison([("easy", easy)])


def test_hostile_names_stay_text(plans: Named) -> None:
    read = Page(render_comparison([(HOSTILE, plans[0][1]), ("\x01\ufffe$x^$", plans[1][1])]))
    assert read.all("script") == []
    assert " ".join(HOSTILE.split()) in read.text


@pytest.mark.parametrize("width", [60, 80, 200])
@pytest.mark.parametrize("count", [1, 2, 3, 4, 9])
def test_the_terminal_shows_every_plan_within_80_columns(
    plans: Named, width: int, count: int
) -> None:
    some = [(f"run-{n}", plans[n % 4][1]) for n in range(count)]
    text = printed(some, width)
    assert max(map(len, text.splitlines())) <= min(width, 80)
    assert text.isascii()
    for name, _ in some:
        assert name in text
    assert text.count("water lost") >= 1
    assert "Invented data." in text
    assert "does not clear anyone" in " ".join(text.split())
    assert text.endswith("report build/compare.html\n")


def test_a_name_cannot_steer_the_terminal(plans: Named) -> None:
    text = printed([("\x1b[2Jgone\x07", plans[0][1])], terminal=True)
    assert "\x1b[2J" not in text
    assert "\x07" not in text
