"""Readings placed on channels, converted, judged, kept; and what belongs to none."""

from __future__ import annotations

import json
import threading
from typing import Any

import pytest
from tests.live.sensor_worlds import SEA_LEVEL, WALL, at, intake, sensor, wired

from neckring.live.reading import Flaw, Reading
from neckring.live.sensors.channels import Wired, channel_of, topic_pattern
from neckring.live.sensors.intake import MOST_TOLD, Intake
from neckring.live.sensors.record import MessageError, Record


def pack(*records: dict[str, Any]) -> bytes:
    return json.dumps(list(records)).encode()


def one(taker: Intake, record: dict[str, Any], seconds: float = 0.0) -> Reading:
    (only,) = taker.take("A", pack(record), at(seconds))
    return only


def test_a_pack_becomes_readings_in_si() -> None:
    # Given a pack as a suit would send it
    sent = pack(
        {"bn": "urn:dev:mac:0024befffe804ff1:", "bt": WALL, "n": "heart", "v": 84},
        {"n": "water_in", "u": "K", "v": 285.15},
        {"n": "flow", "u": "l/s", "v": 0.02},
        {"n": "battery", "u": "mV", "v": 14400},
        {"n": "humidity", "u": "%RH", "v": 62},
    )
    # When it is taken in
    readings = intake().take("A", sent, at(0))
    # Then each is one reading, in SI, with both times and without a flaw
    values = {each.channel: each.value for each in readings}
    assert values == pytest.approx(
        {"heart": 1.4, "water_in": 12.0, "flow": 2e-5, "battery": 14.4, "humidity": 0.62}
    )
    assert all(each.good and each.received == 50.0 and each.run_time == 0.0 for each in readings)
    assert readings[0].source_time == WALL
    assert readings[3].source_time is None  # its clock means nothing


def test_a_suit_may_be_named_by_its_code_or_its_wearer() -> None:
    taker = intake(wired("A", "dipper"), wired("B", "wagtail"))
    for who, wearer in (("A", "A"), ("B", "B"), ("dipper", "A"), ("wagtail", "B")):
        (reading,) = taker.take(who, pack({"n": "heart", "v": 84}), at(0))
        assert reading.wearer == wearer
    assert taker.take("heron", pack({"n": "heart", "v": 84}), at(1)) == []
    assert taker.untaken()[-1].why == "no wearer and no suit of this run"


def test_what_belongs_nowhere_is_told_and_counted_and_the_rest_is_taken() -> None:
    taker = intake()
    sent = pack(
        {"n": "haert", "v": 84},
        {"n": "water_in", "u": "V", "v": 12},
        {"n": "water_in", "u": "grad", "v": 12},
        {"n": "heart", "vs": "fine"},
        {"n": "heart", "v": 84},
    )
    for _ in range(3):
        assert [each.channel for each in taker.take("A", sent, at(0))] == ["heart"]
    assert [(each.name, each.why, each.count) for each in taker.untaken()] == [
        ("heart", "it has no number", 3),
        ("haert", "no sensor of the suit has this name", 3),
        ("water_in", '"V" is a unit of another quantity; accepted: Cel, [degF] or K', 3),
        ("water_in", 'the unit "grad" is not known', 3),
    ]


def test_a_broken_pack_is_refused_whole() -> None:
    taker = intake()
    with pytest.raises(MessageError, match="record 2"):
        taker.take("A", b'[{"n":"heart","v":84},{"n":"heart","v":"85"}]', at(0))
    assert taker.latest(50.0)["A"] == {}


def test_complaints_are_bounded() -> None:
    taker = intake()
    for number in range(3 * MOST_TOLD):
        taker.take("A", pack({"n": f"x{number}", "v": 1}), at(0))
    assert len(taker.untaken()) == MOST_TOLD
    assert taker.untaken()[-1].name == f"x{3 * MOST_TOLD - 1}"


def test_a_reading_grows_stale_by_its_age_and_is_kept_as_such() -> None:
    taker = intake()
    one(taker, {"n": "heart", "v": 84})
    assert taker.latest(54.0)["A"]["heart"].good
    stale = taker.latest(54.1)["A"]["heart"]
    assert stale.flaws == {Flaw.STALE}
    assert stale.value == pytest.approx(1.4)
    assert "water_in" in taker.silent()["A"]
    assert "heart" not in taker.silent()["A"]


