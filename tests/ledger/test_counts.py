"""Counts out and in: never below nought, nothing lost, replayed the same."""

from __future__ import annotations

import os
from collections import Counter
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.ledger.shelf import HOUR, Shelf

from neckring.ledger.ledger_state import fold
from neckring.ledger.records import Act, Record

EXAMPLES = 2000 if os.environ.get("NECKRING_SOAK") else 100
RUNS = st.sampled_from(["", "R1", "R2"])
PIECES = st.tuples(
    st.sampled_from([Act.OUT, Act.IN, Act.LOST, Act.STOCKED]),
    st.fixed_dictionaries(
        {
            "bag": st.just("red"),
            "piece": st.sampled_from(["pins", "plugs"]),
            "count": st.integers(0, 9),
            "run": RUNS,
        }
    ),
)
ITEMS = st.tuples(
    st.sampled_from([Act.OUT, Act.IN, Act.LOST, Act.DRIED]),
    st.fixed_dictionaries({"item": st.sampled_from(["F1", "F2", "L1"]), "run": RUNS}),
)


@settings(max_examples=EXAMPLES)
@given(st.lists(PIECES | ITEMS, max_size=40))
def test_whatever_is_asked_the_counts_hold(deeds) -> None:
    # Given deeds in any order, and plain counters beside them
    shelf, out, gone, put = Shelf(), Counter(), Counter(), Counter()
    away: set[str] = set()
    for act, body in deeds:
        before = len(shelf.records)
        why = shelf.take(act, **body)
        # Then each is either recorded or refused in words, never both
        assert (len(shelf.records) == before) is bool(why)
        if why:
            continue
        if "item" in body:
            assert (body["item"] in away) is (act in (Act.IN, Act.LOST))
            away ^= {body["item"]} if act is not Act.DRIED else set()
            continue
        key = body["piece"]
        out[key, body["run"]] += {Act.OUT: 1, Act.STOCKED: 0}.get(act, -1) * body["count"]
        gone[key] += body["count"] if act is Act.LOST else 0
        put[key] += body["count"] if act is Act.STOCKED else 0
    # And nothing is below nought, and nothing is lost that nobody gave up
    for piece, first in (("pins", 12), ("plugs", 4)):
        count = shelf.state.count("red", piece)
        assert dict(count.out) == {r: n for (p, r), n in out.items() if p == piece and n}
        assert min([*count.out.values(), count.inside(first)]) >= 0
        assert count.inside(first) + count.all_out + gone[piece] == first + put[piece]
    assert away == {serial for serial, item in shelf.state.items.items() if item.out}
    # And what stands in the ledger, folded again, is the same state
    assert fold(shelf.records) == shelf.state


@given(st.permutations(range(1, 5)))
def test_records_out_of_order_or_with_a_gap_are_no_ledger(order) -> None:
    bodies: list[dict[str, Any]] = [{"item": "F1"}, {"item": "F1"}, {"item": "F2"}, {"item": "F2"}]
    acts = [Act.OUT, Act.IN, Act.OUT, Act.IN]
    records = [Record(n, 0.0, "T1", acts[n - 1], bodies[n - 1]) for n in order]
    if list(order) == [1, 2, 3, 4]:
        assert fold(records).last == records[-1]
    else:
        with pytest.raises(ValueError, match="stands where"):
            fold(records)


def test_an_item_counted_out_twice_is_refused_with_who_has_it() -> None:
    shelf = Shelf()
    assert shelf.take(Act.OUT, item="F1", run="R1") == ""
    why = shelf.take(Act.OUT, item="F1", run="R2")
    assert "F1 is out already: entry 1" in why
    assert "for run R1" in why
    assert len(shelf.records) == 1
    assert shelf.take(Act.IN, item="F1") == ""
    assert "F1 is not out; it came back: entry 2" in shelf.take(Act.IN, item="F1")


def test_pieces_come_back_from_the_run_they_went_out_for() -> None:
    shelf = Shelf()
    shelf.take(Act.OUT, bag="red", piece="pins", count=3, run="R1")
    said = shelf.take(Act.IN, bag="red", piece="pins", count=3, run="R2")
    assert said == "0 pins of red are out for run R2, not 3; out: 3 for run R1"
    said = shelf.take(Act.OUT, bag="red", piece="pins", count=10)
    assert said == "red holds 9 pins, not 10; out: 3 for run R1"


@pytest.mark.parametrize(
    ("act", "body", "words"),
    [
        (Act.OUT, {"item": "F9"}, 'no item has the code "F9"'),
        (Act.OUT, {"bag": "rde", "piece": "pins", "count": 1}, 'did you mean "red"?'),
        (Act.OUT, {"bag": "red", "piece": "pin", "count": 1}, 'did you mean "pins"?'),
        (Act.OUT, {"bag": "red", "piece": "pins", "count": 0}, "a whole number from 1"),
        (Act.FAULT, {"item": "F1", "fault": "slwo"}, 'did you mean "slow"?'),
        (Act.FAULT, {"item": "F1", "fault": "other"}, "needs words"),
        (Act.MENDED, {"fault": 7, "words": "x"}, "no fault has the number 7; open: none"),
        (Act.CHECK, {"item": "F1", "check": "drops", "value": 1.0}, "accepted: flow"),
        (Act.CYCLE, {"item": "F1", "charge": 1.0}, "no battery"),
        (Act.CYCLE, {"item": "B1"}, "which charge"),
        (Act.CYCLE, {"item": "B1", "charge": 36000.0 * 1.6}, "more than one and a half times"),
    ],
)
def test_what_cannot_be_is_refused_in_words(act, body, words) -> None:
    shelf = Shelf()
    assert words in shelf.take(act, **body)
    assert shelf.records == []


def test_time_to_come_and_time_before_the_last_record_are_refused() -> None:
    shelf = Shelf()
    assert "is still to come" in shelf.take(Act.OUT, -2 * HOUR, item="F1")
    shelf.take(Act.OUT, item="F1")
    assert "lies before its last record" in shelf.take(Act.IN, HOUR, item="F1")


def test_what_is_for_a_single_use_goes_out_once() -> None:
    shelf = Shelf()
    shelf.take(Act.OUT, item="L1")
    shelf.take(Act.IN, item="L1")
    assert "for a single use and was used" in shelf.take(Act.OUT, item="L1")
