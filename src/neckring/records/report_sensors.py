"""How much of the readings can be believed: share of good ones, flaws, gaps; and the series."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Protocol

import numpy as np

from neckring.live.readings_blocks import FLAW_BITS, Columns
from neckring.live.sensors.channels import Wired
from neckring.records.report_course_records import BoolArray, FloatArray, SensorFact


class ReadableReadings(Protocol):
    """Something that holds the readings of a run."""

    def channels(self) -> list[tuple[str, str]]:
        """Wearer and name of every channel."""

    def columns(self, wearer: str, channel: str) -> Columns:
        """Readings of one channel, in order, as arrays."""


def sensor_facts(readings: ReadableReadings, wired: Iterable[Wired]) -> tuple[SensorFact, ...]:
    """Every channel that sent something, and those that were to and did not.

    Args:
        readings: Of the run.
        wired: Channels of each wearer, from the suits' files.
    """
    known = {
        (each.wearer, channel.name): (channel.quantity, channel.dimension)
        for each in wired
        for channel in each.channels
    }
    names = list(dict.fromkeys((*known, *sorted(readings.channels()))))
    return tuple(sorted(_facts(readings, names, known), key=lambda one: (one.wearer, one.channel)))


def _facts(
    readings: ReadableReadings,
    names: Iterable[tuple[str, str]],
    known: Mapping[tuple[str, str], tuple[str, str]],
) -> Iterator[SensorFact]:
    for name in names:
        columns = readings.columns(*name)
        good = np.asarray(columns.good, dtype=np.bool_)
        quantity, dimension = known.get(name, ("", ""))
        yield SensorFact(
            *name,
            quantity,
            dimension,
            len(columns),
            int(good.sum()),
            _flawed(columns),
            _longest_gap(np.asarray(columns.run_time), good),
            np.asarray(columns.run_time, dtype=np.float64),
            np.asarray(columns.value, dtype=np.float64),
            good,
        )


def _flawed(columns: Columns) -> Mapping[str, BoolArray]:
    found = {flaw.value: (columns.marks & bit) != 0 for flaw, bit in FLAW_BITS.items()}
    return {name: marked for name, marked in found.items() if marked.any()}


def _longest_gap(time: FloatArray, good: BoolArray) -> float:
    if not len(time):
        return 0.0
    at = np.concatenate([time[:1], time[good], time[-1:]])
    return float(np.diff(at).max())