def test_ages_count_in_run_time_where_a_rehearsal_runs_faster() -> None:
    taker = intake(speed=10.0)
    one(taker, {"n": "heart", "v": 84})
    assert taker.latest(50.4)["A"]["heart"].good
    assert not taker.latest(50.41)["A"]["heart"].good


def test_a_reading_that_was_told_to_be_old_is_old() -> None:
    # Given a reading of 20 s ago by its own words
    taker = intake()
    assert one(taker, {"n": "heart", "t": -20, "v": 84}).good
    # Then it is stale at once, as every second one should come
    assert taker.latest(50.0)["A"]["heart"].flaws == {Flaw.STALE}


def test_the_last_good_reading_stays_beside_a_flawed_one() -> None:
    taker = intake()
    one(taker, {"n": "heart", "v": 84})
    flawed = one(taker, {"n": "heart", "v": 400}, seconds=1)
    assert flawed.flaws == {Flaw.IMPOSSIBLE}
    assert taker.latest(51.0)["A"]["heart"] == flawed
    assert taker.last_good(51.0)["A"]["heart"].value == pytest.approx(1.4)


def test_what_is_delivered_twice_is_one_reading() -> None:
    # Source: MQTT 3.1.1, section 4.3.2: QoS 1 delivers at least once.
    taker = intake()
    sent = pack({"n": "heart", "t": WALL, "v": 84})
    assert len(taker.take("A", sent, at(0))) == 1
    assert taker.take("A", sent, at(0.5)) == []
    assert len(taker.take("A", pack({"n": "heart", "t": WALL + 1, "v": 84}), at(1))) == 1


def test_one_that_was_overtaken_is_a_reading_but_not_the_last() -> None:
    taker = intake()
    one(taker, {"n": "heart", "t": WALL + 3, "v": 90}, seconds=3)
    late = one(taker, {"n": "heart", "t": WALL + 1, "v": 84}, seconds=3.5)
    assert late.value == pytest.approx(1.4)
    assert taker.latest(53.5)["A"]["heart"].value == pytest.approx(1.5)


def test_the_desks_clock_may_be_set_back_an_hour_and_no_sensor_is_blamed() -> None:
    # Given a run in which the laptop's clock is set back
    taker = intake()
    assert one(taker, {"n": "heart", "t": WALL, "v": 84}).good
    back = pack({"n": "heart", "t": WALL + 1, "v": 85}, {"n": "flow", "t": -1, "v": 1.2})
    # When the next readings come, then they are good, and as old as they are
    readings = taker.take("A", back, at(1, late=-3600))
    assert [sorted(each.flaws) for each in readings] == [[], []]
    assert all(each.good for each in taker.latest(51.5)["A"].values())
    # And a sensor whose own clock is off by an hour is still told
    assert one(taker, {"n": "humidity", "t": WALL - 3598, "v": 50}, 2).flaws == {Flaw.CLOCK}


def test_a_batch_is_judged_by_its_own_times() -> None:
    # Given ten readings of ten seconds in one pack, each 9 bpm above the one before
    taker = intake()
    sent = pack(*({"n": "heart", "t": step - 4.5, "v": 60 + 9 * step} for step in range(5)))
    # Then none has jumped
    readings = taker.take("A", sent, at(5))
    assert [sorted(each.flaws) for each in readings] == [[]] * 5
    assert taker.latest(55.0)["A"]["heart"].value == pytest.approx(96 / 60)


def test_a_flow_at_reference_conditions_is_led_to_the_helmets_air() -> None:
    # Given 100 litres a minute at 0 degC and one atmosphere, in a station at 900 hPa
    taker = intake(pressure=90_000.0)
    assumed = one(taker, {"n": "air", "v": 100.0})
    assert assumed.value * 60_000 == pytest.approx(100 * 298.15 / 273.15 * 1013.25 / 900)
    assert taker.stands_on("A", "air") == ("air",)
    # When the helmet's air is measured at 31 degC
    one(taker, {"n": "helmet", "v": 31.0}, seconds=1)
    measured = one(taker, {"n": "air", "v": 100.0}, seconds=2)
    # Then the flow stands on that as well
    assert measured.value * 60_000 == pytest.approx(100 * 304.15 / 273.15 * 1013.25 / 900)
    assert taker.stands_on("A", "air") == ("air", "helmet")
    # And not any more once it is stale
    late = one(taker, {"n": "air", "v": 100.0}, seconds=60)
    assert late.value == pytest.approx(assumed.value)
    assert taker.stands_on("A", "air") == ("air",)


