"""What nobody can read off a gauge, and what is learned of it as the run goes.

Every doubt that a plan draws, and a few that only show in a run, is carried as a normal score: 0
is its median, 1 one standard deviation above. So noise put to it stays inside what the station's
files accept, and its spread before the first reading is that of the plan.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from neckring.outing.draws import Dimension, dimensions, drawn
from neckring.outing.scenario import Scenario

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# Work factor: spread of its logarithm, and how long it takes to change [s]; both assumed.
WORK_SPREAD = 0.12
WORK_LASTS = 1800.0
# What one pump, fan or battery differs from its data sheet: spread of the logarithm; assumed.
OWN_SPREADS = {"water_flow_factor": 0.04, "air_flow_factor": 0.05, "battery_factor": 0.06}
# Quantities that no reading during a run tells anything of.
UNTOLD = ("suit.help.", "run.help.", "suit.speed_factor", "station.paths.length")
# What the body is made of is fitted once and not moved after.
FITTED = ("wearer.height", "wearer.mass", "wearer.body_fat", "wearer.age")


@dataclass(frozen=True, eq=False)
class Doubts:
    """All that differs between members, column by column.

    Attributes:
        scenario: As written, one member.
        of: The plan's dimensions.
    """

    scenario: Scenario
    of: tuple[Dimension, ...]

    @property
    def columns(self) -> int:
        """How many there are, with those that only show in a run."""
        return len(self.of) + len(OWN_SPREADS)

    @cached_property
    def untold(self) -> BoolArray:
        """Which columns no reading tells anything of."""
        own = [False] * len(OWN_SPREADS)
        return np.array([d.key.startswith(UNTOLD) for d in self.of] + own)

    @cached_property
    def moved(self) -> BoolArray:
        """Which columns may be moved after a member has been made."""
        own = [True] * len(OWN_SPREADS)
        return np.array([d.key not in FITTED for d in self.of] + own)

    def scores(self, shares: FloatArray) -> FloatArray:
        """Normal scores of shares strictly between 0 and 1, same shape (members, columns)."""
        from scipy.special import ndtri

        return np.asarray(ndtri(np.clip(shares, 1e-9, 1.0 - 1e-9)))

    def drawn(self, scores: FloatArray) -> Scenario:
        """The scenario with a member for each row of scores."""
        from scipy.special import ndtr

        return drawn(self.scenario, np.asarray(ndtr(scores[:, : len(self.of)])))

    def own(self, scores: FloatArray) -> dict[str, FloatArray]:
        """Factors of pump, fan and battery on their data sheet, shape (members,) each."""
        columns = scores[:, len(self.of) :].T
        return {
            name: np.exp(spread * column)
            for (name, spread), column in zip(OWN_SPREADS.items(), columns, strict=True)
        }


def doubts_of(scenario: Scenario) -> Doubts:
    """The doubts of a scenario."""
    return Doubts(scenario, dimensions(scenario))


def work_after(work: FloatArray, seconds: float, noise: FloatArray) -> FloatArray:
    """Logarithm of the work factor after a while: it wanders, and comes back to nought.

    Args:
        work: Now, shape (members,).
        seconds: How long.
        noise: Standard normal, same shape.

    Source: exact step of the Ornstein-Uhlenbeck process (Gillespie 1996, Phys Rev E 54:2084).
    """
    kept = math.exp(-seconds / WORK_LASTS)
    return kept * work + WORK_SPREAD * math.sqrt(1.0 - kept * kept) * noise
