"""A proof on the terminal: the verdict first, half a screen, readable anywhere."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from examined import EXAMINATIONS, examination, proved
from rich.console import Console

from neckring.procedure.authoring import Path
from neckring.procedure.examination import Examination
from neckring.procedure.findings import Verdict
from neckring.records.proof_summary import lines_for_an_editor, print_summary, summary


def printed(found: Examination, width: int = 80, terminal: bool = False) -> str:
    file = io.StringIO()
    console = Console(file=file, width=width, force_terminal=terminal)
    print_summary(found, console, "build/close-in.html", invented=True)
    return file.getvalue()


def flat(text: str) -> str:
    return " ".join(text.split())


def place(path: Path, in_kit: bool) -> str:
    return f"{'kit' if in_kit else 'procedure'}.yaml:{len(path)}:1"


@pytest.mark.parametrize("name", EXAMINATIONS)
@pytest.mark.parametrize("width", [60, 80, 200])
def test_the_verdict_is_the_first_word_and_all_fits(name: str, width: int) -> None:
    found = EXAMINATIONS[name]()
    lines = printed(found, width).splitlines()
    assert lines[0] == found.verdict.value.upper()
    assert len(lines) <= 25
    assert max(map(len, lines)) <= 80


def test_it_holds_what_a_lead_asks_for() -> None:
    text = flat(printed(examination()))
    for wanted in (
        "One slip does harm before anybody can notice",
        "(invented data)",
        "41 single slips: 2 harm, 1 latent, 9 caught",
        "1,640 pairs: 121 harm",
        "1 slip is accepted and signed",
        "death in 13 s: start the fan, left out. The helmet is locked and no air moves",
        "stays hidden: start the fan, repeated",
        "catch 1 of 2 harmful slips for 3 s (confirmed): after step 5, wearer A: feel air on",
        "fresh air at the face: alone 12 s",
        "out of the suit: tender NONE from 4 of 40 states",
        "It clears nobody",
        "build/close-in.html",
    ):
        assert wanted in text, wanted


def test_time_to_harm_is_never_rounded_up_nor_time_of_help_down() -> None:
    # Given 13.7 s to the harm, and a longest way of 12 s
    found = examination()
    slow = replace(found.ways[0], longest_seconds=((12, 40),))
    check = replace(found.advised[0], seconds=3.2)
    text = flat(printed(replace(found, ways=(slow,), advised=(check,))))
    assert "death in 13 s" in text
    assert "for 4 s" in text


def test_what_is_accepted_is_not_among_the_worst() -> None:
    assert "half done" not in printed(examination())


def test_a_long_list_of_claims_gives_way_but_what_is_broken_stays() -> None:
    # Given many claims, the last of them broken, and long texts everywhere
    found = examination()
    first = replace(found.claims[0], question="Is it well? " * 30)
    broken = replace(found.claims[1], question="Is it ill?")
    stories = tuple(replace(story, words="a long slip " * 30) for story in found.stories)
    long = replace(
        found, claims=(*(first,) * 40, broken), stories=stories, sentence="it broke " * 60
    )
    text = printed(long)

    # Then all fits, and the broken one is told
    assert len(text.splitlines()) <= 25
    assert "Is it ill?" in text
    assert "proved, " in text
    assert " ..." in text


def test_it_is_plain_ascii_when_not_on_a_terminal() -> None:
    text = printed(replace(examination(), sentence="Carrière d’Été ≈ nothing"))
    assert text.isascii()
    assert "Carriere d'Ete" in text


def test_a_terminal_gets_colour_as_an_addition() -> None:
    text = printed(examination(), terminal=True)
    assert "\x1b[" in text
    assert "BROKEN" in text


def test_a_text_of_the_station_cannot_steer_the_terminal() -> None:
    hostile = "\x1b[2Jgone [bold]not markup[/bold] \x07"
    for terminal in (True, False):
        text = printed(replace(examination(), sentence=hostile), terminal=terminal)
        assert "\x1b[2J" not in text
        assert "\x07" not in text
        assert "[bold]not markup[/bold]" in text


@pytest.mark.parametrize("verdict", [Verdict.BROKEN, Verdict.NOT_DECIDED])
def test_only_what_is_proved_is_called_so(verdict: Verdict) -> None:
    first, *_ = summary(replace(proved(), verdict=verdict), 80)
    assert first.plain != "PROVED"
    assert summary(proved(), 80)[0].plain == "PROVED"


def test_an_editor_gets_one_line_for_each_place() -> None:
    # Given a slip that harms, an accepted one, a hidden one, two findings and the wording
    found = examination()
    lines = list(lines_for_an_editor(found, place))

    # Then all but the accepted one are told at their place, on one line each
    assert len(lines) == 2 + 2 + len(found.wording)
    assert lines[0].startswith("procedure.yaml:2:1: harm: The helmet is locked and no air moves")
    assert lines[1].startswith("procedure.yaml:2:1: latent: ")
    assert lines[2] == "kit.yaml:3:1: nothing allows this move"
    assert not any("\n" in line for line in lines)
    assert not any("half home for a minute" in line for line in lines)


def test_an_editor_gets_no_control_characters() -> None:
    found = examination()
    story = replace(found.stories[0], sentence="gone\x1b[2J\nmore")
    lines = list(lines_for_an_editor(replace(found, stories=(story,)), place))
    assert all(line.isprintable() for line in lines)
