"""The page of a proof: what it says, in which order, and in a real browser how it stands."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from examined import (
    AIR_FELT,
    ALONE,
    DAY,
    EXAMINATIONS,
    FAN,
    HOSE,
    TWO,
    examination,
    page_of,
    proved,
    undecided,
)

import neckring
from neckring.procedure.examination import Outcome, TraceRow
from neckring.records.proof_lanes import lane_picture, lane_words
from neckring.records.proof_page import page, render_page
from neckring.records.proof_rows import (
    gathered,
    step_rows,
    story_rows,
    told_at,
    way_columns,
    way_orders,
)
from neckring.records.proof_words import (
    VERDICT_WORDS,
    engine_time,
    no_longer,
    no_shorter,
    steps_words,
)
from neckring.station.loading import load_station


class Outline(HTMLParser):
    """Headings, identities, links and visible text of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.headings: list[int] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.words: list[str] = []
        self.inside: list[str] = []
        self.feed(html)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        found = dict(attrs)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if found.get("id"):
            self.ids.append(str(found["id"]))
        if tag == "a":
            self.links.append(str(found["href"]))
        if tag == "style":
            self.inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag == "style":
            self.inside.pop()

    def handle_data(self, data: str) -> None:
        if not self.inside:
            self.words.append(data)


@cache
def made(name: str) -> str:
    return page_of(EXAMINATIONS[name]())


@cache
def broken() -> Outline:
    return Outline(made("broken"))


@pytest.mark.parametrize("name", EXAMINATIONS)
def test_the_verdict_comes_first_with_its_sentence(name: str) -> None:
    found, text = EXAMINATIONS[name](), Outline(made(name)).text
    word = VERDICT_WORDS[found.verdict]
    head = text.index(f"Verdict: {word}")
    assert head < text.index(found.sentence, head) < text.index("Questions and answers", head)


@pytest.mark.parametrize("name", EXAMINATIONS)
def test_headings_skip_no_level_and_links_lead_somewhere(name: str) -> None:
    outline = Outline(made(name))
    assert outline.headings.count(1) == 1
    steps = zip(outline.headings, outline.headings[1:], strict=False)
    assert all(after <= before + 1 for before, after in steps)
    assert len(outline.ids) == len(set(outline.ids))
    assert {link.removeprefix("#") for link in outline.links} <= set(outline.ids)


@pytest.mark.parametrize("name", EXAMINATIONS)
def test_it_needs_nothing_beside_itself(name: str) -> None:
    outline = Outline(made(name))
    assert not outline.tags & {"script", "img", "iframe", "object"}
    assert "style" not in outline.attributes  # its own policy would refuse it
    assert "://" not in made(name)


@pytest.mark.parametrize("name", EXAMINATIONS)
def test_cautions_and_invented_data_are_always_told(name: str) -> None:
    text = Outline(made(name)).text
    assert "Invented data" in text
    assert "A proof is of the words in the files, not of the suit" in text
    assert "neckring estimates" in text
    assert "Local codes stand above this page" in text
    assert "A scratched visor (from the kit's file)" in text
    assert "One act is done at a time" in text


def test_real_data_is_not_called_invented() -> None:
    assert "Invented data:" not in page(proved(), "Ours", invented=False, date=DAY)


def test_what_is_not_decided_is_nowhere_called_proved_as_a_whole() -> None:
    text = Outline(page_of(undecided())).text
    assert "Verdict: NOT DECIDED" in text
    assert "Verdict: PROVED" not in text
    assert "No slip was tried." in text
    assert "Ways out were not looked for." in text


def test_a_caution_stands_before_its_step_in_the_same_group() -> None:
    # Given step 7 with a caution of a rule that a slip breaks uncaught
    group = re.search(r'<tbody id="step-7".*?</tbody>', made("broken"), re.S)
    assert group is not None
    text = Outline(group[0]).text

    # Then the gravest word stands first, with hazard, consequence and avoidance
    assert text.startswith("DANGER A locked helmet without moving air. The wearer loses")
    assert text.index("Air is felt before the helmet is locked.") < text.index("Lock the helmet")
    assert "If not: Take off the helmet." in text


