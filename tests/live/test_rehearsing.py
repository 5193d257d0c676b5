"""A rehearsal as it goes: faults when they are due, each once, and packs with the right times."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest
from demo_day import LEAD, TRAINER, Day, Hands, demo
from hypothesis import given
from hypothesis import strategies as st
from test_watchkeeping import AIR_PRESSURE, intake_of

from neckring.live.entries import BookError, Kind, Stamp
from neckring.live.pace import Pace
from neckring.live.reading import Flaw, Reading
from neckring.live.rehearsing import Rehearsal
from neckring.live.simulated_suit import SimulatedSuit, SuitedTruth
from neckring.live.timeline import read_timeline
from neckring.outing.scenario import Scenario

SPEED = 20.0


@dataclass
class Delivered:
    readings: list[Reading] = field(default_factory=list)

    def __call__(self, readings: list[Reading]) -> None:
        self.readings += readings


@pytest.fixture
def day() -> Day:
    # SenML takes small times as relative to now (RFC 8428, section 4.5.3).
    made = Day(Hands(wall=1.8e9), rehearsal=True)
    made.desk.clock.set_speed(SPEED)
    return made.opened()


def rehearsal_of(day: Day, timeline: str, folder: Path, to: Delivered) -> Rehearsal:
    station, taker = demo(), intake_of(day, SPEED)
    (folder / "faults.yaml").write_text(timeline)
    channels = {letter: tuple(c.name for c in w.channels) for letter, w in taker.wired.items()}
    suits = {
        w.letter: SimulatedSuit(
            w.letter,
            SuitedTruth(
                Scenario(
                    station.station, station.suits[w.run.suit], station.wearers[w.code], w.run
                ),
                7,
            ),
            taker.wired[w.letter].channels,
            AIR_PRESSURE,
            11,
        )
        for w in day.sheet.wearers.values()
    }
    return Rehearsal(
        suits,
        day.sheet,
        taker,
        read_timeline(folder / "faults.yaml", channels),
        "day",
        "R1",
        SPEED,
        day.desk.take,
        to,
        day.book.entries,
        day.desk.clock.set_speed,
    )


def passed(day: Day, run_seconds: float) -> Stamp:
    day.hands.pass_time(run_seconds / SPEED)
    return day.desk.clock.stamp()


FAULTS = "faults:\n  - {at: 60 s, wearer: A, fault: fans, until: 100 s}\n"


def test_faults_come_when_they_are_due_and_once(day: Day, tmp_path: Path) -> None:
    # Given a fault from 60 s to 100 s of run time
    rehearsal = rehearsal_of(day, FAULTS, tmp_path, Delivered())
    day.does(LEAD, Kind.SPELL_BEGUN, wearer="A", spell=0)
    seen = []

    # When the rehearsal goes on, in steps that the console's threads take
    for _ in range(60):
        stamp = passed(day, 2.0)
        rehearsal.go_on(day.state, stamp)
        seen.append((round(stamp.run_time), ("A", "fans") in day.state.faults))

    # Then it is there from the first step at which it was due, to the first at which it was over
    there = [at for at, lasts in seen if lasts]
    assert (min(there), max(there)) == (60, 98)
    kinds = [e.deed.kind for e in day.book.entries()]
    assert (kinds.count(Kind.FAULT_BEGUN), kinds.count(Kind.FAULT_ENDED)) == (1, 1)


def test_a_fault_that_could_not_be_recorded_comes_at_the_next_turn(
    day: Day, tmp_path: Path
) -> None:
    # Given a book that fails when a fault is due
    rehearsal = rehearsal_of(day, FAULTS, tmp_path, Delivered())
    rehearsal.go_on(day.state, passed(day, 50.0))
    day.book.fails_before = True
    with pytest.raises(BookError):
        rehearsal.go_on(day.state, passed(day, 15.0))

    # When it can be written again, then the fault is there
    day.book.fails_before = False
    rehearsal.go_on(day.state, passed(day, 5.0))
    assert ("A", "fans") in day.state.faults


SPELLS = {"A": 5, "B": 4}
LATER = """faults:
  - {at: 95 s, wearer: A, fault: fans, until: 120 s}
  - {at: 70 s, wearer: B, fault: main_kinked, share: 80 %}
  - {at: 100 s, wearer: A, fault: sensor-offset, channel: heart}
