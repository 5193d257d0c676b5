"""Reserve clocks: how much is left, by what, and the alarm when there is nothing left."""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_day import LEAD, Day, demo, sheet

from neckring.live.entries import Deed, Kind, Role
from neckring.live.reserve_clocks import CAUSE, clock_values
from neckring.live.run_records import ClockNow
from neckring.live.run_sheet import Planned, run_sheet


def on_the_way() -> Day:
    day = Day().opened()
    for code in ("dress", "changeover", "go"):
        day.whole(code)
    return day


WAY = on_the_way()


def test_a_clock_with_a_time_counts_down_from_its_start() -> None:
    started = WAY.state.clocks["helmet", "A"].started
    values = {(v.code, v.wearer): v for v in clock_values(WAY.state, WAY.sheet, started + 600.0)}
    helmet = values["helmet", "A"]
    assert helmet.left == pytest.approx(90 * 60.0 - 600.0)
    assert (helmet.stands_on, helmet.over) == ("station.yaml", False)
    # And without a plan nobody knows how long the other two last
    assert values["battery", "A"].left is None
    assert values["turn-back", "B"].stands_on == ""


def test_the_plan_says_how_long_and_the_live_estimate_is_heard_first() -> None:
    planned = {"A": Planned(turn_back=2400.0, battery=7200.0)}
    with_plan = run_sheet(demo(), "floor-survey", "floor-partner", planned=planned)
    begun = WAY.state.progress["dress"].begun
    values = {(v.code, v.wearer): v for v in clock_values(WAY.state, with_plan, 1000.0)}
    turn, battery = values["turn-back", "A"], values["battery", "A"]
    assert (turn.left, turn.stands_on) == (pytest.approx(begun + 2400.0 - 1000.0), "plan")
    started = WAY.state.clocks["battery", "A"].started
    assert battery.left == pytest.approx(started + 7200.0 - 1000.0)
    # When an estimate comes, then its cautious end counts
    day = on_the_way()
    body = {"wearer": "A", "turn_back": {"low": 1900.0, "middle": 2100.0, "high": 2300.0}}
    deed = Deed("e", Kind.ESTIMATE, "desk", Role.DESK, "desk", body)  # type: ignore[arg-type]
    assert day.desk.take(deed).status == "recorded"
    values = {(v.code, v.wearer): v for v in clock_values(day.state, with_plan, 1000.0)}
    assert values["turn-back", "A"].left == pytest.approx(900.0)
    assert values["turn-back", "A"].stands_on == "live estimate"


def test_a_clock_that_is_over_raises_an_alarm_once_and_ends_it_when_it_stops() -> None:
    # Given visors that have been shut for an hour and a half
    day = on_the_way()
    day.hands.pass_time(90 * 60.0)
    raised = [e for e in day.desk.tick() if e.deed.kind is Kind.ALARM_RAISED]
    assert {(e.deed.body["cause"], e.deed.body["wearer"]) for e in raised} == {
        (CAUSE, "A"),
        (CAUSE, "B"),
    }
    assert not [e for e in day.desk.tick() if e.deed.kind is Kind.ALARM_RAISED]
    # When the visors are opened, then it ends
    day.begin("return").upto(9)
    ended = [e for e in day.desk.tick() if e.deed.kind is Kind.ALARM_ENDED]
    assert len(ended) == 2
    assert not day.state.alarms


def test_a_clock_that_has_ended_shows_nothing_and_starts_anew() -> None:
    ended = {("helmet", "A"): ClockNow(10.0, 20.0)}
    state = replace(WAY.state, clocks=ended)
    assert clock_values(state, WAY.sheet, 30.0) == ()
    # Given one more start after an end
    day = on_the_way()
    day.whole("return")
    first = day.state.clocks["helmet", "A"]
    assert first.ended is not None
    assert first.started < first.ended


def test_every_clock_is_kept_for_each_wearer() -> None:
    console = demo().station.console
    assert console is not None
    assert len(sheet().clocks) == 2 * len(console.clocks)
    assert LEAD in console.people
