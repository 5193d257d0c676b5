"""Harm against help on the page, on the terminal and as JSON."""

from __future__ import annotations

import json
import re
from dataclasses import fields, is_dataclass, replace

import jsonschema
import numpy as np
import pytest
from invented_outlooks import with_outlook
from invented_plans import invented_plan
from test_plan_json import validated
from test_plan_page import HOSTILE, Page
from test_plan_summary import printed

from neckring.outing.findings import Plan
from neckring.outing.outlook import Outlook
from neckring.records import outlook_words as words
from neckring.records.plan_json import plan_as_json, plan_schema
from neckring.records.plan_page import render_page
from neckring.records.reading import moment
from neckring.records.slack_bands import bands

SECTIONS = ("If something fails", "If nothing fails", "What to measure", "What to change")


def outlook_of(plan: Plan) -> Outlook:
    assert plan.outlook is not None
    return plan.outlook


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


# The page


def test_a_plan_that_does_not_look_ahead_has_none_of_it(shorten_page: str) -> None:
    text = Page(shorten_page).text
    for unwanted in (*SECTIONS, "Turn back by", "members"):
        assert unwanted not in text


def test_the_sections_stand_between_the_cautions_and_the_timeline(
    ahead: Plan, ahead_page: str
) -> None:
    text = Page(ahead_page).text
    places = [text.rindex(ahead.cautions[-1])]
    places += [text.rindex(section) for section in SECTIONS]
    places.append(text.rindex("Timeline"))
    assert places == sorted(places)
    verdict = text[: text.index("Cautions")]
    assert plain(words.turn_back_sentence(ahead, outlook_of(ahead))) in verdict
    assert plain(words.kept_sentence(outlook_of(ahead))) in verdict


def test_every_failure_has_its_row_with_clocks_and_outcome(looked_ahead: Plan) -> None:
    outlook = outlook_of(looked_ahead)
    read = Page(render_page(looked_ahead))
    near = [one for group in bands(outlook) for one in group]
    for one in near:
        row = " ".join(
            (
                one.words[:1].upper() + one.words[1:],
                f"{moment(looked_ahead, one.worst.time)}, {one.worst.place}",
                words.crossed_words(one),
                words.harm_words(one, outlook.computed),
                words.help_words(one),
                words.slack_words(one.worst.slack, one.reserve, outlook.computed),
                words.reserve_words(one.reserve),
                words.state_words(one),
                words.share_words(words.least_kept(one)),
            )
        )
        assert plain(row) in read.text
    marked = [row for row in read.all("tr") if row.get("class") == "short-row"]
    assert len(marked) == sum(not words.is_kept(one) for one in near)
    assert "Cannot happen in this run: the umbilical is snagged." in read.text
    folded_away = re.search(
        r"At every minute more than 40 min of slack, [^:]+: ([^.]+)\.", read.text
    )
    assert folded_away is not None
    assert "the contact with the bay is lost" in folded_away[1]


