"""Procedure sheets, cards, briefs and counts on paper, read back by public programs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_outlooks import with_outlook
from invented_plans import invented_plan
from printed import (
    DAY,
    HEAD,
    bare,
    demo,
    needs,
    pages_of,
    picture,
    procedure_of,
    text_of,
    word_boxes,
)

from neckring.live.drill_times import quantile
from neckring.live.sheet_steps import for_other_wearer
from neckring.records.letter_height import letter_height
from neckring.records.outlook_words import span_words
from neckring.records.sheet_brief import brief_of, debrief_of, example_words
from neckring.records.sheet_cards import FIRST_ACTS, card_of, printed_card
from neckring.records.sheet_count import count_sheet
from neckring.records.sheet_press import (
    CannotPrintError,
    TooLongError,
    page_count,
    pressed,
    pressed_on_one_page,
)
from neckring.records.sheet_procedures import roles_of, sheet_for
from neckring.station.drills import Drill
from neckring.units import parse_quantity

CODES = sorted(demo().procedures)
CARDS = [code for code in CODES if demo().procedures[code].when]
A4 = (595.3, 841.9)
pytestmark = needs("pdftotext")


def stands_on_paper(pdf: bytes, margin: float = 20.0) -> bool:
    """Whether every word lies within the page."""
    return all(
        margin <= left and right <= A4[0] - margin and top > 0 and bottom < A4[1]
        for _, left, top, right, bottom, _ in word_boxes(pdf)
    )


def drill(key: str, seconds: float, suit: str = "dipper") -> Drill:
    took = parse_quantity(f"{seconds} s", "time")
    return Drill(key=key, suit=suit, took=took, on=DAY.isoformat(), source="a watch")


@pytest.mark.parametrize("code", CODES)
def test_lead_has_every_word_of_every_step(code) -> None:
    # given a procedure of the demo, printed for the lead
    procedure = procedure_of(code)
    pdf = pressed("sheet_procedure", sheet_for(procedure, "lead", HEAD), DAY)
    text = text_of(pdf)
    # then every word that was written for every step can be read from it, and the numbers
    for step in procedure.steps:
        shown = [] if step.kind.value == "meet" else [step.words[1:]]
        for words in (*shown, step.say, step.answer, step.expect, step.if_not, step.note):
            assert bare(words) in text, (step.number, words)
        if step.caution:
            assert bare(step.caution.avoid) in text
            assert step.caution.word.value in text
    # and nothing lies beyond the paper
    assert stands_on_paper(pdf)


@pytest.mark.parametrize("code", ["changeover", "wearer-down"])
def test_each_role_has_its_own_steps_in_full_and_the_others_in_a_line(code) -> None:
    # given a procedure, and what everybody does in it
    procedure = procedure_of(code)
    for role in roles_of(procedure)[1:]:
        # when it is printed for one of them
        sheet = sheet_for(procedure, role, HEAD)
        told = [row for row in sheet.rows if row.kind in ("step", "meet")]
        own = [step for step in procedure.steps if role in step.lanes]
        # then their own steps are there, by number and in order
        assert [row.number for row in told] == [str(step.number) for step in own]
        # and every other step is either done to them or stands in a line of what others do
        covered = set[int]()
        for row in sheet.rows:
            first, _, last = row.number.partition(" to ")
            covered |= set(range(int(first), int(last or first) + 1))
        assert covered == {step.number for step in procedure.steps}


def test_caution_stands_before_its_step_and_once_at_length() -> None:
    # given a procedure in which steps that follow one another warn of the same
    rows = sheet_for(procedure_of("dress"), "lead", HEAD).rows
    warned = [row for row in rows if row.warned]
    first, second = warned[1], warned[2]
    # then the first tells hazard and consequence, the second only how it is avoided
    assert first.warned.hazard == "A water line under pressure."
    assert second.warned.hazard == ""
    assert second.warned.avoid == first.warned.avoid
    # and on paper the word stands above the number of its step
    boxes = word_boxes(
        pressed("sheet_procedure", sheet_for(procedure_of("dress"), "lead", HEAD), DAY)
    )
    place = next(n for n, box in enumerate(boxes) if box[5] in ("WARNING", "CAUTION", "DANGER"))
    number = next(box for box in boxes[place:] if box[5] == warned[0].number)
    assert boxes[place][0] == number[0]
    assert boxes[place][2] < number[2]


def test_measured_steps_have_room_for_the_figure_and_its_unit() -> None:
    # given a step at which an instrument is read
    sheet = sheet_for(procedure_of("changeover"), "tender", HEAD)
    measured = [row for row in sheet.rows if row.reads]
    # then what must be shown stands there with the unit of the figure
    assert {"16.0 V or more", "0 kPa"} <= {row.reads for row in measured}
    assert all(
        (row.unit and row.reads.replace(" or more", "").endswith(row.unit))
        or "or less" in row.reads
        for row in measured
    )


def test_every_page_says_which_it_is() -> None:
    # given a sheet of several pages
    sheet = sheet_for(procedure_of("go"), "lead", HEAD)
    pdf = pressed("sheet_procedure", sheet, DAY)
    count = page_count("sheet_procedure", sheet)
    assert count == pages_of(pdf) > 1
    boxes = word_boxes(pdf)
    for page in range(1, count + 1):
        words = [box[5] for box in boxes if box[0] == page]
        # then each page bears its number, the count, the station, the mark, the day and the warning
        text = " ".join(words)
        assert f"page {page} of {count}" in text
        assert "Tarn Quarry" in text
        assert "INVENTED DATA" in text
        assert f"marks · printed {DAY}" in text


def test_acts_are_as_high_on_paper_as_arms_length_asks(tmp_path) -> None:
    # given a page of a procedure, and where the first act stands on it
    pdf = pressed("sheet_procedure", sheet_for(procedure_of("go"), "lead", HEAD), DAY)
    word = next(box for box in word_boxes(pdf) if box[5] == "Check:")
    dots = 400
    page = picture(pdf, tmp_path, dots, page=word[0])
    top, bottom, left = (round(each * dots / 72.0) for each in (word[2], word[4], word[1]))
    letter = page[top:bottom, left : left + round((word[3] - word[1]) * dots / 72.0 / 7.0)]
    # then its first capital is as high as 20 minutes of arc from 0.6 m are, or a little more
    ink = np.flatnonzero((letter < 128).any(axis=1))
    height = (ink[-1] - ink[0] + 1) * 0.0254 / dots
    assert letter_height(0.6) * 0.99 < height < letter_height(0.6) * 1.1


def test_what_is_not_invented_does_not_say_so() -> None:
    head = replace(HEAD, invented=False)
    pdf = pressed("sheet_count", count_sheet(demo().kits["dipper"], head), DAY)
    assert "INVENTED" not in text_of(pdf)


def test_same_sheet_is_the_same_file() -> None:
    sheet = count_sheet(demo().kits["dipper"], HEAD)
    assert pressed("sheet_count", sheet, DAY) == pressed("sheet_count", sheet, DAY)


def test_what_people_write_is_no_order_to_the_typesetter() -> None:
    # given words that would be orders if they were set as a program
    hostile = 'a #panic("x") *b* $c$ \\ @d <e> #include "f" _g_ = h'
    sheet = count_sheet(demo().kits["dipper"], replace(HEAD, station=hostile))
    # then they stand there as written
    assert bare(hostile) in text_of(pressed("sheet_count", sheet, DAY))


def test_letter_that_the_type_lacks_is_refused() -> None:
    sheet = count_sheet(demo().kits["dipper"], replace(HEAD, station="Tarn 漢"))
    with pytest.raises(CannotPrintError) as refused:
        pressed("sheet_count", sheet, DAY)
    assert refused.value.letters == "漢"


@pytest.mark.parametrize("code", CARDS)
@pytest.mark.parametrize("trouble", ["A", "B"])
def test_card_is_one_page_with_first_words_first(code, trouble) -> None:
    # given the card of an emergency
    procedure = procedure_of(code)
    if trouble == "B":
        procedure = for_other_wearer(procedure, procedure.listed.ground)
    card = card_of(procedure, HEAD, [demo().suits["dipper"]], (), (), trouble)
    pdf = printed_card(card, DAY)
    # then it is one page, and nothing lies beyond it
    assert pages_of(pdf) == 1
    assert stands_on_paper(pdf)
    text = text_of(pdf)
    # and the first words are those of the procedure's file, above all steps
    first = next(step for step in procedure.steps if step.say or step.kind.value == "say")
    assert card.first_words == (first.say or first.words.removeprefix("tell: "))
    assert text.index(bare(card.first_words)) < text.index(bare(first.words[1:]))
    # and the first acts are there with every word, the sign, and what must never be
    for step in procedure.steps[:FIRST_ACTS]:
        for words in (step.words[1:], step.answer, step.expect, step.if_not):
            assert bare(words) in text, words
    assert bare(procedure.when) in text
    rules = demo().kits["dipper"].rules.values()
    for line in card.never:
        assert bare(line) in text
        assert any(line.startswith(rule.words) for rule in rules)
    # and every later step stands there, or where it stands is told
    for step in procedure.steps:
        on_card = f"{bare(step.words[1:])}" in text
        assert on_card or step.kind.value == "meet" or "proceduresheets" in text


def test_card_of_the_other_wearer_has_the_letters_changed_over() -> None:
    procedure = procedure_of("air-lost")
    other = for_other_wearer(procedure, procedure.listed.ground)
    one = card_of(procedure, HEAD, [], (), (), "A")
    two = card_of(other, HEAD, [], (), (), "B")
    assert [row.who for row in one.first] == [("A",), ("B",), ("B",)]
    assert [row.who for row in two.first] == [("B",), ("A",), ("A",)]


def test_card_without_drills_says_so_and_with_drills_tells_them() -> None:
    # given a card, and no drill of it
    procedure, suit = procedure_of("air-lost"), demo().suits["dipper"]
    (line,) = [
        each
        for each in card_of(procedure, HEAD, [suit], ()).drills
        if "opens the helmet alone" in each.words
    ]
    assert line.drilled == "none timed yet"
    # when five were timed
    times = [9.0, 11.0, 12.0, 14.0, 21.0]
    drills = [drill("open_helmet", seconds) for seconds in times]
    drilled = card_of(procedure, HEAD, [suit], drills)
    (line,) = [each for each in drilled.drills if "opens the helmet alone" in each.words]
    # then the card tells half and nine tenths of them
    p50, p90 = (span_words(quantile(times, share), up=True) for share in (0.5, 0.9))
    assert line.drilled == f"P50 {p50}, P90 {p90} (5 drills)"
    assert bare(line.drilled) in text_of(printed_card(drilled, DAY))
    # and two are too few
    few = card_of(procedure, HEAD, [suit], drills[:2]).drills
    assert any(each.drilled == "2 timed, 3 needed" for each in few)


def test_card_tells_the_help_clock_of_a_plan_that_looked_ahead() -> None:
    # given a plan with harm against help for stopped fans
    plan = with_outlook(invented_plan())
    fans = next(each for each in plan.outlook.failures)
    plan = replace(
        plan,
        outlook=replace(plan.outlook, failures=(replace(fans, code="fans"),)),
    )
    card = card_of(procedure_of("air-lost"), HEAD, [], (), [plan])
    # then the card for lost air tells both clocks, and the card of a snag has none
    assert "harm after" in card.clocks[0].words
    assert "help after" in card.clocks[0].words
    snag = card_of(procedure_of("umbilical-snagged"), HEAD, [], (), [plan])
    assert "no failure of a plan" in snag.clocks[0].words
    # and without a plan it says how to come by them
    assert "not computed" in card_of(procedure_of("air-lost"), HEAD, [], ()).clocks[0].words


def test_card_with_too_many_words_is_refused() -> None:
    card = card_of(procedure_of("air-lost"), HEAD, [], ())
    long = replace(card, first=tuple(replace(row, words="word " * 400) for row in card.first))
    with pytest.raises(TooLongError):
        printed_card(long, DAY)


def of_demo(**changes):
    """An invented plan that says it is one of the demo's runs."""
    return replace(invented_plan(), run="floor-survey", wearer="W2", **changes)


