"""The signed gate: what opens it, what rest and repeat do, and what one's own card says."""

from __future__ import annotations

import statistics
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.crew.crowd import GATE, RULES, gate, people, told

from neckring.crew.health_gate import Reading, pass_gate
from neckring.crew.published_gates import PUBLISHED, side_by_side
from neckring.records.crew_words import gate_lines
from neckring.station.gates import Gate
from neckring.station.vitals import MEASURED_AS
from neckring.units import parse_quantity

GOOD = {"heart_rate": 80 / 60, "temperature": 36.6}
FAST = {"heart_rate": 104 / 60, "temperature": 36.6}


def at(minutes: float, values: dict[str, float]) -> Reading:
    return Reading(60.0 * minutes, values)


def test_all_figures_pass() -> None:
    assert pass_gate(gate(), [at(0, GOOD)]).outcome == "open"


def test_the_value_itself_passes() -> None:
    edge = {"heart_rate": 100 / 60, "temperature": 37.2}
    assert pass_gate(gate(), [at(0, edge)]).outcome == "open"


def test_a_figure_that_was_not_measured_keeps_it_shut() -> None:
    found = pass_gate(gate(), [at(0, {"heart_rate": 80 / 60})])
    assert (found.outcome, found.why) == ("measure", ("temperature was not measured",))


def test_rest_and_repeat() -> None:
    # Given a pulse that is too fast
    first = pass_gate(gate(), [at(0, FAST)])
    # Then it is measured again after the signed rest
    assert (first.outcome, first.next_at, first.repeats_left) == ("rest", 300.0, 2)
    # When it is measured too soon, nothing changes
    soon = pass_gate(gate(), [at(0, FAST), at(4.9, GOOD)])
    assert (soon.outcome, soon.next_at, soon.repeats_left) == ("rest", 300.0, 2)
    # When it is measured in time, the gate opens
    assert pass_gate(gate(), [at(0, FAST), at(5, GOOD)]).outcome == "open"
    # And when no repeat is left it is shut, whatever is measured later
    thrice = [at(0, FAST), at(5, FAST), at(10, FAST)]
    assert pass_gate(gate(), thrice).outcome == "shut"
    assert pass_gate(gate(), [*thrice, at(15, GOOD)]).outcome == "shut"


def test_a_forgotten_figure_may_be_added_but_none_is_measured_over() -> None:
    forgot = {"heart_rate": 104 / 60}
    found = pass_gate(gate(), [at(0, forgot), at(1, GOOD)])
    assert found.outcome == "rest"
    calm = pass_gate(gate(), [at(0, {"heart_rate": 80 / 60}), at(1, {"temperature": 36.6})])
    assert calm.outcome == "open"


def test_what_becomes_worse_counts_at_once_and_whenever_it_is_measured() -> None:
    # Given a gate that was open
    soon = pass_gate(gate(), [at(0, GOOD), at(3, FAST)])
    # Then a fast pulse three minutes later shuts it, and the rest begins there
    assert (soon.outcome, soon.next_at, soon.repeats_left) == ("rest", 480.0, 2)
    assert pass_gate(gate(), [at(0, GOOD), at(30, FAST)]).outcome == "rest"
    # And a gate that was opened by the last repeat is shut again too
    last = [at(0, FAST), at(5, FAST), at(10, GOOD), at(20, FAST)]
    assert pass_gate(gate(), last).outcome == "shut"


def test_a_yes_and_a_question_not_asked_are_for_the_medic() -> None:
    asked = gate(questions={"ill": "ill?"})
    assert pass_gate(asked, [at(0, GOOD)], answers={"ill": False}).outcome == "open"
    assert pass_gate(asked, [at(0, GOOD)], answers={"ill": True}).why == ("yes to: ill?",)
    assert pass_gate(asked, [at(0, GOOD)]).outcome == "medic decides"


def test_nobody_is_released_by_the_first_reading_nor_by_the_clock() -> None:
    signed = gate(refer_after="30 min", repeats="4", rest="10 min")
    first = pass_gate(signed, [at(0, GOOD)], rest_first=True)
    assert (first.outcome, first.next_at) == ("rest", 600.0)
    assert pass_gate(signed, [at(0, GOOD), at(10, GOOD)], rest_first=True).outcome == "open"
    # Given 30 min of rest and still too fast, then it is handed on
    slow = [at(10 * n, FAST) for n in range(4)]
    assert pass_gate(signed, slow[:3], rest_first=True).outcome == "rest"
    assert pass_gate(signed, slow, rest_first=True).outcome == "refer"


