"""The fold: total, deterministic, the same whatever the chunking, and quick."""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_day import LEAD, MEDIC, TENDER, Day, sheet
from hypothesis import given
from hypothesis import strategies as st

from neckring.live.entries import HIDDEN, SCHEMA, Deed, Entry, Kind, Role, Stamp
from neckring.live.entry_reading import lasting_words
from neckring.live.run_records import RunState
from neckring.live.run_state import MOST_STOPS, NewerSchemaError, first_state, fold, fold_all
from neckring.procedure.model import holds


def some_day() -> Day:
    """A day with something of nearly everything in it."""
    day = Day(rehearsal=True).opened().whole("dress")
    day.does(TENDER, Kind.SPELL_BEGUN, wearer="A", spell=1)
    day.begin("changeover").upto(20)
    day.does(TENDER, Kind.HOLD, reason="strap")
    day.does(MEDIC, Kind.CARD_OPENED, card="air-lost", wearer="B")
    day.does(MEDIC, Kind.CARD_STEP_DONE, card="air-lost", wearer="B", step=1)
    day.does(MEDIC, Kind.SYMPTOM, wearer="B", words="dizzy")
    day.does(TENDER, Kind.STOP, reason="dizzy", wearer="B")
    day.does(LEAD, Kind.TURN_BACK, wearer="B")
    day.does(MEDIC, Kind.CARD_CLOSED, card="air-lost", wearer="B", reason="air is back")
    day.hands.pass_time(400.0)
    day.desk.tick()
    day.does(LEAD, Kind.RESUME, reason="better")
    day.refused(TENDER, Kind.RESUME, reason="better")
    return day.upto(30)


DAY = some_day()

cuts = st.lists(st.integers(0, len(DAY.book.written)), max_size=6)


@given(cuts)
def test_the_state_is_the_same_whatever_the_chunking(at: list[int]) -> None:
    state, last = first_state(DAY.sheet), 0
    for cut in (*sorted(at), len(DAY.book.written)):
        state = fold_all(DAY.sheet, DAY.book.written[last:cut], state)
        last = cut
    assert state == DAY.state


values: st.SearchStrategy[object] = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-3, 400),
        st.integers(),
        st.floats(),
        st.text(max_size=4),
        st.sampled_from(["A", "B", "both", "dress", "changeover", "air-lost", "x"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["unit", "value", "q"]), inner, max_size=3),
    ),
    max_leaves=4,
)
KEYS = (
    "procedure", "step", "before", "wearer", "card", "alarm", "rank", "call", "answers", "spell",
    "measured", "reason", "words", "device", "fault", "share", "parts", "changed", "also", "what",
)  # fmt: skip
any_body = st.dictionaries(st.sampled_from(KEYS), values, max_size=5)
any_entry = st.tuples(st.sampled_from(Kind), any_body, st.floats(0.0, 1e6))


def entry_of(number: int, kind: Kind, body: dict[str, object], at: float) -> Entry:
    deed = Deed(f"k{number}", kind, "L1", Role.LEAD, "t", body, 5.0, None)  # type: ignore[arg-type]
    return Entry(number, "demo", SCHEMA, deed, Stamp(1.0, 2.0, at), "", "")


@given(st.lists(any_entry, max_size=12))
def test_no_entry_of_a_known_schema_stops_the_fold(
    made: list[tuple[Kind, dict[str, object], float]],
) -> None:
    # Given entries of every kind with anything at all in them
    start = DAY.state
    entries = [entry_of(start.number + n, *one) for n, one in enumerate(made, start=1)]
    # Then folding them ends, twice the same, and run time never goes back
    state = fold_all(DAY.sheet, entries, start)
    assert repr(fold_all(DAY.sheet, entries, start)) == repr(state)
    assert state.run_time >= start.run_time
    assert state.number == start.number + len(made)


def test_an_entry_of_a_newer_neckring_is_refused() -> None:
    entry = replace(entry_of(1, Kind.NOTE, {}, 0.0), schema=SCHEMA + 1)
    with pytest.raises(NewerSchemaError, match="schema 2"):
        fold(first_state(sheet()), entry, sheet())