def test_brief_is_one_page_with_what_the_plan_and_the_sheet_say() -> None:
    # given a plan
    station, plan = demo(), of_demo()
    pdf = pressed_on_one_page("sheet_brief", brief_of(station, plan, HEAD), DAY)
    text = text_of(pdf)
    assert pages_of(pdf) == 1
    assert stands_on_paper(pdf)
    # then verdict, ice, people, questions, first words and every ending limit's example are there
    suit = station.suits["dipper"]
    expected = [
        "SHORTEN if nothing fails",
        plan.sentence,
        suit.reservoir.ice.text,
        "W2 in Dipper",
        "T1, T2",
        *station.station.console.calls.questions,
        "Air lost, visor open!",
        "Grips the throat",
        *(example_words(limit) for limit in station.limits.limits if limit.action != "caution"),
        *plan.cautions,
    ]
    for words in expected:
        assert bare(words) in text, words
    # and without a look ahead it says that there is no turn-back time
    assert bare("Turn-back time: not computed") in text


def test_brief_of_a_plan_that_looked_ahead_tells_the_turn_back_time() -> None:
    plan = with_outlook(of_demo())
    sheet = brief_of(demo(), plan, HEAD)
    assert "not computed" not in sheet.turn_back
    assert sheet.provided == ""
    assert sheet.sentence.startswith(plan.outlook.sentence)
    assert bare(sheet.turn_back) in text_of(pressed_on_one_page("sheet_brief", sheet, DAY))


