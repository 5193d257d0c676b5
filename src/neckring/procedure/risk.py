"""How likely each way to harm is: a rank and an order of magnitude, never one bare number.

Rows of the same table are doubted together: if people in suits leave out more steps than operators
did, they do so everywhere. So a doubt never cancels out in a sum. Equipment failures carry no
probability: what follows them is told as "given" the failure.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from statistics import NormalDist

import numpy as np

from neckring.procedure.fitting_rows import (
    Circumstances,
    Factor,
    Slip,
    SlipKind,
    failures_in_a_row,
)
from neckring.procedure.human_error import (
    ERROR_ROWS,
    JOINT_FLOOR,
    Dependence,
    ErrorRow,
    Lognormal,
    given_failure,
)
from neckring.procedure.steps import Procedure
from neckring.values import FloatArray

DRAWN = 9_999
"""Values drawn for each row. Odd, so that the middle one is the median."""

LOW_SHARE, HIGH_SHARE = 0.05, 0.95

EVERY_RUN = "every run"

RAREST = 1e-12
"""Nothing is told as rarer than this."""

LIMITS = (
    "The figures are experts' judgement of nuclear power plants in the 1980s; many are from memory "
    "of the tables. Trust the order of the list and the order of magnitude, nothing finer.",
    "Checks may work worse than these figures say: on 60 airline flights the crew's checks found "
    "about one deviation in five (Dismukes and Berman 2010, seen second-hand).",
    "Slips on different steps are taken as independent of each other.",
    f"Several human failures together are never said to be rarer than {JOINT_FLOOR:g} a run, a "
    "customary floor (from memory).",
)
"""To be shown with every estimate."""


@dataclass(frozen=True)
class Way:
    """One way to harm.

    Attributes:
        slips: What goes otherwise than written; at least one.
        missed: Places of the checks that should find it before harm and do not.
    """

    slips: tuple[Slip, ...]
    missed: tuple[int, ...] = ()

    @property
    def failures(self) -> tuple[str, ...]:
        """Names of the equipment failures in it."""
        return tuple(slip.name for slip in self.slips if slip.kind is SlipKind.FAILURE)


@dataclass(frozen=True)
class Estimate:
    """Probability per run, with its band.

    Attributes:
        likely: Median.
        low: 5th percentile.
        high: 95th percentile.
        mean: Of the values drawn.
        rows: Published rows it stands on, each once.
        assumed: What was assumed, each once.
        floored: Whether the joint floor has lifted it.
        given: Equipment failures that it takes for granted.
    """

    likely: float
    low: float
    high: float
    mean: float
    rows: tuple[ErrorRow, ...]
    assumed: tuple[str, ...] = ()
    floored: bool = False
    given: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """As an order of magnitude."""
        first = "".join(f'given "{name}": ' for name in self.given)
        likely = _one_in(self.likely, round)
        about = f"{likely} runs" if likely != EVERY_RUN else likely
        between = f"between {_one_in(self.high, _down)} and {_one_in(self.low, _up)}"
        return f"{first}about {about}, {between}"


@dataclass(frozen=True)
class Judged:
    """A way to harm and how likely it is; no estimate where no human failure is needed."""

    way: Way
    estimate: Estimate | None

    @property
    def words(self) -> str:
        """Order of magnitude, or why there is none."""
        if self.estimate is None:
            return "an equipment failure alone is enough; it carries no probability"
        return self.estimate.words


@dataclass(frozen=True)
class Overall:
    """Harm by any way.

    Attributes:
        slips: By slips alone; None where there is no such way.
        given: For each equipment failure, or each pair, the harm once it has happened; None where
            it needs no human failure.
    """

    slips: Estimate | None
    given: tuple[tuple[tuple[str, ...], Estimate | None], ...]


def judged(
    way: Way, procedure: Procedure, circumstances: Circumstances | None = None, seed: int = 1
) -> Judged:
    """How likely one way to harm is.

    Args:
        way: To harm.
        procedure: In which it is.
        circumstances: In which it is done.
        seed: Of the values drawn.

    Raises:
        ValueError: A way without slips, a place that there is not, a missed check that is none.
    """
    factors = _factors(way, procedure, circumstances)
    return Judged(way, _estimate(factors, way.failures, seed) if factors else None)


def ranked(
    ways: Iterable[Way],
    procedure: Procedure,
    circumstances: Circumstances | None = None,
    seed: int = 1,
) -> tuple[Judged, ...]:
    """Ways to harm, the weakest points first.

    Equipment failures that are enough by themselves come first, then ways by slips alone, the
    likeliest first, then ways that an equipment failure opens. Equals stay as given.
    """
    listed = [judged(way, procedure, circumstances, seed) for way in ways]

    def rank(found: Judged) -> tuple[int, float, float]:
        if found.estimate is None:
            return (0, 0.0, 0.0)
        group = 2 if found.estimate.given else 1
        return (group, -found.estimate.likely, -found.estimate.high)

    return tuple(sorted(listed, key=rank))


def overall(
    ways: Iterable[Way],
    procedure: Procedure,
    circumstances: Circumstances | None = None,
    seed: int = 1,
) -> Overall:
    """Harm by any of several ways, to first order: the sum, cut at 1.

    Ways that begin with the same kinds of slip on the same steps (another wrong object, moved
    farther) share one published probability, so of them only the likeliest counts. Meant for ways
    by one slip: of many pairs each may have been lifted to the joint floor, and so is their sum.
    """
    by_failure: dict[tuple[str, ...], list[Way]] = {}
    for way in ways:
        by_failure.setdefault(tuple(sorted(way.failures)), []).append(way)
    sums = {
        failures: _sum(listed, failures, procedure, circumstances, seed)
        for failures, listed in by_failure.items()
    }
    by_slips = sums.pop((), None)
    return Overall(by_slips, tuple(sorted(sums.items(), key=lambda item: item[0])))


def _factors(
    way: Way, procedure: Procedure, circumstances: Circumstances | None
) -> tuple[Factor, ...]:
    if not way.slips:
        raise ValueError("a way to harm without a slip; accepted: at least one")
    return failures_in_a_row(procedure, way.slips, way.missed, circumstances or Circumstances())


def _sum(
    ways: list[Way],
    failures: tuple[str, ...],
    procedure: Procedure,
    circumstances: Circumstances | None,
    seed: int,
) -> Estimate | None:
    chains = [(_event(way), _factors(way, procedure, circumstances)) for way in ways]
    if not all(factors for _, factors in chains):
        return None
    total, floored = np.zeros(DRAWN), False
    chains.sort(key=lambda chain: chain[0])
    for _, alike in groupby(chains, key=lambda chain: chain[0]):
        likeliest = np.zeros(DRAWN)
        for _, factors in alike:
            values, lifted = _drawn(factors, seed)
            likeliest, floored = np.maximum(likeliest, values), floored or lifted
        total += likeliest
    factors = tuple(factor for _, listed in chains for factor in listed)
    return _banded(np.minimum(total, 1.0), factors, floored, failures)


def _event(way: Way) -> tuple[tuple[str, int], ...]:
    """What happens, whatever object or distance it happens with."""
    human = (slip for slip in way.slips if slip.kind is not SlipKind.FAILURE)
    return tuple(sorted((slip.kind.value, slip.place) for slip in human))


@lru_cache(maxsize=4096)
def _estimate(factors: tuple[Factor, ...], failures: tuple[str, ...], seed: int) -> Estimate:
    values, floored = _drawn(factors, seed)
    return _banded(values, factors, floored, failures)


def _banded(
    values: FloatArray, factors: tuple[Factor, ...], floored: bool, failures: tuple[str, ...]
) -> Estimate:
    low, likely, high = np.quantile(values, (LOW_SHARE, 0.5, HIGH_SHARE))
    return Estimate(
        likely=float(likely),
        low=float(low),
        high=float(high),
        mean=float(values.mean()),
        rows=tuple(dict.fromkeys(factor.row for factor in factors)),
        assumed=tuple(dict.fromkeys(factor.assumed for factor in factors if factor.assumed)),
        floored=floored,
        given=failures,
    )


@lru_cache(maxsize=256)
def _drawn(factors: tuple[Factor, ...], seed: int) -> tuple[FloatArray, bool]:
    """Joint probability of all failures, and whether the floor has lifted it."""
    alone = [_failing(factor.row.table, factor.band, Dependence.ZERO, seed) for factor in factors]
    joint = alone[0].copy()
    for factor in factors[1:]:
        joint *= _failing(factor.row.table, factor.band, factor.dependence, seed)
    median = float(np.median(joint))
    if len(factors) < 2 or median >= JOINT_FLOOR:
        return joint, False
    # The whole band is lifted: a floor is no reason to be surer.
    return np.minimum(joint * (JOINT_FLOOR / median), np.minimum.reduce(alone)), True


@lru_cache(maxsize=256)
def _failing(table: str, band: Lognormal, dependence: Dependence, seed: int) -> FloatArray:
    basic = np.minimum(1.0, band.median * np.exp(band.sigma * _deviates(table, seed)))
    return np.asarray(given_failure(basic, dependence))


@lru_cache(maxsize=64)
def _deviates(table: str, seed: int) -> FloatArray:
    """Normal deviates of one row, the same wherever it is used: evenly spaced, shuffled.

    Source: Latin hypercube sampling, McKay, Beckman and Conover 1979 (from memory).
    """
    even = np.array([NormalDist().inv_cdf((i + 0.5) / DRAWN) for i in range(DRAWN)])
    np.random.default_rng((seed, list(ERROR_ROWS).index(table))).shuffle(even)
    return even


def _one_in(probability: float, rounded: Callable[[float], int]) -> str:
    """One in how many, to one figure; whole numbers below ten."""
    number = 1.0 / max(probability, RAREST)
    step: int = 10 ** math.floor(math.log10(number))
    found = max(1, rounded(number / step) * step)
    return EVERY_RUN if found == 1 else f"1 in {found:,}"


# A hair of room: 1/0.001 must not become 2,000.
def _down(number: float) -> int:
    return math.floor(number + 1e-9)


def _up(number: float) -> int:
    return math.ceil(number - 1e-9)
