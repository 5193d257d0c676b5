"""One instant of a run as the alarms see it, sound unless something is said; all invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import neckring.station
from neckring.live.alarm import Alarm
from neckring.live.alarm_facts import ChannelNow, DeskNow, Facts, WearerNow
from neckring.live.alarms import Board, judged
from neckring.live.entries import Deed, Entry, Stamp
from neckring.live.estimated import Band, Estimated, LiveSlack, Suspicion
from neckring.live.reading import Flaw, Reading
from neckring.station.loading import load_station

DEMO = load_station(Path(neckring.station.__file__).parent / "demo")
SHEET = DEMO.limits
AGE = 40.0
SOUND = {
    "heart_rate": 100.0 / 60.0,
    "air_flow": 160.0 / 60_000.0,
    "water_flow": 1.4 / 60_000.0,
    "inspired_co2": 800.0,
    "battery_voltage": 14.0,
    "mean_skin_temperature": 33.0,
}
"""Readings [SI] of a wearer who is well in a suit that works; invented."""
SHOULD_FLOW = {"air_flow": 160.0 / 60_000.0, "water_flow": 1.4 / 60_000.0}
CUT_OFF = 12.0


def reading(channel: str, value: float, *flaws: Flaw, wearer: str = "A") -> Reading:
    """One reading."""
    return Reading(wearer, channel, value, None, 0.0, 0.0, frozenset(flaws))


def channels(wearer: str = "A", **values: float | Flaw | None) -> tuple[ChannelNow, ...]:
    """Sound channels, with some values replaced; a flaw stands for a sound value with it."""
    made = []
    for name, sound in SOUND.items():
        said = values.get(name, sound)
        source = "strap" if name == "heart_rate" else "suit"
        one = None
        if isinstance(said, Flaw):
            one = reading(name, sound, said, wearer=wearer)
        elif said is not None:
            one = reading(name, said, wearer=wearer)
        made.append(ChannelNow(name, name, source, one))
    return tuple(made)


def band(middle: float, width: float = 0.0) -> Band:
    """A band around a value."""
    return Band(middle - width, middle, middle + width)


def slack(code: str, words: str, middle: float, reserve: float, width: float = 0.0) -> LiveSlack:
    """Slack of one failure [s]."""
    return LiveSlack(
        code, words, band(600.0), band(600.0 - middle), band(middle, width), reserve, "x", "air"
    )


FINE = (slack("fans", "the fans stop", 120.0, 15.0), slack("pump", "the pump stops", 1500.0, 300.0))


def estimate(run_time: float, **parts: Any) -> Estimated:
    """An estimate of a run in which all is well."""
    made = Estimated(
        "A", run_time, {}, FINE, band(run_time + 3000.0), "", (), ("heart_rate",), {}, 500.0
    )
    return replace(made, **parts)


def suspicion(code: str, words: str, chance: float) -> Suspicion:
    """Something that may be wrong."""
    return Suspicion(code, words, chance, ("water_flow",), "Look at it.")


def wearer(letter: str = "A", **parts: Any) -> WearerNow:
    """A wearer who is well and away on the pack."""
    made = WearerNow(
        letter,
        AGE,
        channels(letter),
        None,
        away=True,
        should_flow=SHOULD_FLOW,
        cut_off_voltage=CUT_OFF,
    )
    return replace(made, **parts)


def facts(run_time: float, *wearers: WearerNow, **desk: Any) -> Facts:
    """One instant."""
    return Facts(run_time, SHEET, wearers or (wearer(),), DeskNow(**desk))


def after(seconds: int, now: Facts, board: Board | None = None) -> Board:
    """The board once the same has been so for some seconds.

    It is looked at every second in the first half minute and the last three seconds, else every 10.
    """
    board = board or Board()
    start = board.run_time
    for second in range(1, seconds + 1):
        if 30 < second < seconds - 3 and second % 10:
            continue
        time = start + second
        wearers = tuple(
            replace(
                one,
                estimate=replace(one.estimate, run_time=time) if one.estimate else None,
            )
            for one in now.wearers
        )
        board = judged(board, replace(now, run_time=time, wearers=wearers))
    return board


def causes(alarms: tuple[Alarm, ...]) -> list[str]:
    """Their codes, in order."""
    return [alarm.cause for alarm in alarms]


def entry(number: int, deed: Deed, run_time: float, monotonic: float | None = None) -> Entry:
    """A deed as it stands in a log book."""
    stamp = Stamp(1.0e9 + run_time, run_time if monotonic is None else monotonic, run_time)
    return Entry(number, "desk-1", 1, deed, stamp, "", "")
