"""Ways in which a sensor can be wrong and still say what may be: what it says in each of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from hidden_worlds import MINUTE, Says

from neckring.live.sensors.channels import Channel, channel_of
from neckring.live.simulated_suit import in_unit
from neckring.live.truth import USUAL_ACCURACY
from neckring.station.sensing import Sensor
from neckring.station.ucum import CODES, codes_of
from neckring.units import parse_quantity

BEGINS = 24.0 * MINUTE

# In accuracies, one standard deviation of the sensor's stated error. For the heart rate (3 a
# minute) an offset of 12 is 36 beats a minute, for a temperature 3.6 K, for the flow 0.36 L/min,
# for carbon dioxide 0.72 kPa, for the voltage 0.6 V.
SMALL, LARGE = 4.0, 12.0
FAST_A_MINUTE, SLOW_A_MINUTE = 1.5, 0.25

UNITS = {
    "heart_rate": "/min",
    "water_inlet_temperature": "Cel",
    "water_outlet_temperature": "Cel",
    "water_flow": "L/min",
    "helmet_co2": "kPa",
    "battery_voltage": "V",
    "pump_pressure": "kPa",
    "garment_pressure": "kPa",
}


@dataclass(frozen=True)
class Wrong:
    """One way.

    Attributes:
        quantity: Of the sensor.
        way: In words.
        begins: Run time [s]; nought for what was wrong from the start.
        made: Makes what it says; called once for each world.
    """

    quantity: str
    way: str
    begins: float
    made: Callable[[], Says]


def channel(quantity: str) -> Channel:
    """A sensor of a quantity of which a suit's file says nothing but what it must."""
    unit = CODES[UNITS[quantity]]
    every = parse_quantity("1 s", "time")
    return channel_of(Sensor(channel="one", measures=quantity, unit=unit, every=every))


def ways(quantity: str) -> tuple[Wrong, ...]:
    """All ways in which one sensor can be wrong, from minute 24 on or from the start."""
    one = USUAL_ACCURACY[quantity]

    def later(way: str, made: Callable[[], Says]) -> Wrong:
        return Wrong(quantity, way, BEGINS, made)

    found = [later("stuck", stuck)]
    for size in (SMALL, -SMALL, LARGE, -LARGE):
        found.append(later(f"offset by {size:+g} accuracies", lambda s=size: offset(s * one)))
    for pace in (FAST_A_MINUTE, -FAST_A_MINUTE):
        found.append(later(f"drifts by {pace:+g} a minute", lambda p=pace: drifts(p * one, BEGINS)))
    found.append(later(f"noise of {LARGE:g} accuracies", lambda: noisy(LARGE * one)))
    for pace in (SLOW_A_MINUTE, -SLOW_A_MINUTE):
        way = f"drifts from the start by {pace:+g} a minute"
        found.append(Wrong(quantity, way, 0.0, lambda p=pace: drifts(p * one, 0.0)))
    return tuple(found)


def slips(quantity: str, usual: float) -> tuple[Wrong, ...]:
    """Every slip between two units after which a usual value is still plausible."""
    expected, found = channel(quantity).expected, {}
    codes = codes_of(channel(quantity).dimension)
    for sent in codes:
        for taken in codes:
            value = CODES[taken].to_si(in_unit(CODES[sent], usual))
            moved = abs(value - usual) > expected.accuracy
            key = float(f"{value / usual:.3g}")
            if moved and expected.is_plausible(value) and key not in found:
                way = f"sent in {sent}, taken as {taken}"
                found[key] = Wrong(
                    quantity, way, 0.0, lambda s=sent, t=taken: slipped(quantity, s, t)
                )
    return tuple(found.values())


def stuck() -> Says:
    """The first figure for ever."""
    first: list[float] = []

    def says(_time: float, said: float) -> float:
        first.append(said)
        return first[0]

    return says


def offset(amount: float) -> Says:
    """Always so much more."""
    return lambda _time, said: said + amount


def drifts(each_minute: float, since: float) -> Says:
    """More from minute to minute."""
    return lambda time, said: said + each_minute * (time - since) / MINUTE


def noisy(spread: float) -> Says:
    """Something around what is."""
    draw = np.random.default_rng(11)
    return lambda _time, said: said + spread * draw.standard_normal()


def slipped(quantity: str, sent: str, taken: str) -> Says:
    """The figure of one unit read in another."""
    return lambda _time, said: CODES[taken].to_si(in_unit(CODES[sent], said))


def as_passed_on(quantity: str, says: Says) -> Says:
    """What is left of it where readings come in: nothing of what is not plausible.

    Sensors are read here once in a round; that they jump or are frozen is told from readings each
    second, and is not asked for: the estimate has to bear what is wrong without.
    """
    expected = channel(quantity).expected

    def passed(time: float, said: float) -> float:
        value = says(time, said)
        return value if expected.is_plausible(value) else math.nan

    return passed