def test_without_a_slip_that_breaks_the_rule_the_word_is_lower() -> None:
    assert re.search(r'<span class="signal">WARNING', made("proved"))
    assert not re.search(r'<span class="signal">DANGER', made("proved"))


def test_each_step_has_a_box_to_tick_call_answer_and_sign() -> None:
    html = made("broken")
    assert html.count('<span class="tick">') == 8
    for words in (
        "Say: “Water hose?” Answer: “Hose home.”",
        "Expect: feel the water hose hold against a pull",  # the move's own sign
        "Expect: the suit sits on the shoulders",
        "If not: Stop. Change the pack.",
        "Check: feel air on the face",
        "Note: Speak slowly.",
        "Meet: wearer A and the tender wait for one another",
    ):
        assert words in broken().text, words


def test_with_two_wearers_each_has_a_lane() -> None:
    html = made("broken, two wearers")
    head = re.search(r'<table class="steps side-by-side">.*?</thead>', html, re.S)
    assert head is not None
    assert re.findall(r'class="lane">(.*?)</th>', head[0]) == ["Wearer A", "Wearer B", "The tender"]
    group = re.search(r'<tbody id="step-8".*?</tbody>', html, re.S)
    assert group is not None
    lanes = re.findall(r'<td class="lane">(.*?)</td>', group[0], re.S)
    assert [Outline(lane).text for lane in lanes] == ["", "Seat the helmet (on A)", ""]


def test_every_slip_is_told_with_cause_catch_and_risk() -> None:
    found, text = examination(), broken().text
    for story in found.stories:
        assert story.sentence in text
    for words in (
        "Step 3: start the fan, left out",
        "13 s from the slip to the harm",
        "Set the fan right, and no rule breaks.",
        "Set the water hose and the fan right",
        "After step 5, wearer A: feel air on the face (3 s; it catches 3 harmful slips in all)",
        "No sign of this kit shows it in time.",
        "Nothing shows it before the procedure ends.",
        "The floor is a grid. Signed by lead, 2030-05-01.",
        "for longer than 60 s: the wearer slips (injury)",
        "2 slips do harm uncaught and 1 stays hidden",
    ):
        assert words in text, words


def test_figures_of_human_error_are_marked_where_nobody_has_seen_them() -> None:
    assert "20-7 (1)" in broken().text
    assert "from memory looked for and not found" in broken().text
    assert "experts' judgement" in broken().text
    assert "No estimate on this page stands on a published row." in Outline(made("proved")).text


def test_ways_out_say_where_there_is_none() -> None:
    text = broken().text
    assert "4 states have no way" in text
    assert "never" in text
    assert "tender: take off the helmet; then the tender: put on the suit" in text


def test_places_are_told_as_the_command_knows_them() -> None:
    html = page(
        examination(),
        "Tarn Quarry",
        invented=True,
        date=DAY,
        place=lambda path, in_kit: f"{'k' if in_kit else 'p'}.yaml:{len(path)}:7",
    )
    assert "k.yaml:3:7" in html
    assert "p.yaml:2:7" in html
    assert "procedure: steps 4" in broken().text  # without it: as printed, from 1


def test_texts_of_a_station_are_shown_and_never_obeyed() -> None:
    hostile = "<script>alert(1)</script><b style='x'>"
    found = examination()
    story = replace(found.stories[0], sentence=hostile, words=hostile, cause=(hostile,))
    html = page_of(replace(found, sentence=hostile, stories=(story,)))
    assert "<script" not in html
    assert "<b " not in html
    assert hostile in Outline(html).text


def test_the_same_examination_gives_the_same_page() -> None:
    assert page_of(examination()) == page_of(examination())


def test_a_story_tells_only_what_newly_differs_and_folds_the_rest() -> None:
    # Given a slip whose harm comes five acts later
    story = examination().stories[0]
    rows = story_rows(story)

    # Then what happens between is one row, and the last tells all once more
    assert [row.step for row in rows] == ["3", "4 to 6", "7"]
    assert rows[0].differences == (FAN,)
    assert rows[1].differences == ()
    assert rows[2].differences == (FAN,)
    assert [row.last for row in rows] == [False, False, True]


