"""Who may do what, when; and what comes late, judged by how things stand when it comes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_day import LEAD, MEDIC, SECOND, TENDER, TRAINER, Day, status
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from neckring.live.deciding import FRESH_FOR, WHO, decide
from neckring.live.entries import Deed, Kind, Role, Stamp
from neckring.live.run_records import Done


def dressing() -> Day:
    return Day().opened().begin("dress")


def step(day: Day, number: int) -> dict[str, object]:
    procedure = day.state.procedure
    found = day.sheet.procedures[procedure].step(number)
    assert found is not None
    return day.step_body(found)  # type: ignore[return-value]


# The order of steps


def test_a_step_is_done_only_in_its_turn() -> None:
    day = dressing()
    # Steps 3 and 4 are the tender's; 5 waits for all
    why = day.refused(TENDER, Kind.STEP_DONE, **step(day, 4))
    assert "the next step for the tender is step 3" in why
    assert "the next step" in day.refused(TENDER, Kind.STEP_DONE, **step(day, 5))
    day.upto(5)
    day.does(TENDER, Kind.STEP_DONE, **step(day, 5))
    # And what is done is not done again
    assert "is done already, by T1" in day.refused(TENDER, Kind.STEP_DONE, **step(day, 5))


def test_people_of_different_lanes_go_at_their_own_pace() -> None:
    day = dressing()
    # Step 2 is B's, and need not wait for step 1, which is A's
    first, second = (day.sheet.procedures["dress"].step(n) for n in (1, 2))
    assert first is not None
    assert second is not None
    assert (first.who, second.who) == ("A", "B")
    day.does(LEAD, Kind.STEP_DONE, **step(day, 2))
    day.does(LEAD, Kind.STEP_DONE, **step(day, 1))


def test_procedures_begin_in_their_order_and_end_when_all_is_done() -> None:
    day = Day().opened()
    assert "the next procedure is dress" in day.refused(LEAD, Kind.PROCEDURE_BEGUN, procedure="go")
    day.begin("dress")
    assert "still runs" in day.refused(LEAD, Kind.PROCEDURE_BEGUN, procedure="changeover")
    assert "86 steps are still to be done" in day.refused(
        LEAD, Kind.PROCEDURE_ENDED, procedure="dress"
    )
    assert "has not begun" in day.refused(TENDER, Kind.STEP_DONE, procedure="go", step=1)
    # The lead can end it early, and says why; then the next begins from another state than proved
    day.does(LEAD, Kind.PROCEDURE_ENDED, procedure="dress", accepts=True, reason="drill")
    why = day.refused(LEAD, Kind.PROCEDURE_BEGUN, procedure="changeover")
    assert "was proved from another state" in why
    assert "dress is over" in day.refused(TENDER, Kind.STEP_DONE, procedure="dress", step=1)


def test_what_the_record_does_not_allow_needs_the_lead() -> None:
    # Given a dressing ended before anybody is in a suit, and a changeover begun all the same
    day = dressing()
    day.does(LEAD, Kind.PROCEDURE_ENDED, procedure="dress", accepts=True, reason="drill")
    day.does(LEAD, Kind.PROCEDURE_BEGUN, procedure="changeover", accepts=True, reason="drill")
    day.upto(12)
    body = step(day, 12)
    # Then a sign that cannot be there is not taken, except by the lead with a reason
    why = day.refused(TENDER, Kind.STEP_DONE, **body)
    assert "cannot be" in why
    assert "the garment coupling of wearer A is parted" in why
    assert day.refused(TENDER, Kind.STEP_DONE, **body, accepts=True, reason="felt it")
    assert day.refused(LEAD, Kind.STEP_DONE, **body, accepts=True)
    day.does(LEAD, Kind.STEP_DONE, **body, accepts=True, reason="drill without water")


# Two people


def test_the_second_look_is_another_person_s() -> None:
    day = dressing().upto(14)
    body = {"procedure": "dress", "step": 14}
    assert "is not done yet" in day.refused(SECOND, Kind.STEP_CONFIRMED, **body)
    day.does(TENDER, Kind.STEP_DONE, **body)
    assert status(day, 14) is Done.TO_CONFIRM
    assert "another person" in day.refused(TENDER, Kind.STEP_CONFIRMED, **body)
    assert "for the" in day.refused(TRAINER, Kind.STEP_CONFIRMED, **body)
    # The lane waits meanwhile
    assert "second person" in day.refused(LEAD, Kind.STEP_DONE, **step(day, 15))
    day.does(MEDIC, Kind.STEP_CONFIRMED, **body)
    assert status(day, 14) is Done.DONE
    assert "needs no second person" in day.refused(
        MEDIC, Kind.STEP_CONFIRMED, procedure="dress", step=1
    )


def test_a_second_person_who_does_not_see_it_fails_the_step() -> None:
    day = dressing().upto(14)
    body = {"procedure": "dress", "step": 14}
    day.does(TENDER, Kind.STEP_DONE, **body)
    day.does(SECOND, Kind.STEP_FAILED, **body, what="gives way")
    assert status(day, 14) is Done.FAILED
    # It is done again, and then by whom it was done counts anew
    day.does(SECOND, Kind.STEP_DONE, **body)
    day.refused(SECOND, Kind.STEP_CONFIRMED, **body)
    day.does(TENDER, Kind.STEP_CONFIRMED, **body)


# What is measured


@pytest.mark.parametrize(
    ("measured", "said"),
    [
        (None, "missing"),
        ({"value": 15.9, "unit": "V"}, "15.9 V is not 16.0 V or more"),
        ({"value": 16.2, "unit": "kg"}, "nor in its unit"),
        ({"value": "16,2", "unit": "V"}, "nor in its unit"),
        ({"value": "about 16", "unit": "V"}, "nor in its unit"),
        ({"value": True, "unit": "V"}, "measured"),
        ({"value": 16.2}, "measured"),
        ({"value": float("nan"), "unit": "V"}, "too large"),
    ],
)
def test_a_reading_is_held_against_its_pass_rule(measured: object, said: str) -> None:
    day = Day().opened().whole("dress").begin("changeover").upto(4)
    body: dict[str, object] = {"procedure": "changeover", "step": 4}
    if measured is not None:
        body["measured"] = measured
    assert said in day.refused(TENDER, Kind.STEP_DONE, **body)  # type: ignore[arg-type]


def test_a_step_that_reads_no_instrument_takes_no_reading() -> None:
    day = dressing()
    body = {"procedure": "dress", "step": 1, "measured": {"value": 1, "unit": "V"}}
    assert "reads no instrument" in day.refused(LEAD, Kind.STEP_DONE, **body)  # type: ignore[arg-type]


# Hold and stop


def test_anybody_stops_and_only_the_lead_lets_it_go_on() -> None:
    day = dressing()
    for who in (TENDER, MEDIC, TRAINER, LEAD):
        day.does(who, Kind.STOP, reason="")
        assert day.state.stopped == {"A", "B"}
        for other in (TENDER, MEDIC, TRAINER):
            assert "for the lead" in day.refused(other, Kind.RESUME, reason="fine again")
        assert "reason is missing" in day.refused(LEAD, Kind.RESUME)
        day.hands.pass_time(1.0)
        day.does(LEAD, Kind.RESUME, reason="looked into it")
        assert not day.state.stopped


def test_after_a_stop_only_what_brings_relief_goes_on() -> None:
    # Given A on the way back, before the visor is open, and a stop
    day = Day().opened()
    for code in ("dress", "changeover", "go"):
        day.whole(code)
    day.begin("return").upto(3)
    day.does(MEDIC, Kind.STOP, reason="dizzy", wearer="A")
    # Then walking in, opening the visor and looking at it go on
    day.upto(16)
    # And stepping up goes on, but not switching off what cools
    day.upto(27)
    step_27 = day.next()
    assert step_27 is not None
    day.upto(28)
    stopped = step(day, 28)
    assert "the run is stopped by M1" in day.refused(TENDER, Kind.STEP_DONE, **stopped)
    # Cards, calls, symptoms and notes go on; of B, who is not stopped, steps do
    day.does(TENDER, Kind.CARD_OPENED, card="water-lost", wearer="A")
    day.does(MEDIC, Kind.SYMPTOM, wearer="A", words="dizzy")
    day.does(LEAD, Kind.NOTE, words="sits")
    day.hands.pass_time(1.0)
    day.does(LEAD, Kind.RESUME, reason="better")
    day.does(TENDER, Kind.STEP_DONE, **stopped)


def test_a_hold_stops_steps_but_not_cards_and_calls() -> None:
    day = dressing()
    day.does(TENDER, Kind.HOLD, reason="strap torn")
    assert "held by T1" in day.refused(LEAD, Kind.STEP_DONE, **step(day, 1))
    assert "held already" in day.refused(MEDIC, Kind.HOLD)
    day.does(MEDIC, Kind.CARD_OPENED, card="wearer-down", wearer="B")
    day.does(MEDIC, Kind.CARD_STEP_DONE, card="wearer-down", wearer="B", step=1)
    answers = {"How do you feel?": "well"}
    day.does(MEDIC, Kind.CALL_ANSWERED, wearer="A", call=1, answers=answers)
    day.hands.pass_time(1.0)
    day.does(LEAD, Kind.RESUME, reason="mended")
    day.does(LEAD, Kind.STEP_DONE, **step(day, 1))


# What comes late


def test_a_late_stop_still_counts_and_says_how_late() -> None:
    # Given a stop tapped on a tablet without a network
    day = dressing()
    stop = day.deed(TENDER, Kind.STOP, reason="smoke")
    # When it comes four minutes later, after the run went on
    day.hands.pass_time(240.0)
    day.upto(5)
    assert day.desk.take(stop).status == "recorded"
    # Then it counts
    assert day.state.stopped == {"A", "B"}
    assert day.state.stops[0].late == pytest.approx(260.0)


def test_a_late_resume_does_not_undo_a_stop_that_came_after_it() -> None:
    # Given a resume tapped during a hold, and a stop before it comes
    day = dressing()
    day.does(TENDER, Kind.HOLD, reason="strap")
    day.hands.pass_time(2.0)
    resume = day.deed(LEAD, Kind.RESUME, reason="strap is mended")
    day.hands.pass_time(2.0)
    day.does(MEDIC, Kind.STOP, reason="pale")
    day.hands.pass_time(2.0)
    # Then the stop stands
    answer = day.desk.take(resume)
    assert answer.status == "refused"
    assert "before M1 stopped" in answer.why
    assert day.state.stopped


def test_a_late_acknowledgement_is_refused_in_words() -> None:
    day = dressing()
    raised = Deed(
        "desk:x",
        Kind.ALARM_RAISED,
        "desk",
        Role.DESK,
        "desk",
        {"alarm": "x", "rank": 3, "cause": "fan", "wearer": "A", "words": "The fans stand"},
    )
    assert day.desk.take(raised).status == "recorded"
    late = day.deed(MEDIC, Kind.ALARM_ACKNOWLEDGED, alarm="x")
    day.hands.pass_time(FRESH_FOR + 1.0)
    assert "was tapped 31 s ago" in day.desk.take(late).why
    # And one of an earlier alarm does not silence the same alarm raised anew
    before = day.deed(MEDIC, Kind.ALARM_ACKNOWLEDGED, alarm="x")
    day.hands.pass_time(1.0)
    again = replace(raised, key="desk:x2")
    assert day.desk.take(again).status == "recorded"
    day.hands.pass_time(1.0)
    assert "before the alarm was raised" in day.desk.take(before).why
    day.does(MEDIC, Kind.ALARM_ACKNOWLEDGED, alarm="x")
    assert day.state.alarms["x"].acknowledged_by == MEDIC
    assert "has acknowledged it already" in day.refused(LEAD, Kind.ALARM_ACKNOWLEDGED, alarm="x")
    assert "is over" in day.refused(LEAD, Kind.ALARM_ACKNOWLEDGED, alarm="y")


def test_a_wall_clock_set_back_does_not_keep_the_lead_from_going_on() -> None:
    # Given a stop, and the laptop's clock set back an hour after it
    day = dressing()
    day.does(TENDER, Kind.STOP)
    day.hands.pass_time(5.0)
    old = day.deed(LEAD, Kind.RESUME, reason="fine")
    day.hands.wall -= 3600.0
    # Then a tap that was timed before says to tap again, and the fresh one counts
    assert "do not agree" in day.desk.take(old).why
    day.does(LEAD, Kind.RESUME, reason="fine")


def test_a_tablet_s_clock_that_is_wrong_is_put_right_by_its_offset() -> None:
    day = dressing()
    day.does(TENDER, Kind.STOP)
    day.hands.pass_time(5.0)
    tap = day.deed(LEAD, Kind.RESUME, reason="fine")
    wrong = replace(tap, tapped_at=day.hands.wall - 7200.0, offset=7200.0)
    assert day.desk.take(wrong).status == "recorded"


def test_a_step_tapped_before_the_order_changed_is_judged_by_the_new_order() -> None:
    day = dressing()
    late = day.deed(LEAD, Kind.STEP_DONE, **step(day, 1))  # type: ignore[arg-type]
    possible = day.desk.ask(1)
    assert possible is not None
    day.does(
        LEAD,
        Kind.STEP_LEFT_OUT,
        procedure="dress",
        step=1,
        reason="no strap today",
        shown=possible.shown,
        accepts=possible.grave,
    )
    assert "is left out already, by L1" in day.desk.take(late).why


# The rest


def test_only_the_medic_releases_and_only_once_out() -> None:
    day = Day().opened()
    assert "nothing has been done" in day.refused(MEDIC, Kind.RELEASED, wearer="A")
    for code in day.sheet.order[:-1]:
        day.whole(code)
    assert "still in the suit" in day.refused(MEDIC, Kind.RELEASED, wearer="A")
    assert "still in the suit" in day.refused(LEAD, Kind.RUN_CLOSED, reason="late")
    day.whole("undress")
    assert "for the medic" in day.refused(LEAD, Kind.RELEASED, wearer="A")
    day.does(MEDIC, Kind.RELEASED, wearer="A")
    assert "released already" in day.refused(MEDIC, Kind.RELEASED, wearer="A")
    assert "A, B or nobody" in day.refused(MEDIC, Kind.NOTE, words="x", wearer="C")


def test_after_the_run_is_closed_notes_symptoms_and_releases_still_count() -> None:
    day = dressing()
    day.does(LEAD, Kind.RUN_CLOSED, reason="rain", accepts=True)
    assert "the run is closed" in day.refused(LEAD, Kind.HOLD)
    day.does(MEDIC, Kind.SYMPTOM, wearer="A", words="headache at home")
    day.does(MEDIC, Kind.RELEASED, wearer="A")
    day.does(TENDER, Kind.NOTE, words="all stowed")


def test_faults_are_put_in_only_by_the_trainer_of_a_rehearsal() -> None:
    body = {"wearer": "A", "fault": "fans", "share": 1.0}
    assert "no rehearsal" in dressing().refused(TRAINER, Kind.FAULT_BEGUN, **body)
    day = Day(rehearsal=True).opened()
    assert "for the trainer" in day.refused(LEAD, Kind.FAULT_BEGUN, **body)
    day.does(TRAINER, Kind.FAULT_BEGUN, **body)
    assert ("A", "fans") in day.state.faults
    day.does(TRAINER, Kind.FAULT_ENDED, wearer="A", fault="fans")
    assert not day.state.faults


def test_spells_go_forward() -> None:
    day = dressing()
    day.does(TENDER, Kind.SPELL_BEGUN, wearer="A", spell=3)
    assert "already" in day.refused(TENDER, Kind.SPELL_BEGUN, wearer="A", spell=3)
    assert "15 spells" in day.refused(TENDER, Kind.SPELL_BEGUN, wearer="A", spell=15)


def test_devices_are_paired_to_people_of_the_run() -> None:
    day = Day()
    assert "not a lead" in day.refused(LEAD, Kind.PAIRED, device="t", role="lead", person="T1")
    day.does(LEAD, Kind.PAIRED, device="t-1", role="lead", person="L1")
    day.does(LEAD, Kind.PAIRED, device="w-1", role="wall", person="")
    assert set(day.state.paired) == {"t-1", "w-1"}
    day.does(LEAD, Kind.UNPAIRED, device="t-1")
    assert set(day.state.paired) == {"w-1"}


def test_every_kind_says_who_may() -> None:
    assert set(WHO) == set(Kind) - {Kind.STOP}


bodies = st.dictionaries(
    st.sampled_from(
        ["procedure", "step", "wearer", "card", "reason", "measured", "alarm", "call", "words",
         "answers", "before", "shown", "accepts", "device", "role", "person", "spell", "x"]
    ),
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-2, 90),
        st.floats(),
        st.sampled_from(["dress", "go", "A", "B", "air-lost", "", "\x00", "lead", "L1", "why not"]),
        st.dictionaries(st.sampled_from(["value", "unit", "How do you feel?"]), st.integers()),
        st.lists(st.text(max_size=3), max_size=2),
    ),
    max_size=6,
)  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(Kind), st.sampled_from(["L1", "T1", "M1", "R1", "nobody"]), bodies)
def test_deciding_answers_in_words_whatever_it_is_asked(
    kind: Kind, who: str, body: dict[str, object]
) -> None:
    # Given some state of a run and any deed at all
    day = _SOME
    role = {"L1": Role.LEAD, "T1": Role.TENDER, "M1": Role.MEDIC}.get(who, Role.TRAINER)
    deed = Deed("k", kind, who, role, "d", body, 1.0, None)  # type: ignore[arg-type]
    # Then the answer is words or nothing, and asking changed nothing
    why = decide(day.state, day.sheet, deed, Stamp(day.hands.wall, day.hands.monotonic, 1e4))
    assert isinstance(why, str)
    assert decide(day.state, day.sheet, deed, Stamp(day.hands.wall, 1.0, 1e4)) is not None


_SOME = dressing().upto(10)
