"""Published probabilities of human error, and the arithmetic that goes with them.

The figures come from nuclear power plants of the 1980s and are experts' judgement. They are good
for ranking and for an order of magnitude, never for one bare number. Nobody has measured them on
people in suits. No original table was opened: each row says how its numbers were come by.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from neckring.values import Values, require_within

# Standard deviations from the median to the 95th percentile, rounded as the handbook has it.
NINETY_FIFTH = 1.645

JOINT_FLOOR = 1e-5
"""Least probability credited to several human failures together.

From memory: a floor of 1e-6 to 1e-5 is customary; the careful end is taken. One SPAR-H text that
was seen second-hand cuts off at 1e-5.
"""


@dataclass(frozen=True)
class Lognormal:
    """A probability known only within a factor.

    Attributes:
        median: As likely too small as too large, above 0 and at most 1.
        error_factor: 95th percentile over median, and median over 5th percentile; at least 1.
    """

    median: float
    error_factor: float

    def __post_init__(self) -> None:
        """Refuse what is no probability.

        Raises:
            ValueError: Naming what was read and what is accepted.
        """
        require_within("median", self.median, math.ulp(0.0), 1.0, "")
        require_within("error factor", self.error_factor, 1.0, 1e6, "")

    @property
    def sigma(self) -> float:
        """Standard deviation of the natural logarithm.

        Source: Swain and Guttmann 1983, NUREG/CR-1278; ln(EF)/1.645 as in INL BAHAMAS.
        """
        return math.log(self.error_factor) / NINETY_FIFTH

    @property
    def mean(self) -> float:
        """Mean of the uncut distribution, never said to be above 1."""
        return min(1.0, self.median * math.exp(self.sigma**2 / 2.0))

    @property
    def low(self) -> float:
        """5th percentile."""
        return self.median / self.error_factor

    @property
    def high(self) -> float:
        """95th percentile, cut at 1: a wide band about a large median would pass it."""
        return min(1.0, self.median * self.error_factor)

    def scaled(self, factor: float) -> Lognormal:
        """The same band about a median multiplied by a factor, cut at 1."""
        return Lognormal(min(1.0, self.median * factor), self.error_factor)

    def widened(self, least_error_factor: float) -> Lognormal:
        """The same median with at least some error factor."""
        return Lognormal(self.median, max(self.error_factor, least_error_factor))


def product(factors: Iterable[Lognormal]) -> Lognormal:
    """Product of independent lognormals, which is lognormal again.

    Args:
        factors: At least one.

    Returns:
        Medians multiplied, squares of the logarithms of the error factors added.

    Raises:
        ValueError: No factors.
    """
    listed = tuple(factors)
    if not listed:
        raise ValueError("a product of no probabilities; accepted: at least one")
    spread = math.hypot(*(math.log(factor.error_factor) for factor in listed))
    return Lognormal(math.prod(factor.median for factor in listed), math.exp(spread))


def at_least_one(probability: float, items: int) -> float:
    """Probability of at least one failure in some items, each failing apart from the others."""
    require_within("probability", probability, 0.0, 1.0, "")
    require_within("items", items, 0, 1e9, "")
    return -math.expm1(items * math.log1p(-probability)) if probability < 1.0 else float(items > 0)


class Dependence(IntEnum):
    """How much one failure draws the next one after it, from not at all to always."""

    ZERO = 0
    LOW = 1
    MODERATE = 2
    HIGH = 3
    COMPLETE = 4


# Out of how many parts one part is certain failure.
_PARTS = {Dependence.LOW: 20.0, Dependence.MODERATE: 7.0, Dependence.HIGH: 2.0}


def given_failure(basic: Values, dependence: Dependence) -> Values:
    """Probability of a failure, given that the act before it has failed.

    Not a law of probability: negative dependence is not covered (Herberger and Boring 2016).

    Args:
        basic: Probability of the failure by itself, 0..1, any shape.
        dependence: Of the second act on the first.

    Returns:
        0..1, same shape.

    Raises:
        ValueError: A probability outside 0..1.

    Source: Swain and Guttmann 1983, NUREG/CR-1278 equations 10-14 to 10-18 (numbers from memory;
        forms seen second-hand in three places).
    """
    require_within("probability", basic, 0.0, 1.0, "")
    if dependence is Dependence.ZERO:
        return basic
    if dependence is Dependence.COMPLETE:
        return basic * 0.0 + 1.0
    parts = _PARTS[dependence]
    return (1.0 + (parts - 1.0) * basic) / parts


def at_least_in_row(dependence: Dependence, place: int) -> Dependence:
    """Dependence raised to what a row of failures asks: third moderate, fourth and later high.

    Args:
        dependence: Of the act on what failed before.
        place: Of the act in the row of failures, the first being 1.

    Source: rule seen second-hand beside the equations of NUREG/CR-6883.
    """
    least = {1: Dependence.ZERO, 2: Dependence.ZERO, 3: Dependence.MODERATE}
    return max(dependence, least.get(place, Dependence.HIGH))


HANDBOOK = "Swain and Guttmann 1983, NUREG/CR-1278"
_RECORD = "seen second-hand: a worked record that quotes table and item; original not opened"
_SLIDE = "median seen second-hand on a lecture slide; error factor from memory"
_MEMORY = "from memory; looked for and not found"


@dataclass(frozen=True)
class ErrorRow:
    """One row of a published table.

    Attributes:
        table: And item, e.g. "20-7 (1)".
        situation: What is done wrongly, and when.
        median: Probability.
        error_factor: 95th percentile over median.
        source: Author and year.
        verified: Both numbers were seen in a public place, which was second-hand.
        how: How the numbers were come by.
        from_memory: The median is from memory.
    """

    table: str
    situation: str
    median: float
    error_factor: float
    source: str
    verified: bool
    how: str
    from_memory: bool

    @property
    def band(self) -> Lognormal:
        """The probability with its band."""
        return Lognormal(self.median, self.error_factor)


def _seen(table: str, situation: str, median: float, error_factor: float) -> ErrorRow:
    return ErrorRow(table, situation, median, error_factor, HANDBOOK, True, _RECORD, False)


def _half_seen(table: str, situation: str, median: float, error_factor: float) -> ErrorRow:
    return ErrorRow(table, situation, median, error_factor, HANDBOOK, False, _SLIDE, False)


def _remembered(table: str, situation: str, median: float, error_factor: float) -> ErrorRow:
    return ErrorRow(table, situation, median, error_factor, HANDBOOK, False, _MEMORY, True)


_HALVED = ErrorRow(
    "20-22 (2)",
    "routine check without a list fails to find a fault",
    0.2,
    5,
    HANDBOOK,
    True,
    "seen second-hand: a worked record gives 0.2, halved there to 0.1 with error factor 5 for an "
    "operator who checks a maintainer; original not opened",
    False,
)

ERROR_ROWS: dict[str, ErrorRow] = {
    row.table: row
    for row in (
        _seen("20-6 (7)", "maintenance: the written procedure is not used", 0.3, 5),
        _remembered("20-7 (1)", "step left out, list of up to 10 items, ticked off", 0.001, 3),
        _remembered("20-7 (2)", "step left out, list of over 10 items, ticked off", 0.003, 3),
        _seen("20-7 (3)", "step left out, list of up to 10 items, not ticked off", 0.003, 3),
        _remembered("20-7 (4)", "step left out, list of over 10 items, not ticked off", 0.01, 3),
        _seen("20-7 (5)", "step left out, there is a list but it is not used", 0.05, 5),
        _half_seen("20-12 (2)", "wrong one of similar controls, told apart by labels", 0.003, 3),
        _remembered("20-12 (3)", "wrong one of similar controls, in marked groups", 0.001, 3),
        _remembered("20-12 (4)", "wrong one of similar controls, in a mimic layout", 0.0005, 10),
        _remembered("20-12 (5)", "turned the wrong way, no habit violated", 0.0005, 10),
        _remembered("20-12 (6)", "turned the wrong way, against habit", 0.05, 5),
        _half_seen("20-12 (7)", "turned the wrong way, against habit, high stress", 0.5, 5),
        _remembered("20-12 (9)", "valve of several positions set to the wrong one", 0.001, 10),
        _remembered("20-12 (13)", "connector improperly mated", 0.003, 3),
        _seen("20-13 (1)", "wrong valve, clearly labelled and set apart", 0.001, 3),
        _remembered("20-13 (2)", "wrong valve, clearly labelled, similar in one way", 0.003, 3),
        _remembered("20-13 (3)", "wrong valve, unclearly labelled, set apart", 0.005, 3),
        _remembered("20-13 (4)", "wrong valve, unclearly labelled, similar in one way", 0.008, 3),
        _remembered("20-13 (5)", "wrong valve, unclearly labelled, alike in all ways", 0.01, 3),
        _seen("20-14 (3)", "stuck valve not noticed, rising stem, no indicator", 0.005, 3),
        _remembered("20-22 (1)", "routine check with a list fails to find a fault", 0.1, 5),
        _HALVED,
        _remembered("20-22 (3)", "special check, once, with a warning, fails", 0.05, 5),
        _remembered("20-22 (4)", "active check, a measurement is taken, fails", 0.01, 5),
        _remembered("20-22 (8)", "second person's check fails; no credit beyond two", 0.5, 5),
        _remembered("20-22 (9)", "check of what one's own safety hangs on fails", 0.001, 5),
    )
}


class Stress(StrEnum):
    """How hard the task presses."""

    OPTIMUM = "optimum"
    MODERATELY_HIGH = "moderately high"
    EXTREMELY_HIGH = "extremely high"


STRESS_MULTIPLIERS: dict[Stress, float] = {
    Stress.OPTIMUM: 1.0,
    Stress.MODERATELY_HIGH: 2.0,
    Stress.EXTREMELY_HIGH: 5.0,
}
"""For step-by-step tasks of skilled people; NUREG/CR-1278 table 20-16, from memory."""

NOVICE_MULTIPLIER = 2.0
"""For novices under more than optimum stress, about; same table, from memory."""


def under_stress(band: Lognormal, stress: Stress, novice: bool) -> Lognormal:
    """A probability under stress, for tasks that are done step by step.

    Source: Swain and Guttmann 1983, NUREG/CR-1278 table 20-16 (from memory).
    """
    beginner = novice and stress is not Stress.OPTIMUM
    return band.scaled(STRESS_MULTIPLIERS[stress] * (NOVICE_MULTIPLIER if beginner else 1.0))
