"""Limits of the signed sheet against what is read and estimated, flawed readings among it.

A flawed reading crosses no limit, but it never lowers an alarm either. What lies beyond all that
its sensor is believed, on the side on which the limit is, may be true danger: where no good
reading says otherwise it counts as beyond the limit. What is flawed in another way and lies beyond
the limit keeps the estimate from ending the alarm.
"""

from __future__ import annotations

from collections.abc import Iterator

from neckring.live.alarm_facts import ChannelNow, Facts, WearerNow
from neckring.live.alarm_holding import Condition, Holds, below, fresh, good, shown, shown_beyond
from neckring.live.alarm_list_limits import QUANTITY_WORDS, RANK_OF_ACTION, limit_code
from neckring.live.reading import Flaw
from neckring.station.limits import LIMITED, Limit

# How far within its limit a quantity must come back, by its dimension [SI]; practice.
DEAD_BANDS = {
    "temperature": 0.1,
    "temperature_difference": 0.1,
    "frequency": 3.0 / 60.0,
    "fraction": 0.002,
    "specific_energy": 100.0,
    "pressure": 50.0,
}
# How long a reading must be beyond its sensor's range to count [s]; practice: one may be a glitch.
OUT_OF_RANGE_HOLDS = 5.0
# The same gas, measured elsewhere in the helmet.
ALSO_READ_AS = {"inspired_co2": ("helmet_co2",), "inspired_o2": ("helmet_o2",)}
# A gas may truly be where another unit would explain it; a heart that beats 80 times a second not.
MAY_BE_TRUE = frozenset(ALSO_READ_AS)


def of_limits(facts: Facts, wearer: WearerNow) -> Iterator[Condition]:
    """Whether each signed limit is crossed, and whether a sensor is beyond its range on that side.

    Args:
        facts: Of the instant.
        wearer: Who.
    """
    for place, limit in enumerate(facts.sheet.limits):
        yield _of_limit(facts.run_time, wearer, limit, f"{place + 1}")
        channels = _channels(wearer, limit)
        if channels:
            yield _out_of_range(wearer, limit, channels, f"{place + 1} out of range")


def _of_limit(run_time: float, wearer: WearerNow, limit: Limit, stage: str) -> Condition:
    """One limit, held against good readings and against the middle of the estimate."""
    said = [(value, "read") for value in good(wearer, limit.quantity)]
    read = bool(said)
    estimate = fresh(run_time, wearer)
    if estimate is not None and limit.quantity in estimate.quantities:
        said.append((estimate.quantities[limit.quantity].middle, "estimated"))
    value = limit.value_at(wearer.age)
    sustained = limit.sustained.nominal if limit.sustained else 0.0
    judged = [(beyond(limit, value, number), number, how) for number, how in said]
    holds = _worst([holds for holds, _, _ in judged])
    if holds is Holds.NO and not read and _last_was_beyond(wearer, limit, value):
        # An estimate alone ends nothing that the last reading, flawed or old, still says.
        holds = Holds.NEAR
    words = _limit_words(limit, value, judged)
    return _condition(wearer, limit, words, holds, stage, sustained)


def _out_of_range(
    wearer: WearerNow, limit: Limit, channels: list[ChannelNow], stage: str
) -> Condition:
    """A sensor that says more than it can, or less, on the side on which the limit is."""
    all_hold = [_is_out_of_range(channel, limit) for channel in channels]
    holds = _worst(all_hold)
    if any(channel.reading is not None and channel.reading.good for channel in channels):
        holds = Holds.NO
    out = [c for c, one in zip(channels, all_hold, strict=True) if one is Holds.YES and c.reading]
    told = ", ".join(
        f"{shown(limit.quantity, c.reading.value)} from {c.name}" for c in out if c.reading
    )
    name, high = QUANTITY_WORDS[limit.quantity], "high" if limit.stop_if == "above" else "low"
    begun = f"{name[0].upper()}{name[1:]} beyond its sensor's range ({told or 'no more'})"
    words = f"{begun}: treat as {high}, {limit.action}"
    return _condition(wearer, limit, words, holds, stage, OUT_OF_RANGE_HOLDS)


def _condition(
    wearer: WearerNow, limit: Limit, words: str, holds: Holds, stage: str, waits: float
) -> Condition:
    code, rank = limit_code(limit.quantity), RANK_OF_ACTION[limit.action]
    return Condition(code, wearer.letter, "", rank, words, holds, stage=stage, waits=waits)


def _channels(wearer: WearerNow, limit: Limit) -> list[ChannelNow]:
    """The channels that measure what a limit is of."""
    names = (limit.quantity, *ALSO_READ_AS.get(limit.quantity, ()))
    return [channel for channel in wearer.channels if channel.quantity in names]


def _is_out_of_range(channel: ChannelNow, limit: Limit) -> Holds:
    """Whether a channel's reading is beyond its range on the limit's side."""
    reading, (low, high) = channel.reading, channel.range
    if reading is None or Flaw.STALE in reading.flaws:
        return Holds.UNKNOWN
    if reading.good:
        return Holds.NO
    out = reading.value > high if limit.stop_if == "above" else reading.value < low
    believed = Flaw.IMPOSSIBLE in reading.flaws or (
        Flaw.UNIT in reading.flaws and limit.quantity in MAY_BE_TRUE
    )
    return Holds.YES if out and believed else Holds.NEAR


def _last_was_beyond(wearer: WearerNow, limit: Limit, value: float) -> bool:
    return any(
        channel.reading is not None and beyond(limit, value, channel.reading.value) is not Holds.NO
        for channel in wearer.channels
        if channel.quantity == limit.quantity
    )


def beyond(limit: Limit, value: float, number: float) -> Holds:
    """Whether a number is beyond a limit; NEAR within its dead band.

    Args:
        limit: Its side and its quantity count.
        value: Of the limit at the wearer's age [SI].
        number: Read or estimated [SI].
    """
    sign = 1.0 if limit.stop_if == "above" else -1.0
    excess = sign * (number - value)
    band = DEAD_BANDS[LIMITED[limit.quantity].dimension]
    return below(-excess, 0.0, band)


def _worst(all_hold: list[Holds]) -> Holds:
    if not all_hold:
        return Holds.UNKNOWN
    return next(holds for holds in Holds if holds in all_hold)


def _limit_words(limit: Limit, value: float, judged: list[tuple[Holds, float, str]]) -> str:
    crossed = [(number, how) for holds, number, how in judged if holds is Holds.YES]
    name = QUANTITY_WORDS[limit.quantity]
    told = ", ".join(
        f"{shown_beyond(limit.quantity, number, value)} {how}" for number, how in crossed
    )
    long = f" for {limit.sustained.text}" if limit.sustained and limit.sustained.nominal else ""
    bound = f"{limit.stop_if} the signed {shown(limit.quantity, value)}{long}"
    begun = f"{name[0].upper()}{name[1:]}"
    return (
        f"{begun} {told}, {bound}: {limit.action}" if told else f"{begun} {bound}: {limit.action}"
    )