def test_a_refusal_changes_nothing_but_how_many_there_were() -> None:
    day = Day().opened().begin("dress")
    before = day.state
    day.refused(MEDIC, Kind.RESUME, reason="hm")
    unlike = replace(day.state, number=before.number, refused=0, run_time=before.run_time)
    assert unlike == before
    assert day.state.refused == 1


def estimates(count: int) -> list[Entry]:
    made = []
    for number in range(1, count + 1):
        body: dict[str, object] = {"wearer": "AB"[number % 2], "core_temperature": number}
        made.append(entry_of(number, Kind.ESTIMATE, body, float(number)))
    return made


def size_of(state: RunState) -> int:
    return len(repr(state))


def test_a_state_does_not_grow_with_estimates_stops_and_symptoms() -> None:
    day = Day().opened().begin("dress")
    few = fold_all(day.sheet, estimates(10), day.state)
    many = fold_all(day.sheet, estimates(5000), day.state)
    assert size_of(many) < size_of(few) + 200
    crowd = day.state
    for number in range(1, 400):
        # One of them alone stops B
        whom = {"wearer": "B" if number == 7 else "A"}
        crowd = fold(crowd, entry_of(number, Kind.STOP, whom, 1.0), day.sheet)
        crowd = fold(
            crowd, entry_of(number, Kind.SYMPTOM, {"wearer": "A", "words": "w"}, 1.0), day.sheet
        )
    assert len(crowd.stops) == MOST_STOPS
    assert crowd.stopped == {"A", "B"}
    assert crowd.stops[0].entry == 1
    assert len(crowd.symptoms) <= 50
    assert crowd.symptoms_told == 399


def test_an_alarm_raised_again_is_not_acknowledged_any_more() -> None:
    raised = {"alarm": "a", "rank": 2, "cause": "c", "words": "w"}
    state = fold_all(
        sheet(),
        [
            entry_of(1, Kind.ALARM_RAISED, raised, 1.0),
            entry_of(2, Kind.ALARM_ACKNOWLEDGED, {"alarm": "a"}, 2.0),
        ],
    )
    assert state.alarms["a"].acknowledged_by == "L1"
    worse = fold(state, entry_of(3, Kind.ALARM_RAISED, {**raised, "rank": 3}, 3.0), sheet())
    assert (worse.alarms["a"].rank, worse.alarms["a"].acknowledged_by) == (3, "")
    assert not fold(worse, entry_of(4, Kind.ALARM_ENDED, {"alarm": "a"}, 4.0), sheet()).alarms


def test_reserve_clocks_start_with_the_changeover_and_with_the_helmet() -> None:
    # Given the demo's day until the visors are shut
    day = Day().opened()
    for code in ("dress", "changeover"):
        day.whole(code)
    pumps = day.state.clocks["battery", "A"].started
    # The battery's clock has started with the pump: the pack bears air and water alone from there
    on_pack = day.sheet.ground.condition(day.sheet.ground.kit.conditions["on_pack"], "A")
    assert holds(on_pack, day.state.kit)
    assert 0.0 < pumps < day.state.run_time
    assert ("helmet", "A") not in day.state.clocks
    day.begin("go")
    while ("helmet", "A") not in day.state.clocks:
        step = day.next()
        assert step is not None
        day.done(step)
    assert step.exact.name == "shut_visor on A by A"
    assert day.state.clocks["helmet", "A"].started == day.state.run_time


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.4, "0 s"), (45, "45 s"), (60, "1 min"), (260, "4 min 20 s"), (3900, "1 h 5 min")],
)
def test_times_in_words(seconds: float, words: str) -> None:
    assert lasting_words(seconds) == words


def test_what_the_trainer_hides_is_folded_apart() -> None:
    # Given faults in the book, then nothing but `faults` knows of them
    state = first_state(sheet())
    fault = {"wearer": "A", "fault": "fans", "share": 0.5}
    hidden = fold(state, entry_of(1, Kind.FAULT_BEGUN, fault, 1.0), sheet())
    assert hidden.faults["A", "fans"].share == 0.5
    assert replace(hidden, faults={}, number=0, run_time=0.0) == state
    assert {Kind.FAULT_BEGUN, Kind.FAULT_ENDED} == HIDDEN
