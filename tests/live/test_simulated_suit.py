"""The simulated suit: its sensors come in as real ones do, and it does what is done to it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from alarm_worlds import DEMO

from neckring.live.doing import Doing
from neckring.live.entries import Stamp
from neckring.live.fault_catalogue import catalogue, possible_now
from neckring.live.kit_says import KitSays
from neckring.live.reading import Flaw
from neckring.live.sensors.channels import channel_of, wire
from neckring.live.sensors.intake import Intake
from neckring.live.sensors.senml import parse_pack
from neckring.live.simulated_suit import Conduct, SimulatedSuit, SuitedTruth, in_unit, other_unit
from neckring.outing.failures import FAILURES
from neckring.outing.plan import station_pressure
from neckring.outing.scenario import Scenario
from neckring.station.ucum import CODES

RUN = DEMO.runs["floor-survey"]
SUIT = DEMO.suits[RUN.suit]
SCENARIO = Scenario(DEMO.station, SUIT, DEMO.wearers[RUN.wearer], RUN)
PRESSURE = float(station_pressure(SCENARIO)[0])
CHANNELS = tuple(channel_of(sensor) for sensor in SUIT.sensors)
ON_THE_PACK = Doing(5, 0.0)  # kneeling on the quarry floor
MINUTE = 60.0
WALL = 1.7e9


def suit(seed: int = 1) -> SimulatedSuit:
    return SimulatedSuit("A", SuitedTruth(SCENARIO, seed), CHANNELS, PRESSURE, seed)


def wall(run_time: float) -> float:
    return WALL + run_time


def go(one: SimulatedSuit, to: float, faults=None, kit=None):
    return one.go_on(to, Conduct(ON_THE_PACK, faults or {}, kit), wall)


def values(sent, name: str) -> list[float]:
    found = []
    for pack in sent:
        found += [record["v"] for record in json.loads(pack.pack) if record["n"] == name]
    return found


KIT = KitSays(inside=True, fresh_air=True, without_fans=False, cooled=True, out=False)


@pytest.mark.parametrize("seconds", [30.0, 45.5])
def test_every_channel_sends_at_its_interval_however_far_it_goes_at_once(seconds: float) -> None:
    # Given one suit that goes in steps of a second and one that goes twenty at once,
    small, large = suit(), suit()
    one_by_one = []
    for second in np.arange(1.0, seconds + 1.0):
        one_by_one += go(small, min(second, seconds))
    at_once = []
    for second in (*np.arange(20.0, seconds, 20.0), seconds):
        at_once += go(large, float(second))
    # then both send the same packs: neither the speed nor the console's pace changes the truth.
    assert [pack.pack for pack in one_by_one] == [pack.pack for pack in at_once]
    for channel in CHANNELS:
        every = channel.expected.every
        assert len(values(at_once, channel.known_as)) == int(seconds / every)


def test_what_is_sent_comes_in_as_the_truth_within_the_accuracy_of_each_sensor() -> None:
    # Given the demo's channels, among them a flow at reference conditions and a share of a gas,
    one, wired = suit(), wire([("A", SUIT)])
    intake = Intake(wired, PRESSURE)
    errors: dict[str, list[float]] = {channel.name: [] for channel in CHANNELS}
    for pack in go(one, 3.0 * MINUTE):
        assert parse_pack(pack.pack, WALL).without_number == ()
        stamp = Stamp(wall(pack.run_time), pack.run_time, pack.run_time)
        readings = intake.take("A", pack.pack, stamp)
        assert all(reading.good for reading in readings), readings
        truth = one.truth.shown()
        if pack.run_time == one.truth.now:
            for reading in readings:
                channel = intake.channel("A", reading.channel)
                errors[reading.channel].append(
                    (reading.value - truth[channel.quantity]) / channel.expected.accuracy
                )
    # then nothing is left over, and the last readings are the truth within five deviations.
    assert intake.untaken() == ()
    assert all(errors[channel.name] for channel in CHANNELS if channel.expected.every == 1.0)
    # The intake warms a flow to the helmet as it was read, not as it is: a little more there.
    assert all(abs(error) < 6.0 for found in errors.values() for error in found)


def test_the_noise_has_the_spread_that_the_suit_says() -> None:
    # Given 10 min of reservoir water, which changes slowly,
    said = np.array(values(go(suit(), 10.0 * MINUTE), "reservoir"))
    rough = np.diff(said) / np.sqrt(2.0)
    # then what is left from one reading to the next is the accuracy, 0.2 K (120 readings: 25 %).
    channel = next(c for c in CHANNELS if c.name == "reservoir")
    assert np.std(rough) == pytest.approx(channel.expected.accuracy, rel=0.25)


def test_fans_that_stop_are_seen_and_their_mending_too() -> None:
    one = suit()
    go(one, 2.0 * MINUTE)
    before = one.truth.shown()
    go(one, 4.0 * MINUTE, {"fans": 1.0})
    stopped = one.truth.shown()
    assert stopped["air_flow"] < 0.1 * before["air_flow"]
    assert stopped["inspired_co2"] > 2.0 * before["inspired_co2"]
    go(one, 6.0 * MINUTE)
    assert one.truth.shown()["inspired_co2"] < 1.2 * before["inspired_co2"]


def test_what_is_done_to_the_kit_on_the_console_reaches_the_suit() -> None:
    one = suit()
    go(one, 2.0 * MINUTE, kit=KIT)
    before = one.truth.shown()
    # The pack's air was not given, and no water: the kit wins over the plan,
    go(one, 4.0 * MINUTE, kit=replace(KIT, fresh_air=False, cooled=False))
    without = one.truth.shown()
    assert without["inspired_co2"] > 2.0 * before["inspired_co2"]
    assert without["water_flow"] == pytest.approx(0.0, abs=1e-9)
    # and a face that is opened while the fans stand still has the room's air within a minute.
    go(one, 4.5 * MINUTE, {"fans": 1.0}, replace(KIT, without_fans=True))
    assert one.truth.shown()["inspired_co2"] < 0.25 * without["inspired_co2"]
    # A wearer who by the steps is not in the suit says nothing: the plan counts.
    go(one, 5.0 * MINUTE, kit=KitSays(False, False, False, False, True))
    assert one.truth.shown()["water_flow"] == pytest.approx(before["water_flow"], rel=0.1)


def test_sensors_go_wrong_one_by_one_and_the_truth_does_not() -> None:
    def said(fault: str) -> tuple[list[float], SimulatedSuit]:
        one = suit()
        go(one, 10.0)
        faults = {f"{fault}:reservoir": 1.0} if fault else {}
        return values(go(one, 75.0, faults), "reservoir"), one

    sound, right = said("")
    stuck, _ = said("sensor-stuck")
    offset, _ = said("sensor-offset")
    silent, quiet = said("sensor-silent")
    other, wrong = said("sensor-wrong-unit")
    assert len(set(stuck)) == 1
    assert len(set(sound)) > 10
    assert np.array(offset) - np.array(sound) == pytest.approx(6.0)  # 30 times 0.2 K
    assert silent == []
    # 1 degC is sent as the figure of degF: 32 + 9/5 of it.
    assert np.array(other) == pytest.approx(32.0 + 1.8 * np.array(sound))
    assert right.truth.shown() == quiet.truth.shown() == wrong.truth.shown()


def test_a_unit_mistaken_is_found_at_the_intake() -> None:
    one = suit()
    intake = Intake(wire([("A", SUIT)]), PRESSURE)
    flaws: set[Flaw] = set()
    for start, faults in ((60.0, {}), (120.0, {"sensor-wrong-unit:helmet_air": 1.0})):
        for pack in go(one, start, faults):
            stamp = Stamp(wall(pack.run_time), pack.run_time, pack.run_time)
            for reading in intake.take("A", pack.pack, stamp):
                flaws |= reading.flaws if reading.channel == "helmet_air" else set()
    assert Flaw.UNIT in flaws or Flaw.IMPOSSIBLE in flaws


@pytest.mark.parametrize("code", sorted(CODES))
def test_every_unit_goes_there_and_back(code: str) -> None:
    for value in (0.0, 1.0, 36.6, -5.0):
        assert CODES[code].to_si(in_unit(CODES[code], value)) == pytest.approx(value, abs=1e-9)


def test_every_channel_has_another_unit_to_be_mistaken_for() -> None:
    for channel in CHANNELS:
        assert other_unit(channel).dimension == channel.unit.dimension


# What can be broken


def test_the_catalogue_holds_every_failure_of_the_plan_and_every_channel() -> None:
    known = catalogue(("heart",))
    assert {f.code for f in FAILURES} - {"nothing"} <= set(known)
    assert {"main_kinked", "no-answer", "sensor-stuck:heart", "sensor-wrong-unit:heart"} <= set(
        known
    )


def test_only_what_is_possible_is_offered() -> None:
    dressing = {one.code for one in possible_now(SCENARIO, 0, ("heart",))}
    away = {one.code for one in possible_now(SCENARIO, 5, ("heart",))}
    at_facility = {one.code for one in possible_now(SCENARIO, 1, ("heart",))}
    assert "fans" in away
    assert "fans" not in dressing | at_facility
    assert "facility" in at_facility - away
    assert "main_kinked" in away - at_facility
    # Of the plan's failures exactly those that the plan itself takes for possible.
    spell, before = RUN.outing[5], RUN.outing[4]
    for failure in FAILURES:
        if failure.code != "nothing":
            assert (failure.code in away) == failure.possible(SCENARIO, spell, before)


@pytest.mark.parametrize(
    "code", sorted(one.code for one in possible_now(SCENARIO, 5) if one.code != "no-answer")
)
def test_everything_that_can_be_broken_can_be_put_in_and_taken_out(code: str) -> None:
    one = suit()
    go(one, 10.0)
    go(one, 12.0, {code: 0.8})
    after = go(one, 20.0, {})
    assert after
    assert all(np.isfinite(value) for value in one.truth.shown().values())