TIMES = st.lists(
    st.tuples(st.floats(0.1, 15.0), st.sampled_from((GOOD, FAST, {"heart_rate": 1.0}, {}))),
    max_size=6,
)


@given(TIMES)
def test_it_only_opens_on_figures_that_all_pass(steps) -> None:
    minutes, readings = 0.0, []
    for step, values in steps:
        minutes += step
        readings.append(at(minutes, values))
    found = pass_gate(gate(), readings)
    if found.outcome == "open":
        last = readings[-1].values
        assert last.get("heart_rate", 0.0) <= 100 / 60
        assert any("temperature" in one.values for one in readings)
        assert any(0 < one.values.get("heart_rate", 0.0) <= 100 / 60 for one in readings)
    assert found.repeats_left >= 0
    assert (found.next_at is not None) is (found.outcome == "rest")


def card(*rates: float) -> tuple[Any, ...]:
    readings = [{"on": "2026-10-01", "heart_rate": f"{rate} bpm"} for rate in rates]
    return people(W1={"card": readings}).people["W1"].card


def test_a_pulse_that_passes_but_is_unusual_is_for_the_medic() -> None:
    # Given five readings of a card and a pulse of 90
    own = card(58, 60, 62, 60, 61)
    found = pass_gate(gate(), [at(0, {"heart_rate": 1.5, "temperature": 36.6})], own)
    # Then the score is that of one more value of a sample (no less spread than the instrument's)
    (one,) = found.against
    spread = max(statistics.stdev([58, 60, 62, 60, 61]), 2.0)
    assert one.score == pytest.approx((90 - 60.2) / (spread * (1 + 1 / 5) ** 0.5))
    assert found.outcome == "medic decides"


def test_a_short_card_tells_the_difference_only() -> None:
    fast = {"heart_rate": 1.5, "temperature": 36.6}
    found = pass_gate(gate(), [at(0, fast)], card(60, 61))
    (one,) = found.against
    assert (one.score, one.unusual, found.outcome) == (None, False, "open")
    assert one.difference == pytest.approx(29.5 / 60)


def test_the_published_gates_contradict_one_another_and_none_is_applied() -> None:
    conflicts = {(row.quantity, row.side) for row in side_by_side("release") if row.conflict}
    assert {("heart_rate", "above"), ("saturation", "below")} <= conflicts
    lines = "\n".join(gate_lines(None, "release"))
    assert "no gate is signed" in lines
    assert "CONFLICT heart rate above: city_rehab 100 bpm, county_rehab 110 bpm" in lines
    # Given a gate with a looser pulse than the published one it says it follows
    looser = [RULES[0] | {"value": "112 bpm", "example": {"reading": "113 bpm", "stops": "yes"}}]
    signed = gate(follows="city_rehab", rules=looser)
    told_of = "\n".join(gate_lines(signed, "release"))
    # Then the difference is shown, and only the signed one decides
    assert "112 bpm where it says heart rate above 100 bpm" in told_of
    assert pass_gate(signed, [at(0, {"heart_rate": 105 / 60})]).outcome == "open"


def test_every_published_figure_is_one_that_a_person_can_have() -> None:
    for one in PUBLISHED:
        for figure in one.figures:
            low, high = MEASURED_AS[figure.quantity].bounds
            value = parse_quantity(figure.text, MEASURED_AS[figure.quantity].dimension).nominal
            assert low <= value <= high, (one.code, figure)


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("stops: yes", "stops: no", "rules[1].example.stops"),
        ("stop_if: above", "stop_if: below", "rules[1].example.stops"),
        ("value: 100 bpm", "value: 100 degC", "rules[1].value"),
        ("value: 100 bpm", "value: 600 bpm", "rules[1].value"),
        ("signed_by: M1\n", "", "signed_by"),
    ],
)
def test_an_inverted_mistyped_or_unsigned_rule_is_told_with_its_place(old, new, field) -> None:
    text = (
        "rules:\n  - {quantity: heart_rate, stop_if: above, value: 100 bpm, source: s, "
        "verified: no, example: {reading: 101 bpm, stops: yes}}\n"
        "  - {quantity: temperature, stop_if: above, value: 37.2 degC, source: s, "
        "verified: no, example: {reading: 37.2 degC, stops: no}}\n"
        "rest: 5 min\nsigned_by: M1\nsigned_on: 2026-11-20\n"
    )
    assert told(Gate, text) == []
    assert [fault.field for fault in told(Gate, text.replace(old, new, 1))] == [field]
    assert GATE["rest"] == "5 min"
