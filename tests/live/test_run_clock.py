"""Run time never goes back, whatever is done to the clocks below it."""

from __future__ import annotations

import pytest
from demo_day import Hands
from hypothesis import given
from hypothesis import strategies as st

from neckring.live.entries import Stamp
from neckring.live.run_clock import RunClock, machine_sources


def test_run_time_begins_at_nothing_and_follows_the_machine() -> None:
    hands = Hands()
    clock = RunClock(hands.sources)
    assert clock.run_time() == 0.0
    hands.pass_time(12.5)
    assert clock.stamp() == Stamp(1_000_012.5, 512.5, 12.5)


def test_a_wall_clock_set_back_an_hour_changes_nothing() -> None:
    hands = Hands()
    clock = RunClock(hands.sources)
    hands.pass_time(60.0)
    hands.wall -= 3600.0
    hands.pass_time(1.0)
    assert clock.run_time() == 61.0


def test_a_machine_that_slept_has_slept_through_the_run() -> None:
    # Given a clock that counts the time asleep, as CLOCK_BOOTTIME does
    hands = Hands()
    clock = RunClock(hands.sources)
    hands.pass_time(1800.0)
    assert clock.run_time() == 1800.0


def test_a_process_that_comes_back_goes_on_where_it_was() -> None:
    # Given a stamp, and 90 s without a console, in which somebody set the wall clock
    hands = Hands()
    clock = RunClock(hands.sources)
    hands.pass_time(300.0)
    last = clock.stamp()
    hands.pass_time(90.0)
    hands.wall -= 5000.0
    # When it comes back, then nobody needs the wall clock
    again = RunClock(hands.sources, last, "first start")
    assert again.run_time() == pytest.approx(390.0)
    assert not again.unsure


@pytest.mark.parametrize(
    ("wall_later", "up", "run_time"),
    # By the wall clock; where that was set back, at least as long as the machine has been up
    [(200.0, 40.0, 500.0), (-3600.0, 40.0, 340.0), (200.0, 900.0, 1200.0)],
)
def test_a_machine_started_anew_asks_the_wall_clock(
    wall_later: float, up: float, run_time: float
) -> None:
    hands = Hands()
    clock = RunClock(hands.sources)
    hands.pass_time(300.0)
    last = clock.stamp()
    hands.wall += wall_later
    hands.monotonic, hands.boot = up, "second start"
    again = RunClock(hands.sources, last, "first start")
    assert again.run_time() == pytest.approx(run_time)
    assert again.unsure


def test_without_a_name_of_the_start_a_younger_clock_tells_it() -> None:
    hands = Hands(boot="")
    last = Stamp(hands.wall, 10_000.0, 300.0)
    hands.wall += 60.0
    assert RunClock(hands.sources, last, "").run_time() == pytest.approx(800.0)
    later = Stamp(hands.wall, 480.0, 300.0)
    assert RunClock(hands.sources, later, "").run_time() == pytest.approx(320.0)


def test_a_rehearsal_goes_faster_and_stands_while_the_console_is_away() -> None:
    hands = Hands()
    clock = RunClock(hands.sources, speed=4.0)
    hands.pass_time(10.0)
    assert clock.run_time() == 40.0
    clock.set_speed(20.0)
    assert clock.run_time() == 40.0
    hands.pass_time(1.0)
    assert clock.run_time() == 60.0
    last = clock.stamp()
    hands.pass_time(500.0)
    again = RunClock(hands.sources, last, "first start", speed=20.0, counts_while_down=False)
    assert again.run_time() == 60.0


@pytest.mark.parametrize("speed", [0.0, 0.5, -1.0, 21.0, float("nan"), float("inf")])
def test_other_speeds_are_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="from 1 to 20"):
        RunClock(Hands().sources, speed=speed)


moves = st.lists(
    st.tuples(
        st.sampled_from(["pass", "wall", "back", "speed", "restart", "reboot"]),
        st.floats(0.0, 5000.0),
    ),
    max_size=30,
)


@given(moves)
def test_run_time_never_goes_back(happened: list[tuple[str, float]]) -> None:
    # Given a clock below which anything happens
    hands = Hands()
    clock = RunClock(hands.sources)
    before = clock.stamp()
    for what, size in happened:
        if what == "pass":
            hands.pass_time(size)
        elif what in ("wall", "back"):
            # The machine's own clock may even falter a little
            hands.wall += size if what == "wall" else -size
            hands.monotonic -= 0.001
        elif what == "speed":
            clock.set_speed(1.0 + size % 19.0)
        else:
            if what == "reboot":
                hands.monotonic, hands.boot = size, f"start {size}"
            clock = RunClock(hands.sources, before, "first start")
        # Then run time is never less than it was
        now = clock.stamp()
        assert now.run_time >= before.run_time
        before = now


def test_the_machine_s_own_clocks_are_there() -> None:
    sources = machine_sources()
    assert sources.wall() > 1.7e9
    first = sources.monotonic()
    assert sources.monotonic() >= first > 0.0
    assert sources.boot() == machine_sources().boot()