def test_a_story_tells_what_stands_as_written_again() -> None:
    rows = story_rows(examination().stories[1])
    assert [row.step for row in rows] == ["2", "by itself", "5"]
    assert rows[1].differences[0].slipped == "failed"
    assert rows[2].again == ("the fan",)
    assert rows[2].differences == (HOSE,)


def test_nothing_breaks_in_a_story_of_something_hidden() -> None:
    hidden = examination().stories[2]
    assert hidden.outcome is Outcome.LATENT
    assert not any(row.last for row in story_rows(hidden))


def test_slips_that_differ_only_in_time_are_told_as_one() -> None:
    # Given the same breakdown before three steps, and something else between
    first, other, _ = examination().stories
    same = [
        replace(first, kind="breakdown", step=step, trace=(TraceRow(None, "It stops", (FAN,)),))
        for step in (5, 3, 4)
    ]
    stories = (same[0], other, same[1], same[2])
    told = gathered(stories)
    assert [(group.worst.step, len(group.others)) for group in told] == [(5, 2), (2, 0)]
    assert told_at(stories) == (1, 2, 1, 1)


def test_ways_are_gathered_by_relief() -> None:
    names = (
        "fresh air at the face, alone",
        "fresh air at the face, with the partner",
        "out of the suit, with a tender",
        "something else",
    )
    columns = way_columns(names)
    assert [column.short for column in columns] == ["air", "out", "something else"]
    assert columns[0].companies == ("alone", "with the partner")
    assert way_orders(columns) == ("air: alone / partner", "out: tender")
    assert way_orders(columns[:1]) == ("alone / partner",)


def test_no_way_out_is_a_word_and_times_are_rounded_up() -> None:
    # Given a way of 12 s at most, and none with a tender
    assert step_rows(examination())[0].ways == ("12 / none", "12")


def test_times_are_rounded_to_the_careful_side() -> None:
    assert no_longer(59.99) == "59\u00a0s"
    assert no_shorter(59.01) == "60\u00a0s"
    assert no_shorter(200.0) == "3\u00a0min 20\u00a0s"
    assert no_shorter(float("inf")) == "never"
    assert engine_time(0.00012) == "0.12\u00a0ms"


def test_runs_of_steps_are_told_as_ranges() -> None:
    assert steps_words([1, 3, 4, 5, 6, 8, 9]) == "1, 3 to 6, 8, 9"
    assert "Critical chain: steps 1, 3 to 7." in broken().text


def test_lanes_are_drawn_to_scale_with_their_waiting() -> None:
    # Given a wearer busy for 43 s, and a tender who waits from the 5th second on
    found = examination()
    picture = lane_picture(found)
    assert picture is not None
    wearer, tender = picture.lanes
    scale = (picture.width - 86.0) / found.timing.total.likely
    assert [box.number for box in wearer.boxes] == ["1", "3", "8"]
    assert wearer.boxes[0].width == pytest.approx(40.0 * scale)
    ((begins, ends),) = tender.waits
    assert (ends - begins) == pytest.approx(38.0 * scale)
    assert tender.meetings == wearer.meetings == (pytest.approx(72.0 + 43.0 * scale),)


def test_waiting_in_the_suit_counts_only_who_is_inside() -> None:
    # Given two wearers, both inside when all wait for the tender or for one another
    both = {each.who: each for each in lane_words(examination(TWO))}
    assert both["tender"].closed_in is None
    assert both["A"].closed_in == both["A"].waits
    first = {each.who: each for each in lane_words(examination(ALONE))}
    assert first["tender"].waits == pytest.approx(38.0)
    assert first["A"].last == 1


def test_the_check_that_would_catch_is_the_same_everywhere() -> None:
    assert AIR_FELT.words in broken().text


def test_a_station_gives_its_own_name_and_says_that_it_is_invented() -> None:
    # Given the demo, which is invented
    station = load_station(Path(neckring.__file__).parent / "station" / "demo")
    text = Outline(render_page(examination(), station, date=DAY)).text
    assert f"Procedure for suited runs, examined, {station.station.name}" in text
    assert "Invented data:" in text
    assert "2030-05-01" in text
