"""Particles: weighted members, some of them kept as scouts in every fault.

Faults are rare and a cloud that holds none cannot find one. So every fault keeps its own scouts,
with the small weight that it deserves: a mixture of clouds, each thinned out by itself, with a
hazard that feeds each fault from the sound and a rate at which faults end.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from neckring.live.fault_modes import MODES, SOUND
from neckring.live.hidden_values import work_after
from neckring.live.likelihood import QUANTITIES, Belief, Measured, readings
from neckring.live.members import Members
from neckring.live.resampling import (
    Chosen,
    all_of,
    effective,
    entries,
    evenly,
    scaled,
    sizes,
    systematic,
)
from neckring.outing.spells import Leg

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MINUTE = 60.0
# Chance of each fault in a minute, and that it ends (assumed): one in some eighty hours, and
# within some twenty minutes. Rarer would be named later, more often would be falsely feared.
HAZARD = 2e-4
ENDS = 0.03
FRESH = 0.25
# A cloud is thinned out when its effective number falls below this share.
THIN = 0.5
# Between two stages it is below this one, and in at most so many stages readings are heard, the
# step of each found by so many halvings.
THICK = 0.6
STAGES = 12
HALVINGS = 12
# Width of the noise put to a thinned cloud, in its own spread, and of how many differences it is
# made; and of that put to a fault's severity. Wide, since few of many survive a reading that says
# much, and their descendants must not stay alike: chosen on hidden worlds, see docs/estimate.md.
JITTER = 0.8
MOST_WIDENED = 1.15
PARTNERS = 128
SEVERITY_JITTER = 0.05


class Particles:
    """A weighted cloud.

    Attributes:
        members: The particles.
        belief: What each believes of each sensor.
        weights: Adding up to 1.
    """

    def __init__(self, members: Members, seed: int) -> None:
        self.members = members
        self.belief = Belief.at_first(members.count)
        self.weights = np.full(members.count, 1.0 / members.count)
        self._seed = seed
        self._round = 0

    def generator(self, purpose: int = 0) -> np.random.Generator:
        """Random numbers of this round, for one purpose: the same whenever it is asked again."""
        return np.random.default_rng((self._seed, self._round, purpose))

    def masses(self) -> FloatArray:
        """Belief in each mode, shape (modes,)."""
        mode = self.members.carried.mode
        return np.bincount(mode, self.weights, len(MODES)).astype(np.float64)

    def pass_time(self, seconds: float) -> None:
        """Before the members are advanced: faults begin and end, work wanders."""
        self._round += 1
        draw = self.generator()
        self._change_modes(seconds / MINUTE, draw)
        carried = self.members.carried
        carried.work = work_after(carried.work, seconds, draw.standard_normal(len(carried.work)))
        self.belief.wait(seconds)
        self.members.renew()

    def hear(self, measured: Measured, leg: Leg, temper: float) -> None:
        """Weigh all particles by how well they explain the readings.

        It is done in stages of which none leaves too few: each counts the readings a little more,
        and between two the cloud is thinned out and smoothed.

        Args:
            measured: Quantity to value and accuracy; only what has a meaning now.
            leg: What is being done.
            temper: How much the readings count, 1 for all that they say.

        Source: tempering as in annealed importance sampling (Neal 2001, Stat Comput 11:125), the
            stages chosen by the effective number (Del Moral, Doucet and Jasra 2012, Stat Comput
            22:1009).
        """
        draw = self.generator(purpose=2)
        left = temper
        for stage in range(STAGES):
            logs = self._explained(measured, leg)
            step = left if stage == STAGES - 1 else self._stage(logs, left)
            self.weights = scaled(self.weights, step * logs)
            left -= step
            if left <= 1e-9:
                break
            self._thin(draw)
        expected = readings(self.members, leg)
        for name, reading in measured.items():
            self.belief.learn(name, expected[name], reading, self.weights)

    def _explained(self, measured: Measured, leg: Leg) -> FloatArray:
        expected = readings(self.members, leg)
        total = np.zeros(self.members.count)
        for name, reading in measured.items():
            total += self.belief.explained(name, expected[name], reading, self.weights)[0]
        return total

    def _stage(self, logs: FloatArray, left: float) -> float:
        """How much more the readings may count before the heaviest cloud grows too thin."""
        if self._thickness(logs, left) >= THIN:
            return left
        low, high = 0.0, left
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            if self._thickness(logs, middle) >= THIN:
                low = middle
            else:
                high = middle
        return max(low, left * 0.5**HALVINGS)

    def _thickness(self, logs: FloatArray, step: float) -> float:
        """Effective share of the cloud that would be the heaviest."""
        weights = scaled(self.weights, step * logs)
        mode = self.members.carried.mode
        heaviest = int(np.bincount(mode, weights, len(MODES)).argmax())
        there = weights[mode == heaviest]
        return effective(there) / len(there)

    def _thin(self, draw: np.random.Generator) -> None:
        """Thin all clouds out to the sizes that their weight asks for."""
        mass = self.masses()
        wanted = sizes(mass, self.members.count)
        parts = [
            self._kept(mode, int(wanted[mode]), float(mass[mode]), draw, THICK)
            for mode in range(len(MODES))
        ]
        self._settle(all_of(parts), draw)

    def _change_modes(self, minutes: float, draw: np.random.Generator) -> None:
        begins, ends = 1.0 - (1.0 - HAZARD) ** minutes, 1.0 - (1.0 - ENDS) ** minutes
        mass = self.masses()
        faults = len(MODES) - 1
        coming = np.concatenate(
            [
                [mass[SOUND] * (1.0 - faults * begins) + ends * mass[1:].sum()],
                mass[1:] * (1.0 - ends) + mass[SOUND] * begins,
            ]
        )
        wanted = sizes(coming, self.members.count)
        parts = [self._sound(wanted[SOUND], mass, begins, ends, draw)]
        parts += [
            self._fault(mode, int(wanted[mode]), mass, begins, ends, draw)
            for mode in range(1, len(MODES))
        ]
        self._settle(all_of(parts), draw)

    def _sound(
        self, count: int, mass: FloatArray, begins: float, ends: float, draw: np.random.Generator
    ) -> Chosen:
        """The sound: those who were, and those whose fault has ended."""
        mode, weights = self.members.carried.mode, self.weights
        faulty = mode != SOUND
        back = ends * float(mass[1:].sum())
        stay = float(mass[SOUND]) * (1.0 - (len(MODES) - 1) * begins)
        returning = math.ceil(count * back / (stay + back)) if back > 1e-3 * stay else 0
        returning = min(returning, count // 2)
        old = self._kept(SOUND, count - returning, stay if returning else stay + back, draw)
        if not returning:
            return old
        source = systematic(np.where(faulty, weights, 0.0), returning, draw.random())
        new = entries(source, SOUND, back / returning, True)
        return all_of([old, new])

    def _fault(
        self,
        mode: int,
        count: int,
        mass: FloatArray,
        begins: float,
        ends: float,
        draw: np.random.Generator,
    ) -> Chosen:
        """A fault: those who have it still, and those whom it has just befallen."""
        sound = np.where(self.members.carried.mode == SOUND, self.weights, 0.0)
        there = self._of(mode)
        befallen = max(1, int(FRESH * count)) if len(there) else count
        new_weight = float(mass[SOUND]) * begins / befallen
        if sound.sum() > 0.0:
            source = systematic(sound, befallen, draw.random())
        else:
            source = np.full(befallen, int(self.weights.argmax()))
        new = entries(source, mode, new_weight, True)
        if befallen == count:
            return new
        old = self._kept(mode, count - befallen, float(mass[mode]) * (1.0 - ends), draw)
        return all_of([old, new])

    def _of(self, mode: int) -> IntArray:
        return np.flatnonzero(self.members.carried.mode == mode)

    def _kept(
        self,
        mode: int,
        count: int,
        total: float,
        draw: np.random.Generator,
        thin: float = THIN,
    ) -> Chosen:
        """Those of one mode as they are, or thinned out to so many of equal weight."""
        there = self._of(mode)
        weights = self.weights[there]
        if not len(there) or weights.sum() <= 0.0:
            source = there if len(there) else np.array([int(self.weights.argmax())])
            return entries(np.resize(source, count), mode, total / count, False)
        if len(there) == count and effective(weights) >= thin * count:
            heavy = weights * (total / weights.sum())
            as_before = np.zeros(count, dtype=bool)
            return Chosen(there, np.full(count, mode), heavy, as_before, as_before)
        source = there[systematic(weights, count, draw.random())]
        return entries(source, mode, total / count, False, True)

    def _settle(self, chosen: Chosen, draw: np.random.Generator) -> None:
        """Move copies into the places of those who are gone; whoever stays keeps the own place."""
        count = self.members.count
        carried = self.members.carried
        stays = ~chosen.fresh & (carried.mode[chosen.source] == chosen.mode)
        slot = np.full(count, -1, dtype=np.int64)
        owners, first = np.unique(np.where(stays, chosen.source, -1), return_index=True)
        own = owners >= 0
        slot[first[own]] = owners[own]
        free = np.setdiff1d(np.arange(count), slot[slot >= 0])
        copies = np.flatnonzero(slot < 0)
        slot[copies] = free
        source = chosen.source[copies]
        self.members.move(free, source)
        self.belief.move(free, source)
        self.weights[slot] = chosen.weight
        self.weights /= self.weights.sum()
        begun = chosen.fresh[copies] & (chosen.mode[copies] != SOUND)
        carried.mode[slot] = chosen.mode
        carried.severity[free[begun]] = evenly(chosen.mode[copies[begun]], draw)
        self._smooth(np.sort(slot[chosen.thinned]), draw)

    def _vector(self, chosen: IntArray) -> FloatArray:
        """All that particles believe of their sensors, hold and carry."""
        return np.concatenate([self.belief.offset[chosen], self.members.vector(chosen)], axis=1)

    def _lost_spread(self, partners: IntArray) -> float:
        """How much wider the cloud must be made.

        Doubts that no reading tells anything of keep the spread they were drawn with, 1, but for
        what few particles lose by chance; and all others lose as much.

        Source: dummy parameters as the measure of lost variance, Lacerda, Emerick and Pires 2019,
            J Petrol Sci Eng 172:690 (from memory).
        """
        scores = self.members.carried.scores[partners][:, self.members.suited.doubts.untold]
        if not scores.size:
            return 1.0
        return float(np.clip(1.0 / math.sqrt(float(scores.var(axis=0).mean())), 1.0, MOST_WIDENED))

    def _smooth(self, thinned: IntArray, draw: np.random.Generator) -> None:
        """Noise on all that those in a thinned cloud hold and carry, mode by mode.

        It is made of the differences between particles, so that what belongs together stays
        together; and all are drawn in, so that a cloud keeps its mean and covariance.

        Source: regularised particle filter, Musso, Oudjane and Le Gland 2001, in Doucet et al.,
            Sequential Monte Carlo Methods in Practice, chapter 12; shrinkage, Liu and West 2001,
            ibid., chapter 10.
        """
        carried, weights = self.members.carried, self.weights
        for mode in np.unique(carried.mode[thinned]):
            mine = thinned[carried.mode[thinned] == mode]
            there = np.where(carried.mode == mode, weights, 0.0)
            if effective(there) < PARTNERS // 4:
                there = weights
            partners = systematic(there, PARTNERS, draw.random())
            cloud = self._vector(partners)
            mean = cloud.mean(axis=0)
            mixing = draw.standard_normal((len(mine), PARTNERS)) / math.sqrt(PARTNERS)
            kept = math.sqrt(1.0 - JITTER**2)
            away = kept * (self._vector(mine) - mean) + JITTER * mixing @ (cloud - mean)
            moved = mean + self._lost_spread(partners) * away
            self.members.put_vector(mine, moved[:, len(QUANTITIES) :])
            self.belief.offset[mine] = moved[:, : len(QUANTITIES)]
        faulty = carried.mode[thinned] != SOUND
        severity = carried.severity[thinned] + SEVERITY_JITTER * draw.standard_normal(len(thinned))
        carried.severity[thinned] = np.where(faulty, np.clip(severity, 0.0, 1.0), 0.0)