def test_debrief_has_a_line_for_every_spell_and_room_beside_what_was_expected() -> None:
    plan = of_demo()
    sheet = debrief_of(demo(), plan, HEAD)
    pdf = pressed_on_one_page("sheet_debrief", sheet, DAY)
    text = text_of(pdf)
    assert pages_of(pdf) == 1
    for task in sheet.tasks:
        assert bare(f"{task.begins}{task.minutes}{task.what}") in text
    for each in (*sheet.expected,):
        assert bare(each.words) in text
    for question in sheet.questions:
        assert bare(question) in text


def test_count_sheet_lists_what_the_kit_says_is_counted() -> None:
    # given the demo's kit, whose boots come in pairs, and its posture which is no piece
    sheet = count_sheet(demo().kits["dipper"], HEAD)
    pieces = {each.words: each.pieces for each in sheet.of_wearer}
    assert pieces["Boots"] == "2"
    assert "Posture of the wearer" not in pieces
    pdf = pressed("sheet_count", sheet, DAY)
    assert pages_of(pdf) == 1
    assert all(bare(f"{name}{count}") in text_of(pdf) for name, count in pieces.items())


def test_count_sheet_of_a_kit_that_says_nothing_lists_all_and_says_so() -> None:
    kit = demo().kits["dipper"]
    things = {name: thing.model_copy(update={"pieces": None}) for name, thing in kit.things.items()}
    sheet = count_sheet(kit.model_copy(update={"things": things}), HEAD)
    assert len(sheet.of_wearer) + len(sheet.shared) == len(things)
    assert bare("how many pieces are counted") in text_of(pressed("sheet_count", sheet, DAY))
