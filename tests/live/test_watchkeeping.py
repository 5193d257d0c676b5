"""The console's clockwork: clocks that are set, a book that fails, and alarms after a restart."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from brokers import eventually
from demo_day import LEAD, MEDIC, Day, demo
from hypothesis import given
from hypothesis import strategies as st

from neckring.live.alarm_watch import AlarmWatch
from neckring.live.entries import BookError, Kind, Stamp
from neckring.live.estimating import Estimators
from neckring.live.sensors.channels import wire
from neckring.live.sensors.intake import Intake
from neckring.live.watchkeeping import (
    CLOCK_STEP,
    CLOCK_WATCHED,
    NOT_WATCHED,
    WallClock,
    Watch,
    Watchkeeper,
)
from neckring.outing.scenario import Scenario

AIR_PRESSURE = 98_900.0


def intake_of(day: Day, speed: float = 1.0) -> Intake:
    suits = ((w.letter, demo().suits[w.run.suit]) for w in day.sheet.wearers.values())
    return Intake(wire(suits), AIR_PRESSURE, speed)


def watched(day: Day, folder: Path, with_alarms: bool = True) -> Watch:
    """What looks at a day, as the console puts it together."""
    watch = Watch(day.desk, intake_of(day), folder, "day")
    if with_alarms:
        station = demo()
        scenarios = {
            w.letter: Scenario(
                station.station, station.suits[w.run.suit], station.wearers[w.code], w.run
            )
            for w in day.sheet.wearers.values()
        }
        watch.alarms = AlarmWatch(day.sheet, station.limits, scenarios, watch.intake.wired)
    return watch


def causes(day: Day) -> set[str]:
    return {alarm.cause for alarm in day.state.alarms.values()}


@given(
    slews=st.lists(st.floats(-0.02, 0.02), min_size=1, max_size=40),
    step=st.floats(-7200.0, 7200.0).filter(lambda s: abs(s) > CLOCK_STEP + 1.0),
)
def test_a_clock_that_is_set_is_told_for_a_while_and_slewing_is_not(
    slews: list[float], step: float
) -> None:
    # Given a wall clock that is slewed a little at each look
    clock, wall, now = WallClock(), 1.8e9, 100.0
    for slew in slews:
        now += 1.0
        wall += 1.0 + slew
        assert clock.set_by(Stamp(wall, now, now)) == 0.0

    # When somebody sets it, then by how much is told
    now += 1.0
    wall += 1.0 + step
    told = clock.set_by(Stamp(wall, now, now))
    assert told == pytest.approx(step, abs=0.02 * len(slews) + 1e-6)

    # And no longer once that was a while ago
    last = now + CLOCK_WATCHED + 1.0
    clock.set_by(Stamp(wall + last - now, last, last))
    assert clock.set_by(Stamp(wall + last - now + 1.0, last + 1.0, last + 1.0)) == 0.0


def test_until_alarms_are_watched_it_is_said(tmp_path: Path) -> None:
    day = Day().opened()
    watch = watched(day, tmp_path, with_alarms=False)
    assert watch.troubles() == (NOT_WATCHED,)
    watch.look()
    assert not day.state.alarms


def test_a_book_that_fails_is_told_while_it_fails_and_as_an_alarm_afterwards(
    tmp_path: Path,
) -> None:
    # Given a day that is watched
    day = Day().opened()
    watch = watched(day, tmp_path)
    watch.look()
    assert watch.troubles() == ()
    before = day.state.number

    # When the book cannot be written
    day.book.fails_before = True
    with pytest.raises(BookError):
        day.tap(LEAD, Kind.NOTE, words="seen")
    watch.look()

    # Then it is told where no entry is needed, and nothing counts
    (told,) = watch.troubles()
    assert "nothing is recorded: the disk is full" in told
    assert day.state.number == before

    # And once it can be written again it is an alarm, that ends when all is well
    day.book.fails_before = False
    watch.look()
    assert "book-unwritable" in causes(day)
    assert watch.troubles() == ()
    for _ in range(60):
        day.hands.pass_time(10.0)
        watch.look()
    assert "book-unwritable" not in causes(day)


def test_readings_that_cannot_be_kept_are_an_alarm(tmp_path: Path) -> None:
    day = Day().opened()
    watch = watched(day, tmp_path)
    watch.readings_fault = lambda: "the disk is full"
    watch.look()
    assert "book-unwritable" in causes(day)


def test_alarms_go_on_after_a_restart_as_they_stood(tmp_path: Path) -> None:
    # Given a stop that is told as an alarm, and heard by the medic
    day = Day().opened()
    watch = watched(day, tmp_path)
    day.does(LEAD, Kind.STOP, wearer="A", reason="smoke")
    watch.look()
    (alarm,) = (a for a in day.state.alarms.values() if a.cause == "stop-called")
    day.does(MEDIC, Kind.ALARM_ACKNOWLEDGED, alarm=alarm.key)
    before = dict(day.state.alarms)

    # When the console comes back, and looks
    day.hands.pass_time(3.0)
    day.again()
    watched(day, tmp_path).look()

    # Then the same alarm lasts, heard by the same person, and is not told anew
    assert set(day.state.alarms) == set(before)
    assert day.state.alarms[alarm.key].acknowledged_by == MEDIC
    raised = [e for e in day.book.entries() if e.deed.kind is Kind.ALARM_RAISED]
    assert len({e.deed.key for e in raised}) == len(raised) == len(before)


def test_a_turn_that_fails_does_not_end_the_watch(tmp_path: Path) -> None:
    # Given a watch whose turn fails twice
    day, turns = Day().opened(), []
    watch = watched(day, tmp_path, with_alarms=False)
    looked = threading.Event()

    def look() -> None:
        turns.append(1)
        if len(turns) < 3:
            raise ValueError("a fault of ours")
        looked.set()

    watch.look = look  # type: ignore[method-assign]
    keeper = Watchkeeper(watch, every=0.01)

    # When it is kept, then it looks again
    keeper.start()
    assert looked.wait(20.0)
    keeper.stop()


def test_what_is_made_ready_is_left_when_the_console_ends(tmp_path: Path) -> None:
    # Given an estimate that is being made ready, for ever
    watch = watched(Day().opened(), tmp_path, with_alarms=False)
    keeper = Watchkeeper(watch, every=0.01)
    begun, left = threading.Event(), threading.Event()

    def made_ready() -> Estimators:
        begun.set()
        try:
            while True:
                keeper.go_on_or_end()
        finally:
            left.set()

    keeper.estimate(made_ready, watch.desk._book, None)  # type: ignore[arg-type]
    assert begun.wait(20.0)

    # When the console ends, then it is left
    keeper.end_soon()
    assert eventually(left.is_set)
    keeper.stop()
