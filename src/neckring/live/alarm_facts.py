"""What the alarms are judged by: everything known at one instant, as frozen records in SI."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from neckring.live.estimated import Estimated
from neckring.live.reading import Reading
from neckring.station.limits import LimitSheet


@dataclass(frozen=True)
class ChannelNow:
    """One channel of a wearer's sensors.

    Attributes:
        name: In the suit's file.
        quantity: What it measures: a column of the trace (docs/vocabulary.md).
        source: Which device or receiver sends it.
        reading: The latest, with what is wrong with it by now; None when none ever came.
        range: Least and most that the sensor is believed [SI].
    """

    name: str
    quantity: str
    source: str
    reading: Reading | None
    range: tuple[float, float] = (-math.inf, math.inf)


@dataclass(frozen=True)
class ClockNow:
    """A reserve clock that runs.

    Attributes:
        code: Of the clock.
        words: What it stands for.
        left: Until it runs out [s]; negative once it has.
    """

    code: str
    words: str
    left: float


@dataclass(frozen=True)
class WearerNow:
    """One wearer.

    Attributes:
        letter: A or B.
        age: [years], for limits that change with it.
        channels: The suit's sensors.
        estimate: The last one; None when there is none.
        away: In the suit and not on the way home: only then is turning back a question.
        should_flow: "air_flow" and "water_flow" that should flow now [m3/s]; without the one
            that should not.
        cut_off_voltage: Of the battery in use [V]; 0 while the pack is not in use.
        missed_calls: Since the last one that was answered.
        symptoms: Told and not yet released by the medic, in words.
        clocks: That run.
    """

    letter: str
    age: float
    channels: tuple[ChannelNow, ...] = ()
    estimate: Estimated | None = None
    away: bool = False
    should_flow: Mapping[str, float] = field(default_factory=dict)
    cut_off_voltage: float = 0.0
    missed_calls: int = 0
    symptoms: tuple[str, ...] = ()
    clocks: tuple[ClockNow, ...] = ()


@dataclass(frozen=True)
class DeskNow:
    """The console itself.

    Attributes:
        stopped: Who called a stop and why, in words; empty when none is called.
        tablets: Each paired tablet to how long it has not been heard from [s].
        book_error: Why the log book cannot be written; empty when it can.
        disk_free: [bytes]; None when it is not known.
        disk_size: [bytes]
        database_warning: What is known against the database's version; empty for nothing.
        clock_set: By how much the wall clock was set in the last 5 min [s]; 0 when it was not.
    """

    stopped: str = ""
    tablets: Mapping[str, float] = field(default_factory=dict)
    book_error: str = ""
    disk_free: float | None = None
    disk_size: float = 0.0
    database_warning: str = ""
    clock_set: float = 0.0


@dataclass(frozen=True)
class Facts:
    """One instant.

    Attributes:
        run_time: [s], never less than before.
        sheet: The signed limits: the only ones there are.
        wearers: One or two.
        desk: The console.
    """

    run_time: float
    sheet: LimitSheet
    wearers: tuple[WearerNow, ...]
    desk: DeskNow = field(default_factory=DeskNow)