"""


def acted(day: Day, at: int) -> None:
    """What people do, by the number of the turn."""
    if at == 3:
        for letter, number in SPELLS.items():
            day.does(LEAD, Kind.SPELL_BEGUN, wearer=letter, spell=number)
    if at == 25:
        day.does(LEAD, Kind.TURN_BACK, wearer="A", reason="")
    if at == 30:
        day.does(LEAD, Kind.NOTE, words="nothing changes by this")
        fault = {"wearer": "B", "fault": "pump"}
        day.does(TRAINER, Kind.FAULT_BEGUN, **fault, share=1.0)


def sent_through(folder: Path, turns: int, restarts: set[int]) -> tuple[list[tuple], Day]:
    """Everything that was sent in so many turns of uneven length, some of them after a restart."""
    day = Day(Hands(wall=1.8e9), rehearsal=True)
    day.desk.clock.set_speed(SPEED)
    day.opened()
    to, tells = Delivered(), []
    rehearsal = rehearsal_of(day, LATER, folder, to)
    rehearsal.go_on(day.state, day.desk.clock.stamp())
    for turn in range(turns):
        acted(day, turn)
        if turn in restarts:
            # The console is killed, and begins anew: suits, truth and noise too
            tells += to.readings
            to = Delivered()
            rehearsal = rehearsal_of(day, LATER, folder, to)
            rehearsal.go_on(day.state, day.desk.clock.stamp())
        rehearsal.go_on(day.state, passed(day, 0.8 + 0.97 * (turn % 3)))
    tells += to.readings
    # A flow of air is led to the helmet's warmth, which an intake that begins anew does not know.
    return [(r.wearer, r.channel, r.value) for r in tells if r.channel != "air"], day


def test_a_restart_goes_on_where_the_suits_were(tmp_path: Path) -> None:
    # Given a rehearsal in which spells, a turn for home and faults of all sorts were recorded,
    # when it goes through, and when its console is killed three times on the way,
    through, day = sent_through(tmp_path, 75, set())
    broken, again = sent_through(tmp_path, 75, {7, 42, 61})
    # then every reading is the same, to the last figure: truth, noise and faults are as they were
    assert len(through) > 1500
    assert broken == through
    # and nothing was recorded twice.
    assert [e.deed.key for e in again.book.entries()] == [e.deed.key for e in day.book.entries()]
    assert {("A", "sensor-offset:heart"), ("B", "pump")} <= set(again.state.faults)


def test_the_rehearsal_slows_down_rather_than_blame_sensors(day: Day, tmp_path: Path) -> None:
    # Given a machine so busy that suits get a turn every second only: 20 s of the run
    sent = Delivered()
    rehearsal = rehearsal_of(day, FAULTS, tmp_path, sent)
    day.does(LEAD, Kind.SPELL_BEGUN, wearer="A", spell=5)
    stale, speeds = [], []
    for turn in range(60):
        day.hands.pass_time(1.0 if turn < 30 else 0.1)
        # when it is looked at in the worst moment, just before the next readings come
        stamp = day.desk.clock.stamp()
        latest = rehearsal.intake.latest(stamp.monotonic)["A"].values()
        stale.append(any(Flaw.STALE in reading.flaws for reading in latest))
        rehearsal.go_on(day.state, stamp)
        speeds.append(day.desk.clock.speed)
    # then the run goes as slowly as the suits can follow, and no sensor is blamed any more,
    assert any(stale[:8])
    assert not any(stale[10:])
    assert speeds[20] == 3.0
    # and once the machine is free it goes faster again, by and by.
    for _ in range(300):
        day.hands.pass_time(0.1)
        rehearsal.go_on(day.state, day.desk.clock.stamp())
        speeds.append(day.desk.clock.speed)
    assert speeds[-1] == SPEED
    assert max(b / a for a, b in pairwise(speeds[31:])) < 1.3
    assert not [r for r in sent.readings if Flaw.JUMPED in r.flaws]


@given(
    st.floats(1.0, 20.0),
    st.lists(st.floats(0.01, 5.0), min_size=4, max_size=80),
)
def test_the_pace_is_never_more_than_asked_for_and_fits_what_the_machine_did(
    wanted: float, gaps: list[float]
) -> None:
    # Given any gaps between turns
    pace, now, seen = Pace(wanted, 3.0), 0.0, []
    pace.held(now)
    for gap in gaps:
        now += gap
        held = pace.held(now)
        seen.append((now, gap))
        # then the speed stays within what may be, and but for two of them the last gaps fit it
        assert 1.0 <= held <= wanted
        recent = sorted(g for at, g in seen if at >= now - 10.0)[:-2]
        assert held == 1.0 or all(g * held <= 3.0 + 1e-6 for g in recent)


def test_packs_are_sent_each_second_of_the_run_with_wall_times_that_fit(
    day: Day, tmp_path: Path
) -> None:
    # Given a wearer in the suit, at 20 times real time
    sent = Delivered()
    rehearsal = rehearsal_of(day, FAULTS, tmp_path, sent)
    day.does(LEAD, Kind.SPELL_BEGUN, wearer="A", spell=2)
    rehearsal.go_on(day.state, day.desk.clock.stamp())
    sent.readings.clear()

    # When two seconds of the run pass at each turn, for a minute
    first = day.desk.clock.stamp()
    for _ in range(30):
        rehearsal.go_on(day.state, passed(day, 2.0))
    last = day.desk.clock.stamp()

    # Then each second has its reading, and none is flawed by its clock or its age
    hearts = [r for r in sent.readings if r.channel == "heart"]
    assert len(hearts) == pytest.approx(60, abs=1)
    assert not [r for r in hearts if r.flaws]
    # A second of the run is a twentieth of one on the wall, and its reading is never from tomorrow
    times = [r.source_time or 0.0 for r in hearts]
    assert times == sorted(set(times))
    assert first.wall - 1.0 / SPEED <= times[0]
    assert times[-1] <= last.wall
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert gaps == pytest.approx([1.0 / SPEED] * len(gaps), abs=1e-3)
