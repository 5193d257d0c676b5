"""Carbon dioxide that rises in the helmet: when it would pass the signed stop at this rise."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

from neckring.live.alarm_facts import Facts, WearerNow
from neckring.live.alarm_holding import Condition, Holds, below, good, listed
from neckring.station.limits import LimitSheet

Trend: TypeAlias = tuple[tuple[float, float], ...]
"""Run time [s] and value [Pa], the oldest first."""

# How far back a trend looks, how far apart its points are, and over how long at least; practice.
SPAN, APART, LEAST_SPAN = 90.0, 5.0, 30.0
# Less than so long until the signed stop raises, more than so long ends; practice [s].
RAISES, ENDS = 120.0, 180.0
GASES = ("inspired_co2", "helmet_co2")


def grown(trends: Mapping[str, Trend], facts: Facts) -> dict[str, Trend]:
    """The trends with what is read now; bounded, however often it is asked.

    Args:
        trends: By wearer.
        facts: Of the instant.
    """
    return {
        wearer.letter: _grown(trends.get(wearer.letter, ()), facts.run_time, wearer)
        for wearer in facts.wearers
    }


def _grown(trend: Trend, now: float, wearer: WearerNow) -> Trend:
    kept = tuple(point for point in trend if now - point[0] <= SPAN)
    read = _read(wearer)
    if read is None or (kept and now - kept[-1][0] < APART):
        return kept
    return (*kept, (now, read))


def _read(wearer: WearerNow) -> float | None:
    return next((max(read) for gas in GASES if (read := good(wearer, gas))), None)


def slope(trend: Trend) -> float:
    """Rise by least squares [Pa/s]; 0 while the trend is too short to say."""
    if len(trend) < 3 or trend[-1][0] - trend[0][0] < LEAST_SPAN:
        return 0.0
    middle = sum(time for time, _ in trend) / len(trend)
    mean = sum(value for _, value in trend) / len(trend)
    spread = sum((time - middle) ** 2 for time, _ in trend)
    return sum((time - middle) * (value - mean) for time, value in trend) / spread


def co2_condition(trend: Trend, sheet: LimitSheet, wearer: WearerNow) -> Condition:
    """Whether the rise leads beyond the signed stop soon; never without a signed stop.

    Args:
        trend: Of the wearer.
        sheet: The signed limits.
        wearer: Whose.
    """
    stops = [
        limit.value_at(wearer.age)
        for limit in sheet.limits
        if (limit.quantity, limit.action, limit.stop_if) == ("inspired_co2", "stop now", "above")
    ]
    if not stops:
        return listed("co2-trend", Holds.NO, "No stop is signed for CO2", wearer.letter)
    if _read(wearer) is None or len(trend) < 3:
        return listed("co2-trend", Holds.UNKNOWN, "No CO2 is read", wearer.letter)
    rise, left = slope(trend), min(stops) - trend[-1][1]
    until = left / rise if rise > 0.0 else float("inf")
    words = "Helmet CO2 rises: the signed stop is less than 2 min away"
    return listed("co2-trend", below(until, RAISES, ENDS), words, wearer.letter)
