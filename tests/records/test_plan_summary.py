"""The terminal summary: the verdict first, one screen, readable anywhere."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from invented_plans import invented_plan
from rich.console import Console

from neckring.outing.findings import Plan
from neckring.records.plan_summary import print_summary


def printed(plan: Plan, width: int = 80, terminal: bool = False, report: str | None = None) -> str:
    file = io.StringIO()
    print_summary(plan, Console(file=file, width=width, force_terminal=terminal), report)
    return file.getvalue()


def test_the_verdict_is_the_first_word(plan: Plan) -> None:
    assert printed(plan).split("\n")[0] == plan.verdict.upper()


@pytest.mark.parametrize("width", [80, 100, 200])
def test_it_fits_one_screen(plan: Plan, width: int) -> None:
    lines = printed(plan, width, report="build/plan.html").splitlines()
    assert len(lines) <= 45
    assert max(map(len, lines)) <= 80


def test_it_is_plain_ascii_when_not_on_a_terminal(plan: Plan) -> None:
    accented = replace(plan, station="Carrière d’Été", suit="Cinclus ≈ Dipper")
    text = printed(accented)
    assert text.isascii()
    assert "Carriere d'Ete" in text
    assert "\x1b" not in text


def test_a_terminal_gets_colour_and_degree_signs_as_an_addition(shorten: Plan) -> None:
    text = printed(shorten, terminal=True)
    assert "\x1b[" in text
    assert "°C" in text
    assert "SHORTEN" in text


def test_it_holds_what_a_lead_asks_for(shorten: Plan) -> None:
    text = printed(shorten, report="build/bench-survey.html")
    assert shorten.sentence.split(":")[0] in text.replace("\n", " ")
    for wanted in (
        "What binds: heart rate above 152 bpm for 60 s (turn back)",
        "inspired CO2",
        "left at end  ice 0 % left, last of it melts at",
        "battery 56 % left",
        "0.4 L before dressing",
        "31.5 kg, 40 % of body mass",
        "all close",
        "Any symptom",
        "invented data",
        "build/bench-survey.html",
    ):
        assert wanted in text, wanted


def test_balances_that_do_not_close_are_shouted(shorten: Plan) -> None:
    broken = replace(shorten, residuals=replace(shorten.residuals, water=float("nan")))
    assert "DO NOT CLOSE" in printed(broken)


def test_a_long_sheet_gives_way_and_says_how_many_are_left_out(shorten: Plan) -> None:
    text = printed(replace(shorten, limits=shorten.limits * 4))
    assert len(text.splitlines()) <= 45
    assert "more limits, none crossed: see the report" in text


def test_a_long_sentence_is_cut_visibly(shorten: Plan) -> None:
    text = printed(replace(shorten, sentence="turn back " * 100))
    assert " ..." in text
    assert len(text.splitlines()) <= 45


def test_a_text_of_the_station_cannot_steer_the_terminal(shorten: Plan) -> None:
    hostile = "\x1b[2Jgone [bold]not markup[/bold] \x07"
    for terminal in (True, False):
        text = printed(replace(shorten, title=hostile, sentence=hostile), terminal=terminal)
        assert "\x1b[2J" not in text
        assert "\x07" not in text
        assert "[bold]not markup[/bold]" in text.replace("\n", " ")


def test_a_narrow_console_still_shows_verdict_and_action() -> None:
    text = printed(invented_plan(), width=60)
    assert text.startswith("SHORTEN")
    assert "turn back" in text