def test_a_share_of_carbon_dioxide_is_a_partial_pressure_at_its_reference() -> None:
    # Given a sensor that is set for one atmosphere, at a station at 900 hPa
    taker = intake(pressure=90_000.0)
    assert one(taker, {"n": "co2", "v": 1.0}).value == pytest.approx(1013.25)
    assert one(taker, {"n": "co2", "u": "ppm", "v": 8000}, 1).value == pytest.approx(810.6)
    assert one(taker, {"n": "co2", "u": "Pa", "v": 900}, 2).value == pytest.approx(900)
    # And one that allows for the air pressure of the day
    actual = sensor(
        channel="co2", measures="helmet_co2", unit="[ppm]", reference="actual", every="1 s"
    )
    other = Intake([Wired("A", "dipper", (channel_of(actual),))], 90_000.0)
    assert one(other, {"n": "co2", "v": 10_000}).value == pytest.approx(900.0)


def test_the_registrys_percent_sign_is_a_ratio_and_a_percentage_shows_as_mistaken() -> None:
    # Source: RFC 8428, section 12.1, note 1.
    taker = intake()
    assert one(taker, {"n": "humidity", "u": "%", "v": 0.62}).value == pytest.approx(0.62)
    other = intake()
    assert one(other, {"n": "humidity", "u": "%", "v": 62}).flaws == {Flaw.UNIT}
    assert "%" in other.supposed_units("A", "humidity")


def test_a_name_may_be_a_pattern_and_two_that_fit_are_told() -> None:
    first = sensor(
        channel="left", measures="skin_temperature", unit="Cel", every="1 s", name="*:t1"
    )
    second = sensor(channel="any", measures="skin_temperature", unit="Cel", every="1 s", name="x:*")
    taker = Intake([Wired("A", "dipper", (channel_of(first), channel_of(second)))], SEA_LEVEL)
    assert one(taker, {"n": "y:t1", "v": 33}).channel == "left"
    assert one(taker, {"n": "x:t2", "v": 33}).channel == "any"
    assert taker.take("A", pack({"n": "x:t1", "v": 33}), at(1)) == []
    assert taker.untaken()[-1].why == "it may be any of left, any"


@pytest.mark.parametrize(
    ("filter_", "topic", "fits"),
    [
        # Source: MQTT 3.1.1, sections 4.7.1.2 and 4.7.1.3, the examples printed there.
        ("sport/tennis/player1/#", "sport/tennis/player1", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/ranking", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", True),
        ("sport/tennis/+", "sport/tennis/player1", True),
        ("sport/tennis/+", "sport/tennis/player1/ranking", False),
        ("sport/+", "sport", False),
        ("sport/+", "sport/", True),
        ("+/+", "/finance", True),
        ("/+", "/finance", True),
        ("+", "/finance", False),
    ],
)
def test_topic_filters_as_the_standard_has_them(filter_: str, topic: str, fits: bool) -> None:
    assert bool(topic_pattern(filter_).fullmatch(topic)) == fits


def test_many_threads_may_hand_in_at_once() -> None:
    # Given eight sources, each with 300 readings of a channel of its own
    channels = tuple(
        channel_of(sensor(channel=f"c{n}", measures="air_temperature", unit="Cel", every="1 s"))
        for n in range(8)
    )
    taker = Intake([Wired("A", "dipper", channels)], SEA_LEVEL)
    counts = [0] * 8

    def hand_in(n: int) -> None:
        for step in range(300):
            record = Record(f"c{n}", 10.0 + 0.01 * step, None, WALL + step)
            counts[n] += len(taker.place("A", [record], at(step)))

    threads = [threading.Thread(target=hand_in, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    # Then each became a reading, and the last of each is the last one
    assert counts == [300] * 8
    latest = taker.latest(50.0 + 299)["A"]
    assert all(latest[f"c{n}"].value == pytest.approx(12.99) for n in range(8))
