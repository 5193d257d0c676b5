"""Symptom calls on a timer of run time, missed ones, and what holds and stops do not stop."""

from __future__ import annotations

from demo_day import LEAD, MEDIC, TENDER, WELL, Day, kinds

from neckring.live.calls import calls_due
from neckring.live.entries import Kind


def due(day: Day, letter: str = "A") -> float:
    return day.state.calls[letter].due


def test_the_first_call_is_due_a_whole_time_after_the_first_procedure_begins() -> None:
    day = Day().opened()
    day.hands.pass_time(900.0)
    assert not calls_due(day.state, day.sheet, 900.0)
    day.begin("dress")
    assert due(day) == 900.0 + 300.0
    now = calls_due(day.state, day.sheet, 1190.0)
    assert [(one.wearer, one.number, one.left, one.late) for one in now] == [
        ("A", 1, 10.0, False),
        ("B", 1, 10.0, False),
    ]
    assert now[0].questions[0] == "How do you feel?"


def test_an_answer_starts_the_time_anew() -> None:
    day = Day().opened().begin("dress")
    day.hands.pass_time(310.0)
    day.does(MEDIC, Kind.CALL_ANSWERED, wearer="A", call=1, answers=dict(WELL))
    assert due(day) == 610.0
    assert due(day, "B") == 300.0
    assert day.state.calls["A"].answers == WELL
    why = day.refused(MEDIC, Kind.CALL_ANSWERED, wearer="A", call=1, answers=dict(WELL))
    assert "call 1 of wearer A is past; the present one is 2" in why
    assert "is not among the questions" in day.refused(
        MEDIC, Kind.CALL_ANSWERED, wearer="A", call=2, answers={"How old are you?": "3"}
    )


def test_a_call_that_nobody_answers_is_missed_once_by_the_desk() -> None:
    # Given a call that is due
    day = Day().opened().begin("dress")
    day.hands.pass_time(359.0)
    assert day.desk.tick() == ()
    # When it is late, then the desk writes it, once for each wearer, however often it looks
    day.hands.pass_time(1.0)
    written = day.desk.tick()
    assert [entry.deed.body for entry in written] == [
        {"wearer": "A", "call": 1},
        {"wearer": "B", "call": 1},
    ]
    assert day.desk.tick() == ()
    assert day.state.calls["A"].missed == 1
    assert due(day) == 600.0
    # And a late answer to it is refused in words; the present one counts and clears the count
    assert "the present one is 2" in day.refused(
        MEDIC, Kind.CALL_ANSWERED, wearer="A", call=1, answers=dict(WELL)
    )
    day.does(TENDER, Kind.CALL_ANSWERED, wearer="A", call=2, answers=dict(WELL))
    assert (day.state.calls["A"].missed, day.state.calls["A"].missed_ever) == (0, 1)


def test_calls_go_on_during_a_hold_and_a_stop() -> None:
    day = Day().opened().begin("dress")
    day.does(LEAD, Kind.HOLD)
    day.does(LEAD, Kind.STOP)
    day.hands.pass_time(400.0)
    assert len(day.desk.tick()) == 2


def test_a_console_that_was_away_for_an_hour_misses_one_call_at_a_time() -> None:
    # Given an hour without a console
    day = Day().opened().begin("dress")
    day.hands.pass_time(3600.0)
    day.again()
    # When it looks, then one call of each is missed, and the next is due now, not eleven
    day.desk.tick()
    day.desk.tick()
    assert kinds(day.book.written)[Kind.CALL_MISSED] == 2
    assert due(day) == day.state.run_time


def test_who_is_released_and_a_closed_run_are_not_called() -> None:
    day = Day().opened().begin("dress")
    day.does(MEDIC, Kind.RELEASED, wearer="A")
    day.hands.pass_time(400.0)
    assert [entry.deed.body["wearer"] for entry in day.desk.tick()] == ["B"]
    assert "is released" in day.refused(
        MEDIC, Kind.CALL_ANSWERED, wearer="A", call=1, answers=dict(WELL)
    )
    day.does(LEAD, Kind.RUN_CLOSED, reason="rain", accepts=True)
    day.hands.pass_time(4000.0)
    assert day.desk.tick() == ()
