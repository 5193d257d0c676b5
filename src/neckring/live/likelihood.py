"""How well members explain what the sensors say, and how far each sensor can be believed.

A reading is what is true, plus an offset that stays for hours, plus noise. Each member learns the
offset of each sensor (a Kalman filter of one number); and each holds it possible that the sensor
is wrong from some moment on and says nothing any more (a hidden Markov chain of two states, summed
over exactly). So a wrong reading weighs all members alike and drags none of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.constants import WATER_DENSITY
from neckring.lanes import CORE, LANES
from neckring.live.members import Members
from neckring.outing.spells import Leg

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Measured = Mapping[str, tuple[float, float]]
"""Quantity to its value and accuracy (one standard deviation of all its error), SI."""

# All assumed: share of a sensor's error that stays as an offset, and for how long [s];
# chance that it goes wrong in a minute, and that it comes back.
OFFSET_SHARE = 0.5
OFFSET_LASTS = 4.0 * 3600.0
GOES_WRONG = 5e-4
COMES_BACK = 0.02
WRONG_AT_FIRST = 0.01
# A wrong sensor says anything within so many accuracies of what is expected, and beyond.
WRONG_SCALE = 10.0
# A sensor, and the way from where the model computes to where it sits, lag by about so long [s].
LAG = 10.0
# Flow below which what stands in the water is no reading of the water that cools [m3/s].
STANDING = 1e-7
MINUTE = 60.0

PELVIS = 4


def _core(members: Members) -> FloatArray:
    view = members.batch.state[:, PELVIS, CORE : CORE + LANES]
    return np.asarray(view.reshape(-1)[: members.count])


def _helmet_co2(members: Members) -> FloatArray:
    pressure = members.suited.pressure
    return members.read("HELMET_CO2") * (pressure - members.read("INSPIRED_WATER_PRESSURE"))


def _flow(members: Members) -> FloatArray:
    return members.read("WATER_FLOW") / WATER_DENSITY


READ: dict[str, Callable[[Members], FloatArray]] = {
    "heart_rate": lambda m: m.read("HEART_RATE"),
    "core_temperature": _core,
    "mean_skin_temperature": lambda m: m.read("MEAN_SKIN"),
    "water_inlet_temperature": lambda m: m.read("INLET_WATER"),
    "water_outlet_temperature": lambda m: m.read("RETURN_WATER"),
    "reservoir_temperature": lambda m: m.read("RESERVOIR"),
    "water_flow": _flow,
    "helmet_co2": _helmet_co2,
    "inspired_co2": lambda m: m.read("INSPIRED_CO2"),
    "inspired_o2": lambda m: m.read("INSPIRED_O2"),
    "helmet_temperature": lambda m: m.read("HELMET_TEMPERATURE"),
    "battery_voltage": lambda m: m.read("VOLTAGE"),
    "battery_charge": lambda m: m.read("CHARGE"),
}
PRESSURES = ("pump_pressure", "garment_pressure")
QUANTITIES = (*READ, *PRESSURES)
"""What can be weighed; other readings are shown and say nothing to the estimate."""
OF_WATER = frozenset({"water_inlet_temperature", "water_outlet_temperature", *PRESSURES})
OF_HELMET = frozenset({"helmet_co2", "inspired_co2", "inspired_o2", "helmet_temperature"})


def readings(members: Members, leg: Leg) -> dict[str, FloatArray]:
    """What every sensor would show without error, shape (members,) each.

    Without what has no meaning now: of standing water, of an open helmet, of a pump not in use.
    """
    flow = _flow(members)
    shown = {name: read(members) for name, read in READ.items()}
    if leg.spell.cooling == "pack":
        shown |= _pressures(members, leg, flow)
    if leg.spell.cooling == "none" or float(np.median(flow)) <= STANDING:
        shown = {name: values for name, values in shown.items() if name not in OF_WATER}
    if not leg.spell.helmet_on:
        shown = {name: values for name, values in shown.items() if name not in OF_HELMET}
    return shown


def _pressures(members: Members, leg: Leg, flow: FloatArray) -> dict[str, FloatArray]:
    """Pressures of the loop as its faults leave them; nought where the water stands."""
    table, carried = members.suited.loop.table(leg.spell.valve), members.carried
    water = members.read("RESERVOIR")
    runs = flow > STANDING
    found = {}
    for name, values in (("pump_pressure", table.pump), ("garment_pressure", table.garment)):
        solved = table.at(values, carried.mode, carried.severity, water)
        found[name] = np.where(runs, solved, 0.0)
    return found


@dataclass
class Belief:
    """What each member believes of each sensor.

    Attributes:
        offset: Expected offset, in accuracies, shape (members, quantities).
        doubt: Variance of the offset, in squared accuracies, shape (quantities,).
        good: Chance that the sensor is right, shape (members, quantities).
        lagging: Error of a reading of what changes fast, in accuracies, shape (quantities,).
    """

    offset: FloatArray
    doubt: FloatArray
    good: FloatArray
    lagging: FloatArray

    @classmethod
    def at_first(cls, members: int) -> Belief:
        """Before the first reading."""
        shape = (members, len(QUANTITIES))
        doubt = np.full(len(QUANTITIES), OFFSET_SHARE)
        steady = np.zeros(len(QUANTITIES))
        return cls(np.zeros(shape), doubt, np.full(shape, 1.0 - WRONG_AT_FIRST), steady)

    def move(self, where: IntArray, source: IntArray) -> None:
        """Copy what some members believe to others."""
        self.offset[where] = self.offset[source]
        self.good[where] = self.good[source]

    def wait(self, seconds: float) -> None:
        """Let time pass: sensors go wrong and come back, offsets are a little less known."""
        minutes = seconds / MINUTE
        wrong, back = 1.0 - (1.0 - GOES_WRONG) ** minutes, 1.0 - (1.0 - COMES_BACK) ** minutes
        self.good = self.good * (1.0 - wrong) + (1.0 - self.good) * back
        forgotten = 1.0 - math.exp(-seconds / OFFSET_LASTS)
        self.doubt += (OFFSET_SHARE - self.doubt) * forgotten

    def changes(self, name: str, rate: float, accuracy: float) -> None:
        """Note how fast a quantity changes: its next reading errs by as much as it lags.

        Args:
            name: Quantity.
            rate: [SI a second], either sign.
            accuracy: Of its sensor.
        """
        self.lagging[QUANTITIES.index(name)] = LAG * abs(rate) / accuracy

    def _noise(self, place: int) -> float:
        """Variance of a reading around what is true and its offset, in squared accuracies."""
        return 1.0 - OFFSET_SHARE + float(self.lagging[place]) ** 2

    def explained(
        self, name: str, expected: FloatArray, reading: tuple[float, float], weights: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Logarithm of each member's likelihood of one reading, and its trust in the sensor then.

        Args:
            name: Quantity.
            expected: Without error, shape (members,).
            reading: Value and accuracy.
            weights: Of the members, adding up to 1.

        Source: forward filter of a hidden Markov chain (Rabiner 1989, Proc IEEE 77:257).
        """
        place = QUANTITIES.index(name)
        value, accuracy = reading
        innovation = (value - expected) / accuracy - self.offset[:, place]
        spread = self.doubt[place] + self._noise(place)
        right = np.exp(-0.5 * innovation**2 / spread) / math.sqrt(2.0 * math.pi * spread)
        # Where anything may be said, it is said around what all members together expect.
        middle = weighted_quantile(innovation, weights, 0.5)
        wrong = 1.0 / (math.pi * WRONG_SCALE * (1.0 + (middle / WRONG_SCALE) ** 2))
        good = self.good[:, place]
        total = good * right + (1.0 - good) * wrong
        return np.log(total), good * right / total

    def learn(
        self, name: str, expected: FloatArray, reading: tuple[float, float], weights: FloatArray
    ) -> None:
        """What each member knows of the sensor once the reading has been heard.

        Args: as in `explained`.

        Source: one-dimensional Kalman filter (Kalman 1960, J Basic Eng 82:35).
        """
        place = QUANTITIES.index(name)
        value, accuracy = reading
        _, sure = self.explained(name, expected, reading, weights)
        innovation = (value - expected) / accuracy - self.offset[:, place]
        gain = self.doubt[place] / (self.doubt[place] + self._noise(place))
        self.offset[:, place] += sure * gain * innovation
        self.doubt[place] *= 1.0 - gain * float(weights @ sure)
        self.good[:, place] = sure


def weighted_quantile(values: FloatArray, weights: FloatArray, share: float) -> float:
    """Value below which so much of the weight lies."""
    order = np.argsort(values, kind="stable")
    added = np.cumsum(weights[order])
    place = int(np.searchsorted(added, share * added[-1]))
    return float(values[order[min(place, len(order) - 1)]])
