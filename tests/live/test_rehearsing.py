"""A rehearsal as it goes: faults when they are due, each once, and packs with the right times."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest
from demo_day import LEAD, Day, Hands, demo
from test_watchkeeping import AIR_PRESSURE, intake_of

from neckring.live.entries import BookError, Kind, Stamp
from neckring.live.reading import Reading
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
    for _ in range(12):
        stamp = passed(day, 10.0)
        rehearsal.go_on(day.state, stamp)
        seen.append((round(stamp.run_time), ("A", "fans") in day.state.faults))

    # Then it is there from the first step at which it was due, to the first at which it was over
    there = [at for at, lasts in seen if lasts]
    assert (min(there), max(there)) == (60, 90)
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
