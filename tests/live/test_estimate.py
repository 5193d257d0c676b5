"""The live estimate as it goes: the same whatever the threads, rebuilt, honest without readings."""

from __future__ import annotations

import numpy as np
import pytest
from hidden_worlds import DEMO, MINUTE, USUAL, World, course, demo_run, near, world

from neckring.live.doing import Doing
from neckring.live.estimate import LiveEstimate, rebuild, spread_band
from neckring.live.truth import HiddenTruth

RUN = demo_run()
FEW = 128


def estimate(workers=1, seed=9):
    return LiveEstimate(RUN, DEMO.limits, FEW, seed, workers, near=near(RUN), looking=16)


def heard(truth: HiddenTruth):
    said = truth.measured()
    return {name: (said[name], truth.accuracy(name)) for name in USUAL if name in said}


@pytest.fixture(scope="module")
def day():
    """Spells as begun, and what the sensors said each minute."""
    truth, planned = HiddenTruth(RUN, 2, step=10.0), course(RUN, 2)
    rounds = []
    for minute in range(1, 27):
        truth.advance(minute * MINUTE, planned.at(minute * MINUTE))
        rounds.append((minute * MINUTE, heard(truth)))
    return planned, rounds


def gone(one, day, until=26):
    planned, rounds = day
    for time, measured in rounds[:until]:
        one.advance(time, planned.at(time))
        one.weigh(measured)
    return one


@pytest.fixture(scope="module")
def out(day):
    """An estimate on the way, and what it says."""
    one = gone(estimate(), day)
    return one, one.estimated()


def test_it_says_what_the_medic_asks(out):
    one, said = out
    assert said.run_time == 26 * MINUTE
    assert set(said.stands_on) == set(USUAL)
    for name in ("core_temperature", "heart_rate", "inspired_co2", "ice", "work_factor"):
        band = said.quantities[name]
        assert band.low <= band.middle <= band.high
    assert 36.0 < said.quantities["core_temperature"].middle < 38.5
    assert said.effective > 5.0
    assert sum(one.chances().values()) == pytest.approx(1.0)
    assert max(one.chances().values()) < 0.96


def test_every_failure_that_can_happen_is_held_against_help(out):
    _, said = out
    codes = [failure.code for failure in said.failures]
    assert {"fans", "pump", "battery", "down", "nothing"} <= set(codes)
    assert "facility" not in codes
    spare = [failure.slack.low - failure.reserve for failure in said.failures]
    assert spare == sorted(spare)
    fans = next(failure for failure in said.failures if failure.code == "fans")
    assert fans.relief == "fresh air at the face"
    assert fans.slack.low <= fans.harm.high - fans.help.low
    assert said.turn_back is not None
    assert said.turn_back.low >= said.run_time
    assert said.binding


def test_threads_change_nothing(day, out):
    # Given the same seed and readings, when two threads work, then every number is the same.
    assert gone(estimate(workers=2), day).estimated() == out[1]


def test_another_seed_says_nearly_the_same(day, out):
    # Given other particles, so few of them, then what is measured is believed alike,
    other = gone(estimate(seed=10), day).quantities()
    for name in ("heart_rate", "water_outlet_temperature", "helmet_co2"):
        band = out[1].quantities[name]
        assert other[name] != band
        assert other[name].low < band.high
        assert band.low < other[name].high
    # and of what is not, the bands meet.
    core = out[1].quantities["core_temperature"]
    assert max(core.low, other["core_temperature"].low) < min(
        core.high, other["core_temperature"].high
    )


def test_a_console_that_came_back_knows_what_it_knew(day, out):
    # Given the log book and the readings, when a new estimate is rebuilt from them,
    planned, rounds = day
    again = estimate()
    rebuild(again, [d for d in planned.doings if d.begun <= 26 * MINUTE], rounds)
    # then it says the same as the one that was there all the time.
    assert again.estimated() == out[1]


def test_without_readings_the_band_widens(day):
    # Given an estimate that has heard for a while of one work, when nothing more comes,
    planned, _ = day
    one = gone(estimate(), day, 19)
    before = one.quantities()["heart_rate"]
    one.advance(30 * MINUTE, Doing(planned.at(19 * MINUTE).number, planned.at(19 * MINUTE).begun))
    after = one.quantities()["heart_rate"]
    # then it goes on, and is less sure.
    assert one.now == 30 * MINUTE
    assert after.high - after.low > 1.2 * (before.high - before.low)


def test_what_cannot_be_weighed_is_left_out_and_says_why(day):
    one = gone(estimate(), day, 2)
    one.weigh(
        {
            "heart_rate": (1.2, 0.05),
            "water_outlet_temperature": (20.0, 0.3),
            "core_temperature": (float("nan"), 0.1),
            "battery_voltage": (16.0, 0.0),
            "mood": (1.0, 1.0),
        },
        {"strap": "stale"},
    )
    left = one._weighed.left_out
    assert one._weighed.used == ("heart_rate",)
    assert left["strap"] == "stale"
    assert "no flow" in left["water_outlet_temperature"]
    assert "no number" in left["core_temperature"]
    assert "above nought" in left["battery_voltage"]
    assert "no such reading" in left["mood"]


def test_before_the_first_spell_there_is_nothing_to_say():
    with pytest.raises(RuntimeError, match="no spell has begun"):
        estimate().estimated()
    with pytest.raises(ValueError, match="at least 64"):
        LiveEstimate(RUN, DEMO.limits, 10, near=near(RUN))


def test_a_band_of_few_members_has_its_share_of_belief():
    # Given draws of a known distribution, when many bands of 32 are made,
    draw = np.random.default_rng(1)
    inside = 0
    for _ in range(4000):
        band = spread_band(draw.standard_normal(32))
        inside += band.low <= draw.standard_normal() <= band.high
    # then nine of ten hold the next draw: k/(n+1) is exact for the uniform, near it for others.
    assert inside / 4000 == pytest.approx(0.9, abs=0.02)


def test_who_turned_for_home_is_followed_home(day):
    # Given a wearer who turns on the way out,
    planned, _ = day
    one = gone(estimate(), day)
    present = planned.at(26 * MINUTE)
    one.advance(27 * MINUTE, Doing(present.number, present.begun, 26 * MINUTE))
    # when there is no plan of spells any more that fits, then the look ahead follows the way home.
    looked = one.look_ahead()
    assert one.now < looked.home < 60 * MINUTE
    assert "fans" in looked.now


def test_an_offset_of_one_sensor_does_not_move_the_estimate_beyond_its_band():
    # Given a world, and the same with a heart-rate strap that says 40 beats too much,
    straight, bent = (world(RUN, 6, 512, looks=False) for _ in range(2))
    for one in (straight, bent):
        one.run(24 * MINUTE)
    bent.truth.sensor_fails("heart_rate", "offset", 40.0 / 60.0)
    ends: list[World] = []
    for one in (straight, bent):
        one.run(32 * MINUTE, 24 * MINUTE)
        ends.append(one)
    # then what is believed of the body lies where it would lie without it,
    for name in ("core_temperature", "heart_rate", "inspired_co2"):
        right, wrong = (one.estimate.quantities()[name] for one in ends)
        assert right.low <= wrong.middle <= right.high, name
    # and it is the strap that is named.
    chances = bent.estimate.chances()
    assert max(chances, key=lambda code: chances[code]) == "sensor_wrong:heart_rate"
