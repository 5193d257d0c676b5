"""The wording rules: each with a line that breaks it and a twin that does not."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import neckring
from neckring.procedure.wording import (
    SOURCES,
    WordingRule,
    kit_findings,
    procedure_findings,
    wording_findings,
)
from neckring.procedure.wording_lines import line_findings
from neckring.procedure.wording_text import Line, Role
from neckring.procedure.words_list import NOUNS_TOO, ONE_GESTURE, VERBS
from neckring.station.kit import Kit
from neckring.station.loading import load_station
from neckring.station.procedure_sheet import ProcedureSheet
from neckring.station.validation import validate
from neckring.station.yaml_reading import read_yaml

SHIPPED = Path(neckring.__file__).parent / "station"

KIT = """
code: k
title: A kit
things:
  helmet: {words: the helmet, states: ['off', seated, locked]}
  fan: {words: the fan, states: ['off', running]}
  backpack: {words: the backpack, states: [stowed, worn]}
  hose: {words: the water hose, states: [free, joined]}
  gate: {words: the yard gate, states: [closed, open], of: all}
conditions:
  aired: fan is running
moves:
  lock: {words: lock the helmet, by: [tender, partner], changes: {helmet: locked}, takes: 4 s,
    shows: mark_seen}
  start_fan: {words: start the fan, by: [self, tender], changes: {fan: running}, takes: 2 s}
  join_hose: {words: join the water hose to the backpack, by: [tender], changes: {hose: joined},
    takes: 4 s}
  open_gate: {words: open the yard gate, by: [tender], changes: {gate: open}, takes: 4 s}
signs:
  air_felt: {words: feel air on the face, when: aired, sense: felt, by: [self], takes: 3 s}
  mark_seen: {words: see the white mark on the neck, when: backpack is worn, sense: seen,
    by: [tender], takes: 3 s}
  gate_seen: {words: see the yard gate open, when: gate is open, sense: seen, by: [tender],
    takes: 3 s}
  partner_air: {words: hear the other fan, when: partner.aired, sense: heard, by: [self],
    takes: 3 s}
rules:
  no_air: {words: The helmet is locked and no air moves, never: helmet is locked and not aired,
    harm: death, hazard: no air in the helmet, consequence: suffocation within minutes,
    avoid: start the fan first}
breakdowns:
  fan_stops: {words: The fan stops, needs: fan is running, changes: {fan: 'off'}}