def test_names_without_room_over_a_band_stand_under_the_picture(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    leak = next(one for one in outlook.failures if one.code == "leak")
    alike = tuple(
        replace(leak, code=f"leak-{n}", words=f"water leaks out of the loop at joint {n}")
        for n in range(9)
    )
    plan = replace(ahead, outlook=replace(outlook, failures=alike))
    text = Page(render_page(plan)).text
    assert "Water leaks out of the loop at joint 0; and 8 more alike" in text
    assert re.search(r"Drawn with “water leaks out of the loop at joint 0”: .*joint 8\.", text)


def test_chances_doubts_answers_and_advice_are_told(ahead: Plan, ahead_page: str) -> None:
    outlook, text = outlook_of(ahead), Page(ahead_page).text
    for wanted in (
        "heart rate above 152 bpm turn back 62 % 38 min (10:08) 41 min (10:11) not reached",
        "heart rate above 168 bpm stop now 0.4 % not reached not reached not reached",
        "Reached by none of 2,000 members: core temperature above 38.50 °C (stop now);",
        "The garment's conductance 22 W/K +/- 6 61 % (52 % to 70 %) can be measured",
        "The wearer's own sweating 1 +/- 0.2 5 % (1 % to 9 %) cannot be measured",
        "The least ice 1.2 kg 1.9 kg go",
        "The least water flow 1.5 L/min nothing up to 4 L/min still not a go",
        "Where the tender must stand bay bay go as planned",
        *outlook.advice,
    ):
        assert wanted in text, wanted


def test_an_outlook_that_found_nothing_says_so(ahead: Plan) -> None:
    empty = replace(
        outlook_of(ahead), failures=(), chances=(), doubts=(), answers=(), advice=(), turn_back=None
    )
    text = Page(render_page(replace(ahead, outlook=empty))).text
    for wanted in (
        "There is no turn-back time",
        "The sheet holds no limit to be reached.",
        "No input has a spread that matters",
        "Nothing was asked, and nothing is advised.",
    ):
        assert wanted in text, wanted


def test_hostile_texts_of_an_outlook_stay_text(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    plan = with_outlook(
        replace(ahead, outlook=None),
        sentence=HOSTILE, advice=(HOSTILE,),
        failures=tuple(
            replace(
                one, words=HOSTILE, code=HOSTILE,
                worst=replace(one.worst, place=HOSTILE, limit=HOSTILE),
            )
            for one in outlook.failures
        ),
        doubts=(replace(outlook.doubts[0], label=HOSTILE, written=HOSTILE),),
        answers=(replace(outlook.answers[0], question=HOSTILE, present=HOSTILE, answer=HOSTILE),),
        chances=(replace(outlook.chances[-1], quantity=HOSTILE),),
    )  # fmt: skip
    read = Page(render_page(plan))
    assert read.all("script") == []
    assert " ".join(HOSTILE.split()) in read.text
    assert not any("onload" in attributes for _, attributes in read.elements)


def test_the_page_with_pictures_of_slack_stays_small_and_the_same(ahead_page: str) -> None:
    assert len(ahead_page.encode()) < 400_000
    assert render_page(with_outlook(invented_plan())) == ahead_page


# The terminal


@pytest.mark.parametrize("terminal", [False, True])
def test_the_summary_gains_exactly_three_lines(looked_ahead: Plan, terminal: bool) -> None:
    short = replace(looked_ahead, limits=looked_ahead.limits[:4])
    before = printed(replace(short, outlook=None), terminal=terminal).splitlines()
    after = printed(short, terminal=terminal).splitlines()
    gained = [line for line in after if line not in before]
    assert len(after) == len(before) + 3
    assert len(gained) == 3
    assert [line for line in after if line not in gained] == before


def test_the_three_lines_tell_the_worst_the_turn_back_and_the_first_step(ahead: Plan) -> None:
    text = printed(ahead)
    assert "at 44 min: harm 34, help 49, reserve 10 min" in text
    assert (
        "Turn back by 33 min (10:03); 46.7 % of 2000 members keep the reserve, 99 % asked" in text
    )
    assert "Change first: the longest safe outing, 41 min (planned 62 min)" in text


def test_many_limits_and_three_more_lines_still_fit_one_screen(looked_ahead: Plan) -> None:
    crowded = replace(looked_ahead, limits=looked_ahead.limits * 4)
    lines = printed(crowded, report="build/plan.html").splitlines()
    assert len(lines) <= 45
    assert max(map(len, lines)) <= 80


# The JSON


def names_of(record: object) -> set[str]:
    assert is_dataclass(record)
    return {field.name for field in fields(record)}


def test_nothing_of_the_outlook_is_left_out(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    document = validated(ahead)["outlook"]
    assert names_of(outlook) | {"quantiles"} == set(document)
    for key in ("failures", "chances", "doubts", "answers"):
        assert len(document[key]) == len(getattr(outlook, key))
        assert names_of(getattr(outlook, key)[0]) == set(document[key][0])
    assert names_of(outlook.failures[0].worst) == set(document["failures"][0]["worst"])


def test_arrays_of_a_failure_stand_beside_each_other(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    document = validated(ahead)["outlook"]
    assert document["quantiles"] == [0.05, 0.5, 0.95]
    for written, one in zip(document["failures"], outlook.failures, strict=True):
        assert written["instants"] == one.instants.tolist()
        for key in ("harm", "help", "slack"):
            assert {len(row) for row in written[key]} == {len(one.instants)}
        for key in ("slack_at_confidence", "slack_as_written", "kept"):
            assert len(written[key]) == len(one.instants)
    first = outlook.failures[0]
    slack = document["failures"][0]["slack"][1]
    expected = [None if np.isinf(value) else pytest.approx(value) for value in first.slack[1]]
    assert slack == expected


def test_endless_clocks_are_null_and_kept_tells_which_end(ahead: Plan) -> None:
    outlook = outlook_of(ahead)
    one = outlook.failures[0]
    count = len(one.instants)
    no_help = replace(
        one,
        help=np.full((3, count), np.inf), slack=np.full((3, count), -np.inf),
        slack_at_confidence=np.full(count, -np.inf), kept=np.zeros(count),
        worst=replace(one.worst, help=np.inf, slack=-np.inf),
    )  # fmt: skip
    plan = replace(ahead, outlook=replace(outlook, failures=(no_help, *outlook.failures[1:])))
    failures = validated(plan)["outlook"]["failures"]
    assert set(failures[0]["slack_at_confidence"]) == {None}
    assert failures[0]["worst"]["help"] is None
    assert max(failures[0]["kept"]) < outlook.confidence
    silent = next(one for one in failures if one["code"] == "silence")
    assert set(silent["slack_at_confidence"]) == {None}
    assert min(silent["kept"]) >= outlook.confidence
    assert "Infinity" not in json.dumps(plan_as_json(plan))


def test_a_plan_that_does_not_look_ahead_writes_null(shorten: Plan) -> None:
    assert validated(shorten)["outlook"] is None


@pytest.mark.parametrize(
    ("key", "wrong"), [("verdict", "maybe"), ("kept", 3.0), ("failures", [{}]), ("extra", 1)]
)
def test_the_schema_refuses_a_wrong_outlook(ahead: Plan, key: str, wrong: object) -> None:
    document = plan_as_json(ahead)
    broken = document | {"outlook": document["outlook"] | {key: wrong}}
    assert not jsonschema.Draft202012Validator(plan_schema()).is_valid(broken)
