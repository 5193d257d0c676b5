"""Rounds of the estimate: one that was brought back is the same as one that went on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from demo_day import LEAD, Day, Hands, demo
from test_watchkeeping import intake_of

from neckring.live.entries import Kind
from neckring.live.estimate_entry import FIGURES, estimate_deed
from neckring.live.estimating import EVERY, Estimators, estimators, round_times
from neckring.live.reading import Reading
from neckring.outing.scenario import Scenario

PARTICLES = 64
SENT = {"heart": 1.9, "water_in": 14.0, "water_out": 20.0, "water_flow": 1.3 / 60e3}


@dataclass
class Kept:
    """Readings of the run so far, as the store gives them."""

    readings: list[Reading] = field(default_factory=list)

    def read(self, wearer: str, channel: str, begins: float, ends: float) -> list[Reading]:
        return [
            r
            for r in self.readings
            if (r.wearer, r.channel) == (wearer, channel) and begins <= r.run_time < ends
        ]


def made(day: Day) -> Estimators:
    station, wearer = demo(), day.sheet.wearers["A"]
    scenario = Scenario(
        station.station,
        station.suits[wearer.run.suit],
        station.wearers[wearer.code],
        wearer.run,
    )
    wired = intake_of(day).wired
    return estimators({"A": scenario}, wired, station.limits, PARTICLES)


def sent(day: Day, kept: Kept, place: int) -> dict[str, Reading]:
    """What A's suit says now; kept too."""
    stamp = day.desk.clock.stamp()
    latest = {
        name: Reading(
            "A",
            name,
            value * (1.0 + 0.01 * math.sin(place)),
            None,
            stamp.monotonic,
            stamp.run_time,
            frozenset(),
        )
        for name, value in SENT.items()
    }
    kept.readings += latest.values()
    return latest


@pytest.fixture(scope="module")
def gone_on() -> tuple[Day, Kept, Estimators]:
    """A wearer dressed and closed in, with a round every so often, each recorded."""
    day, kept = Day(Hands(wall=1.8e9)).opened(), Kept()
    estimate = made(day)
    for place in range(6):
        if place in (0, 3):
            day.does(LEAD, Kind.SPELL_BEGUN, wearer="A", spell=place // 3)
        day.hands.pass_time(EVERY)
        latest = sent(day, kept, place)
        found = estimate.round(day.state, {"A": latest}, day.desk.clock.run_time())
        assert day.desk.take(estimate_deed(found["A"], "day")).status == "recorded"
    return day, kept, estimate


def test_an_estimate_that_is_brought_back_is_the_one_that_went_on(
    gone_on: tuple[Day, Kept, Estimators],
) -> None:
    # Given an estimate that went on, and a new one, as after a crash
    day, kept, before = gone_on
    again = made(day)

    # When it is brought to where the other one is, from book and readings
    again.catch_up(day.book.entries(), kept, day.desk.clock.run_time())

    # Then both say the same, to the figures that the log book keeps
    one, other = before.of["A"].estimated(), again.of["A"].estimated()
    assert again.of["A"].now == before.of["A"].now
    assert set(one.quantities) == set(other.quantities)
    for name, band in one.quantities.items():
        for side in ("low", "middle", "high"):
            expected = getattr(band, side)
            assert getattr(other.quantities[name], side) == pytest.approx(
                expected, rel=10.0 ** (1 - FIGURES), abs=1e-9
            ), (name, side)
    assert other.binding == one.binding


def test_bringing_back_is_left_when_the_console_ends(
    gone_on: tuple[Day, Kept, Estimators],
) -> None:
    # Given a console that ends while the estimate is brought back
    day, kept, _ = gone_on
    again = made(day)

    class EndsError(Exception):
        """Of this test."""

    def ends() -> None:
        raise EndsError

    with pytest.raises(EndsError):
        again.catch_up(day.book.entries(), kept, day.desk.clock.run_time(), ends)
    assert again.of["A"].now is None


def test_rounds_are_brought_back_at_the_times_at_which_they_were(
    gone_on: tuple[Day, Kept, Estimators],
) -> None:
    # Given rounds that were recorded, and a console that was away for ten minutes
    day, _, _ = gone_on
    entries = list(day.book.entries())
    recorded = [float(str(e.deed.body["for"])) for e in entries if e.deed.kind is Kind.ESTIMATE]
    until = recorded[-1] + 600.0

    # When the times are asked for
    times = list(round_times(entries, "A", 0.0, until))

    # Then those recorded are among them, and the time away is gone through at the usual pace
    assert set(recorded) <= set(times)
    assert times == sorted(times)
    assert times[-1] == until
    assert list(round_times(entries, "A", 0.0, recorded[-1] + 1.0))[-1] == recorded[-1]
    assert all(b - a <= 2.0 * EVERY + 1e-6 for a, b in pairwise(times))


def test_who_has_begun_nothing_or_is_released_is_not_estimated() -> None:
    day = Day().opened()
    assert made(day).round(day.state, {}, 10.0) == {}