relief: {inside: helmet is not off, fresh_air: aired, out: helmet is off}
"""

HEAD = "code: p\ntitle: A trial\nkit: k\nwearers: 2\nends: helmet is locked\n"


def tree_of(text):
    root, faults = read_yaml(text, "x.yaml")
    assert not faults
    return root


def kit_of(text=KIT):
    kit, faults = validate(Kit, tree_of(text))
    assert kit is not None, faults
    return kit


def sheet_of(*steps, head=HEAD):
    """A procedure with steps written in one line each."""
    text = head + "steps:\n" + "".join(f"  - {{{step}}}\n" for step in steps)
    sheet, faults = validate(ProcedureSheet, tree_of(text))
    assert sheet is not None, faults
    return sheet


THE_KIT = kit_of()


def rules_of(*steps, head=HEAD, **given_):
    return [
        found.rule for found in procedure_findings(sheet_of(*steps, head=head), THE_KIT, **given_)
    ]


def line_rules(role, text):
    return {found.rule for found in line_findings(Line(text, role, "kit", ("x",)))}


LINES = [
    (WordingRule.ONE_ACTION, Role.MOVE, "lock the helmet and start the fan", "lock the helmet"),
    (WordingRule.ONE_ACTION, Role.MOVE, "unlock and open helmet", "unlock helmet"),
    (WordingRule.ONE_ACTION, Role.MOVE, "close valve and open helmet", "close valve A and B"),
    (WordingRule.ONE_ACTION, Role.MOVE, "turn the ring; lock it", "press and turn the ring"),
    (WordingRule.ONE_ACTION, Role.MOVE, "open the valve, start the pump", "open both valves"),
    (WordingRule.ONE_ACTION, Role.MOVE, "open it then detach it", "lift the arm and the hose"),
    (WordingRule.ONE_ACTION, Role.OTHERWISE, "stop and open the helmet", "Stop. Open the helmet."),
    (WordingRule.ONE_ACTION, Role.CALL, "start the fan and lock the helmet", "start the fan"),
    (WordingRule.VERB_FIRST, Role.MOVE, "the helmet goes on", "seat the helmet"),
    (WordingRule.VERB_FIRST, Role.MOVE, "instal the fan", "fit the fan"),
    (WordingRule.VERB_FIRST, Role.OTHERWISE, "if cold, the run ends", "if cold, stop the run"),
    (WordingRule.VERB_FIRST, Role.OTHERWISE, "no walking", "do not walk"),
    (WordingRule.ACTIVE, Role.MOVE, "let the fan be started", "start the fan"),
    (WordingRule.ACTIVE, Role.OTHERWISE, "tell A it should stop", "wait until the fan is started"),
    (WordingRule.UNIT, Role.MOVE, "set the valve to 5", "set the valve to 1.8 L/min"),
    (WordingRule.UNIT, Role.EXPECTED, "flow between 4 and 6", "flow between 4 and 6 L/min"),
    (WordingRule.UNIT, Role.SIGN, "read at least 20 C", "read at least 20 degC"),
    (WordingRule.UNIT, Role.MOVE, "turn it to 3", "turn it to position 3"),
    (WordingRule.UNIT, Role.MOVE, "lift it with at least 2", "lift it with at least 2 people"),
    (WordingRule.UNIT, Role.EXPECTED, "flow is 2", "flow is 2..3 L/min"),
    (WordingRule.VAGUE, Role.MOVE, "tighten the strap properly", "tighten the strap to the mark"),
    (WordingRule.VAGUE, Role.MOVE, "wait about 5 s", "wait 5 s"),
    (WordingRule.VAGUE, Role.MOVE, "wait about a minute", "tell the tender about a leak"),
    (WordingRule.VAGUE, Role.OTHERWISE, "open the valve as required", "open the valve"),
    (WordingRule.VAGUE, Role.NOTE, "Sufficient air flows.", "Air of 60 L/min flows."),
    (WordingRule.DOUBLE_NEGATIVE, Role.AVOID, "do not lock without air", "lock only with air"),
    (WordingRule.DOUBLE_NEGATIVE, Role.RULE, "It isn't without air", "No air, and no water"),
    (WordingRule.DOUBLE_NEGATIVE, Role.RULE, "never no air", "no air for not more than 5 s"),
    (WordingRule.NO_ACTION_IN_CAUTION, Role.HAZARD, "open the helmet first", "no air moves"),
    (WordingRule.NO_ACTION_IN_CAUTION, Role.CONSEQUENCE, "unlock the ring", "Light fails"),
    (WordingRule.NO_ACTION_IN_NOTE, Role.NOTE, "Close the valve.", "The valve is closed."),
    (WordingRule.CHECK_ONLY_LOOKS, Role.SIGN, "press the button", "hear a click"),
    (WordingRule.CHECK_ONLY_LOOKS, Role.SIGN, "feel the latch and turn it", "see it open and dry"),
    (WordingRule.RESERVED, Role.OTHERWISE, "make sure the fan runs", "check the fan"),
    (WordingRule.RESERVED, Role.TOLD, "A verifies the air", "A checks the air"),
    (WordingRule.ACTUAL_VALUE, Role.ANSWER, "yes, it is set", "fan on"),
    (WordingRule.ACTUAL_VALUE, Role.ANSWER, "Okay", "On"),
    (WordingRule.CONDITION_FIRST, Role.OTHERWISE, "stop if there is no air", "if no air, stop"),
    (WordingRule.CONDITION_FIRST, Role.OTHERWISE, "when cold stop", "when cold, stop"),
    (WordingRule.NO_MIXED_AND_OR, Role.BEGINNING, "no air and heat or smoke", "heat or smoke"),
    (
        WordingRule.LENGTH,
        Role.MOVE,
        "lift " + "very " * 19 + "high",
        "lift " + "very " * 18 + "high",
    ),
    (WordingRule.LENGTH, Role.NOTE, "so " * 26, "so " * 25),
    (WordingRule.CAPITALS, Role.CALL, "HELMET GOES ON", "Helmet ON"),
    (WordingRule.REPEATED, Role.OTHERWISE, "repeat this", "repeat this until air moves"),
]


@pytest.mark.parametrize(("rule", "role", "bad", "good"), LINES)
def test_a_line_breaks_its_rule_and_its_twin_does_not(rule, role, bad, good):
    # Then the rule is told of the one line and not of the other.
    assert rule in line_rules(role, bad)
    assert rule not in line_rules(role, good)


PUBLISHED = [
    # Good Practice Note: Applying Human Factors to Procedure Writing, part A, items 1a and 2b,
    # "instead of" against "preferred"; seen in an extract.
    (
        WordingRule.VERB_FIRST,
        Role.MOVE,
        "The Booster Pump must be started.",
        'START "A" Booster Pump.',
    ),
    (WordingRule.ACTIVE, Role.MOVE, "The Booster Pump must be started.", 'START "A" Booster Pump.'),
    (
        WordingRule.VERB_FIRST,
        Role.OTHERWISE,
        "You need permission from the lead controller to bypass an alarm.",
        "OBTAIN Lead Controller's permission to bypass an alarm.",
    ),
    # Degani and Wiener 1993, Human Factors 35(2), on ambiguous responses; seen in an extract.
    (WordingRule.ACTUAL_VALUE, Role.ANSWER, "checked and set", "Altimeters 30.10"),
    (WordingRule.ACTUAL_VALUE, Role.ANSWER, "completed", "airspeed 125"),
]


@pytest.mark.parametrize(("rule", "role", "bad", "good"), PUBLISHED)
def test_published_examples_are_judged_as_their_authors_judge_them(rule, role, bad, good):
    # Given a line that its authors advise against, and one that they prefer.
    # Then the rule tells them apart.
    assert rule in line_rules(role, bad)
    assert rule not in line_rules(role, good)


GOOD_EXAMPLES = [
    # Good Practice Note: Applying Human Factors to Procedure Writing, part A; seen in an extract.
    'START "A" Booster Pump.',
    "OBTAIN Lead Controller's permission to bypass an alarm.",
    "NOTIFY B Operator to sample T-354.",
    # The same, part B: a repeated step, and two acts at the same time; seen in an extract.
    'MONITOR tank level every 30 min until level reaches "Max Normal" (45 ft.)',
    "INCREASE inlet flow AND simultaneously MONITOR outlet flow to maintain level at 60 cm.",
    'ADJUST indicator brightness by rotating thumbwheel while depressing "Indicator On" button.',
    # DOE-STD-1029-92, example 4-14; seen in an extract.
    "Vary input signal until switch SW-1-7 trips.",
]


@pytest.mark.parametrize("line", GOOD_EXAMPLES)
def test_published_good_examples_are_left_in_peace(line):
    # Given a step that its authors hold up as an example.
    # Then no rule is told of it.
    assert line_rules(Role.MOVE, line) == set()


STEP_RULES = [
    (WordingRule.CALL_AND_ANSWER, "who: A, check: air_felt, say: Air", "who: A, check: air_felt"),
    (
        WordingRule.CALL_AND_ANSWER,
        "who: A, check: air_felt, answer: Air",
        "who: A, tell: Air comes, answer: Air",
    ),
    (
        WordingRule.READ_BACK,
        "who: A, check: air_felt, say: Air, answer: Going",
        "who: A, check: air_felt, say: Ready, answer: Air felt",
    ),
    (
        WordingRule.READ_BACK,
        "who: A, move: start_fan, say: Fan, answer: Going, expect: wind",
        "who: A, move: start_fan, say: Fan, answer: Running, expect: wind",
    ),
    (
        WordingRule.READ_BACK,
        "who: A, tell: Flow, answer: going well",
        "who: A, tell: Flow, answer: 1.8 L/min",
    ),
    (
        WordingRule.ONE_NAME,
        "who: A, tell: the helmit is on",
        "who: A, tell: both helmets are on the table",
    ),
    (WordingRule.ONE_NAME, "who: A, tell: the back pack is on", "who: A, tell: the backpack is on"),
    (WordingRule.ONE_NAME, "who: A, tell: the blower runs", "who: A, tell: the fan runs"),
    (WordingRule.ONE_NAME, "who: A, tell: the water tube", "who: A, tell: the water hose"),
    (WordingRule.ONE_NAME, "who: A, tell: a watter hose", "who: A, tell: water in the hose"),
    (
        WordingRule.STEP_REFERENCE,
        "who: A, check: air_felt, if_not: go to step 2",
        "who: A, check: air_felt, if_not: go to step 1",
    ),
    (
        WordingRule.FEEDBACK,
        "who: A, move: start_fan",
        "who: A, move: start_fan, expect: a hum",
    ),
]


@pytest.mark.parametrize(("rule", "bad", "good"), STEP_RULES)
def test_a_step_breaks_its_rule_and_its_twin_does_not(rule, bad, good):
    # Then the rule is told of the one step and not of the other.
    assert rule in rules_of(bad)
    assert rule not in rules_of(good)


@pytest.mark.parametrize(
    ("move", "check", "shown"),
    [
        # By the sign that the move names, whatever that depends on.
        ("who: tender, move: lock, on: A", "who: tender, check: mark_seen, on: A", True),
        ("who: tender, move: lock, on: A", "who: tender, check: mark_seen, on: B", False),
        # By a sign that depends on what the move changes, through a condition by name.
        ("who: A, move: start_fan", "who: A, check: air_felt", True),
        ("who: A, move: start_fan", "who: B, check: air_felt", False),
        # By the other wearer's sign of it.
        ("who: A, move: start_fan", "who: B, check: partner_air", True),
        ("who: A, move: start_fan", "who: A, check: partner_air", False),
        # What all share is seen on whomever.
        ("who: tender, move: open_gate, on: A", "who: tender, check: gate_seen, on: B", True),
    ],
)
def test_an_act_has_its_sign_when_a_check_looks_at_what_it_changes(move, check, shown):
    # Given a move and, after two things told, a check: three steps later.
    waits = ["who: A, tell: Wait"] * 2
    # Then it counts when it sees what the move changes, and not one step later.
    assert (WordingRule.FEEDBACK not in rules_of(move, *waits, check)) == shown
    assert WordingRule.FEEDBACK in rules_of(move, *waits, waits[0], check)


def test_a_step_that_can_break_a_rule_has_its_caution():
    # Given a step that breaks a rule in the wrong state, as a proof says.
    step = "who: tender, move: lock, on: A, expect: a click"
    critical = {1: "no_air"}
    # Then it needs that rule's caution, and without the proof nothing is told.
    assert rules_of(step, critical=critical) == [WordingRule.CAUTION_FIRST]
    assert rules_of(f"{step}, caution: no_air", critical=critical) == []
    assert rules_of(step) == []


def test_a_clock_that_runs_has_a_note_with_its_time():
    # Given a step after which the time of a rule runs.
    step = "who: tender, move: lock, on: A, expect: a click"
    clocks = {1: "no_air"}
    # Then a note says how long.
    assert rules_of(step, clocks=clocks) == [WordingRule.TIMED]
    assert rules_of(f"{step}, note: soon due", clocks=clocks) == [WordingRule.TIMED]
    assert rules_of(f"{step}, note: due within 120 s", clocks=clocks) == []


@pytest.mark.parametrize(("before", "after", "told"), [(10, 10, 0), (11, 10, 1), (11, 30, 2)])
def test_a_long_list_has_a_break(before, after, told):
    # Given so many steps before and after a meeting.
    steps = ["who: A, check: air_felt"] * before
    steps += ["meet: [A, B]", *["who: A, check: air_felt"] * after]
    # Then each run of more than ten is told once.
    assert rules_of(*steps).count(WordingRule.CHUNKS) == told


EMERGENCY = HEAD.replace("A trial", "Loss of air") + "when: no air on the face\n"


@pytest.mark.parametrize(
    ("head", "steps", "rule"),
    [
        (HEAD.replace("A trial", "Emergency exit"), [0, 1], WordingRule.EMERGENCY_START),
        (EMERGENCY, [1, 0, 1], WordingRule.EMERGENCY_ACT),
        (EMERGENCY, [0], WordingRule.EMERGENCY_END),
        (EMERGENCY.replace("helmet is locked", "always"), [0, 1], WordingRule.EMERGENCY_END),
    ],
)
def test_an_emergency_has_a_beginning_an_act_and_an_end(head, steps, rule):
    # Given an emergency that begins with an act and ends with something told.
    choice = ("who: A, move: start_fan, expect: a hum", "who: tender, tell: The air is back")
    assert rules_of(*choice, head=EMERGENCY) == []
    # Then what differs in one thing is told.
    assert rules_of(*(choice[number] for number in steps), head=head) == [rule]


def test_a_kit_in_order_is_left_in_peace():
    # Then nothing is told of the kit of these tests.
    assert kit_findings(THE_KIT) == ()


def test_a_finding_says_where_it_stands():
    # Given a kit and a procedure with one bad word each.
    kit_text = KIT.replace("words: lock the helmet,", "words: lock the helmet properly,")
    text = HEAD + "steps:\n  - {who: A, tell: Hello}\n  - {who: A, tell: The hood is on}\n"
    sheet, _ = validate(ProcedureSheet, tree_of(text))
    # When both are read.
    of_sheet, of_kit = wording_findings(sheet, kit_of(kit_text))
    # Then step and path lead to the words, and the source is named.
    assert (of_sheet.file, of_sheet.step, of_sheet.path) == ("procedure", 2, ("steps", 1, "tell"))
    assert tree_of(text).text_of(*of_sheet.path) == "The hood is on"
    assert (of_kit.file, of_kit.step, of_kit.path) == ("kit", None, ("moves", "lock", "words"))
    assert tree_of(kit_text).text_of(*of_kit.path) == "lock the helmet properly"
    assert of_sheet.source == SOURCES[WordingRule.ONE_NAME]
    assert of_sheet.accepted == '"helmet", as the kit calls it'


def test_every_rule_has_its_source_and_its_pair_of_lines():
    # Then no rule is without a source, and none without a test above.
    assert set(SOURCES) == set(WordingRule)
    tested = {case[0] for case in (*LINES, *STEP_RULES)}
    elsewhere = {
        WordingRule.CAUTION_FIRST,
        WordingRule.TIMED,
        WordingRule.CHUNKS,
        WordingRule.EMERGENCY_START,
        WordingRule.EMERGENCY_ACT,
        WordingRule.EMERGENCY_END,
    }
    assert tested | elsewhere == set(WordingRule)


def test_the_lists_of_words_agree():
    # Then what may be a noun is a verb too, and so are the parts of a single gesture.
    assert NOUNS_TOO <= VERBS
    assert {verb for pair in ONE_GESTURE for verb in pair} <= VERBS


WRITTEN = [
    "who: A, tell: The hood is about 5 mm open",
    "who: A, check: air_felt, say: Air",
    "who: A, check: air_felt, if_not: stop and open the helmet",
    "who: B, move: start_fan, say: Fan, answer: ok, expect: a hum",
    "who: tender, move: lock, on: A, expect: a click",
    "who: tender, move: lock, on: B, expect: 'a click, properly'",
]
OF_ORDER = {WordingRule.CHUNKS, WordingRule.FEEDBACK}


@given(
    st.lists(st.sampled_from(WRITTEN), min_size=1, max_size=8).flatmap(
        lambda steps: st.tuples(st.just(steps), st.permutations(range(len(steps))))
    )
)
def test_what_is_told_of_a_step_does_not_depend_on_its_place(drawn):
    # Given steps in two orders, each the sign of its own act.
    steps, order = drawn
    critical = {n for n, step in enumerate(steps) if "lock" in step}

    def told(places):
        sheet = sheet_of(*(steps[place] for place in places))
        asked = {n: "no_air" for n, place in enumerate(places, start=1) if place in critical}
        found = procedure_findings(sheet, THE_KIT, critical=asked)
        return Counter(
            (places[each.step - 1], each.path[2:], each.rule, each.read)
            for each in found
            if each.rule not in OF_ORDER
        )

    # Then the same is told of each.
    assert told(order) == told(range(len(steps)))


@given(st.text(max_size=160), st.sampled_from(Role))
def test_any_text_is_read(text, role):
    # Then whatever is written is judged, the same each time, in words.
    line = Line(text, role, "procedure", ("steps", 0, "say"), 1)
    found = list(line_findings(line))
    assert found == list(line_findings(line))
    assert all(each.read and each.accepted for each in found)


@pytest.mark.parametrize("name", ["starter", "demo"])
def test_shipped_procedures_are_read(name):
    # Given a shipped station with procedures.
    station = load_station(SHIPPED / name)
    if not station.procedures:
        pytest.skip(f"{name} has no procedures yet")
    trees = {
        kind: {tree.text_of("code"): tree for tree in station.trees[kind].values()}
        for kind in ("procedure", "kit")
    }
    # When all are judged.
    for code, sheet in station.procedures.items():
        for found in wording_findings(sheet, station.kits[sheet.kit]):
            root = trees[found.file][code if found.file == "procedure" else sheet.kit]
            # Then every finding leads to a place in its file.
            assert root.find(found.path)[0] is not None, found
