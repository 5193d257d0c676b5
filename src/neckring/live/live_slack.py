"""What a look ahead found, as it is shown: bands, slack of every failure, what binds."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from neckring.live.estimated import Band, LiveSlack
from neckring.live.look_ahead_live import (
    LookedAhead,
    relief_of,
)
from neckring.outing.branches import Clocks
from neckring.outing.failures import FAILURES
from neckring.outing.watching import AIR, HEAT

FloatArray = NDArray[np.float64]


SHARES = (0.05, 0.5, 0.95)


def spread_band(values: FloatArray) -> Band:
    """Band of members that all weigh the same.

    The k-th of n sorted values has k / (n + 1) of the belief below it.

    Source: definition 6 of Hyndman and Fan 1996, The American Statistician 50:361.
    """
    found = np.sort(values)
    count = len(found)
    ends = []
    for share in SHARES:
        place = float(np.clip(share * (count + 1) - 1.0, 0.0, count - 1.0))
        low, high = found[int(place)], found[math.ceil(place)]
        part = place - int(place)
        ends.append(float(low if low == high or part == 0.0 else low + part * (high - low)))
    return Band(*ends)


def turn_back_band(looked: LookedAhead, now: float) -> Band | None:
    """Band of the turn-back time; None when it is too late already for most of the belief.

    Back at the bay for good nobody has to turn: then it is infinite.
    """
    if looked.home <= now:
        return Band(math.inf, math.inf, math.inf)
    return None if looked.lost.mean() > 0.5 else spread_band(looked.turn_back)


def live_slacks(
    looked: LookedAhead, limits: tuple[object, ...], reserves: FloatArray
) -> tuple[LiveSlack, ...]:
    """Every failure that can happen now, the least slack beyond its reserve first."""
    made = []
    for failure in FAILURES:
        if failure.code in looked.now:
            clocks = looked.now[failure.code]
            relief = tighter(clocks, reserves)
            made.append(_live_slack(looked, failure.code, clocks, relief, limits, reserves))
    return tuple(sorted(made, key=lambda s: (s.slack.low - s.reserve, s.slack.middle - s.reserve)))


def tighter(clocks: Clocks, reserves: FloatArray) -> int:
    """Which relief comes nearer to its reserve: of the air or of the rest."""
    margin = np.sort(clocks.margin(reserves)[:, 0], axis=1)
    low = margin[:, int(0.05 * margin.shape[1])]
    return AIR if low[AIR] < low[HEAT] else HEAT


def _live_slack(
    looked: LookedAhead,
    code: str,
    clocks: Clocks,
    relief: int,
    limits: tuple[object, ...],
    reserves: FloatArray,
) -> LiveSlack:
    failure = next(f for f in FAILURES if f.code == code)
    return LiveSlack(
        code=code,
        words=failure.words,
        harm=spread_band(clocks.harm[relief, 0]),
        help=spread_band(clocks.help[relief, 0]),
        slack=spread_band(clocks.slack()[relief, 0]),
        reserve=float(reserves[relief]),
        limit=_limit(clocks, relief, limits),
        relief=relief_of(looked.scenario, failure, relief),
    )


def _limit(clocks: Clocks, relief: int, limits: tuple[object, ...]) -> str:
    """Quantity of the limit that most members cross first; empty when none does."""
    numbers = clocks.limit[relief, 0]
    crossed = numbers[numbers >= 0]
    if not len(crossed):
        return ""
    return str(getattr(limits[int(np.bincount(crossed).argmax())], "quantity", ""))


def binding_words(looked: LookedAhead, limits: tuple[object, ...], reserves: FloatArray) -> str:
    """Which failure and limit binds, in words."""
    binds = [code for code in looked.binds if code]
    found = live_slacks(looked, limits, reserves)
    if binds:
        code = max(sorted(set(binds)), key=binds.count)
        failure = next(f for f in FAILURES if f.code == code)
        limit = next((slack.limit for slack in found if slack.code == code), "")
        what = limit.replace("_", " ").replace("co2", "CO2").replace("o2", "O2")
        return f"if {failure.words}" + (f": {what}" if what else "")
    return "nothing that fails leaves less than its reserve until the planned return"
