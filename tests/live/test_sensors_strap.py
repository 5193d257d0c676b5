"""Heart rate straps: the published layout of their bytes."""

from __future__ import annotations

import importlib.util
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.live.sensor_worlds import SEA_LEVEL, Collected, at, intake, said_of, sensor

from neckring.live.sensors.channels import Wired, channel_of
from neckring.live.sensors.heart_rate_strap import (
    HeartRateMeasurement,
    StrapSource,
    parse_measurement,
)
from neckring.live.sensors.intake import Intake
from neckring.live.sensors.record import MessageError
from neckring.live.sensors.source import SourceError


@pytest.mark.parametrize(
    ("message", "expected"),
    [
        # Source: test of the public library movisens SmartGattLib, HeartRateMeasurementTest.java.
        ("16485401EC02", HeartRateMeasurement(72, True, None, (0.33203125, 0.73046875))),
        # Source: tests of public parsers of the same characteristic (flags 0x00 and 0x01, 72 bpm).
        ("0048", HeartRateMeasurement(72, None, None, ())),
        ("014800", HeartRateMeasurement(72, None, None, ())),
        # Source: test of the public library blevalueparser: contact told, and not there.
        ("04AA", HeartRateMeasurement(170, False, None, ())),
    ],
)
def test_published_examples(message: str, expected: HeartRateMeasurement) -> None:
    assert parse_measurement(bytes.fromhex(message)) == expected


# Source: Bluetooth SIG, GATT Specification Supplement, Heart Rate Measurement: bit 0 format, bit 1
# contact, bit 2 contact supported, bit 3 energy expended, bit 4 RR intervals; the rest reserved.
@given(
    st.integers(0, 65535),
    st.booleans(),
    st.sampled_from([None, True, False]),
    st.none() | st.integers(0, 65535),
    st.lists(st.integers(0, 65535), max_size=9),
    st.integers(0, 7),
)
def test_every_layout_is_read_as_the_standard_lays_it_out(
    rate: int,
    wide: bool,
    touches: bool | None,
    kilojoules: int | None,
    intervals: list[int],
    reserved: int,
) -> None:
    # Given a message laid out by the standard, reserved bits set as they may be
    wide = wide or rate > 255
    flags = wide | (touches is True) << 1 | (touches is not None) << 2 | reserved << 5
    flags |= (kilojoules is not None) << 3 | bool(intervals) << 4
    message = bytes([flags]) + struct.pack("<H" if wide else "<B", rate)
    message += struct.pack("<H", kilojoules) if kilojoules is not None else b""
    message += struct.pack(f"<{len(intervals)}H", *intervals)
    # When it is read
    read = parse_measurement(message)
    # Then everything is there again
    assert read.beats_per_minute == rate
    assert read.touches is touches
    assert read.energy == (None if kilojoules is None else 1000.0 * kilojoules)
    assert read.intervals == tuple(each / 1024 for each in intervals)


@pytest.mark.parametrize(
    ("message", "words"),
    [
        ("", "0 bytes"),
        ("00", "1 bytes"),
        ("0148", "cut short: 1 bytes are missing"),
        ("084810", "cut short: 1 bytes"),
        ("104854", "1 bytes more than the flags 0x10"),
        ("004800", "1 bytes more than the flags 0x00"),
    ],
)
def test_messages_that_are_cut_or_too_long_are_refused(message: str, words: str) -> None:
    with pytest.raises(MessageError) as refused:
        parse_measurement(bytes.fromhex(message))
    assert words in str(refused.value)


@given(st.binary(max_size=24))
def test_any_bytes_are_read_or_refused_in_words(message: bytes) -> None:
    assert said_of(parse_measurement, message)


def test_a_strap_feeds_the_one_heart_rate_channel_and_is_silent_without_touch() -> None:
    taker, got = intake(), Collected()
    strap = StrapSource("00:11:22:33:44:55", "A", taker, got, lambda: at(0))
    strap.hear(bytes.fromhex("16485401EC02"))
    assert [(r.channel, r.value) for r in got.readings] == [("heart", pytest.approx(1.2))]
    strap.hear(bytes.fromhex("04AA"))
    strap.hear(b"\x01")
    assert len(got.readings) == 1
    assert [each.why for each in taker.untaken()] == [
        "the strap does not touch the skin",
        "1 bytes; a heart rate measurement has at least 2",
    ]


def test_a_suit_without_a_heart_rate_channel_takes_no_strap() -> None:
    only = sensor(channel="x", measures="air_temperature", unit="Cel", every="1 s")
    bare = Intake([Wired("A", "dipper", (channel_of(only),))], SEA_LEVEL)
    with pytest.raises(SourceError, match="no sensor that measures heart_rate"):
        StrapSource("00:11:22:33:44:55", "A", bare, Collected(), lambda: at(0))


@pytest.mark.skipif(
    importlib.util.find_spec("bleak") is not None, reason="the extra bluetooth is installed"
)
def test_without_the_extra_the_reason_is_told() -> None:
    strap = StrapSource("00:11:22:33:44:55", "A", intake(), Collected(), lambda: at(0))
    with pytest.raises(SourceError, match="bluetooth"):
        strap.start()
