"""Readings as a table that any program reads: comma-separated values (RFC 4180), in SI."""

from __future__ import annotations

import csv
import heapq
from collections.abc import Iterator
from typing import Protocol, TextIO

from neckring.live.reading import Reading

HEADING = ("run_time_s", "wearer", "channel", "value", "flaws", "source_time_s", "received_s")


class ReadableReadings(Protocol):
    """Something that holds readings."""

    def channels(self) -> list[tuple[str, str]]:
        """Wearer and name of every channel."""

    def read(self, wearer: str, channel: str) -> list[Reading]:
        """Readings of one channel, in order."""


def write_csv(readings: ReadableReadings, file: TextIO) -> int:
    """Write all readings in the order of run time; numbers read back as just what they were.

    Args:
        readings: Where they are kept.
        file: Open for writing, with `newline=""`.

    Returns:
        How many.
    """
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(HEADING)
    count = 0
    for count, reading in enumerate(_in_order(readings), 1):  # noqa: B007 - the last is the count
        writer.writerow(_cells(reading))
    return count


def _in_order(readings: ReadableReadings) -> Iterator[Reading]:
    channels = [readings.read(*channel) for channel in sorted(readings.channels())]
    return heapq.merge(*channels, key=lambda reading: reading.run_time)


def _cells(reading: Reading) -> tuple[str, ...]:
    return (
        repr(reading.run_time),
        reading.wearer,
        reading.channel,
        repr(reading.value),
        "; ".join(sorted(reading.flaws)),
        "" if reading.source_time is None else repr(reading.source_time),
        repr(reading.received),
    )
