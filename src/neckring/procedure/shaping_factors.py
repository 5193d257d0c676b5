"""Two more published ways to a probability of human error: SPAR-H and HEART.

Both start from a nominal probability and multiply it by what makes the task harder or easier. They
stand beside the handbook's tables as a second opinion. Neither original was opened: every row says
how its numbers were come by.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from neckring.values import require_within

# From this many negative factors on, SPAR-H corrects their product.
NEGATIVE_FACTORS = 3

MOST = 1e6


class TaskKind(StrEnum):
    """What SPAR-H tells apart."""

    DIAGNOSIS = "diagnosis"
    ACTION = "action"


NOMINAL = {TaskKind.DIAGNOSIS: 0.01, TaskKind.ACTION: 0.001}
"""SPAR-H's nominal probabilities; NUREG/CR-6883 2005, seen second-hand in two places."""


def spar_h(task: TaskKind, multipliers: Iterable[float]) -> float:
    """Probability of human error by SPAR-H.

    Args:
        task: Diagnosis or action.
        multipliers: Of the shaping factors, above 0; those above 1 are negative.

    Returns:
        0..1. With three or more negative factors the composite is corrected, else cut at 1.

    Raises:
        ValueError: A multiplier out of range.

    Source: Gertman et al. 2005, NUREG/CR-6883 (formula seen second-hand in two places).
    """
    listed = tuple(multipliers)
    for multiplier in listed:
        require_within("multiplier", multiplier, math.ulp(0.0), MOST, "")
    nominal, composite = NOMINAL[task], math.prod(listed)
    if sum(multiplier > 1.0 for multiplier in listed) >= NEGATIVE_FACTORS:
        return nominal * composite / (nominal * (composite - 1.0) + 1.0)
    return min(1.0, nominal * composite)


def heart(generic: float, conditions: Iterable[tuple[float, float]]) -> float:
    """Probability of human error by HEART.

    Args:
        generic: Of the generic task, 0..1.
        conditions: For each error-producing condition its greatest effect (1 and more) and the
            share of it that is judged to be present (0..1).

    Returns:
        0..1, cut at 1.

    Raises:
        ValueError: A value out of range.

    Source: Williams 1985, 1988 (formula seen second-hand in several places).
    """
    require_within("generic probability", generic, 0.0, 1.0, "")
    probability = generic
    for effect, share in conditions:
        require_within("greatest effect", effect, 1.0, MOST, "")
        require_within("share", share, 0.0, 1.0, "")
        probability *= (effect - 1.0) * share + 1.0
    return min(1.0, probability)


_ONE_FILE = "seen second-hand in one file only, which has a slip elsewhere: in doubt"
_TWO_FILES = "seen second-hand in two independent places; original not opened"
_CORRECTED = (
    "seen second-hand in a service that names NUREG/CR-6883 as its basis; another file has 2 for a "
    "poor action and mixes the columns; original not opened"
)


@dataclass(frozen=True)
class ShapingFactor:
    """One level of one SPAR-H shaping factor.

    Attributes:
        factor: What shapes performance.
        level: How it is.
        diagnosis: Multiplier for diagnosis.
        action: Multiplier for action.
        verified: Seen in a place without a known slip.
        how: How the numbers were come by.
    """

    factor: str
    level: str
    diagnosis: float
    action: float
    verified: bool = False
    how: str = _ONE_FILE


SHAPING_FACTORS: tuple[ShapingFactor, ...] = (
    ShapingFactor("available time", "barely adequate", 10, 10),
    ShapingFactor("available time", "extra", 0.1, 0.1),
    ShapingFactor("available time", "expansive", 0.01, 0.01),
    ShapingFactor("stress", "high", 2, 2),
    ShapingFactor("stress", "extreme", 5, 5),
    ShapingFactor("complexity", "moderate", 2, 2),
    ShapingFactor("complexity", "high", 5, 5),
    ShapingFactor("experience", "low", 10, 3),
    ShapingFactor("procedures", "missing", 50, 50),
    ShapingFactor("procedures", "incomplete", 20, 20),
    ShapingFactor("procedures", "poor", 5, 5),
    ShapingFactor("ergonomics", "poor", 10, 10),
    ShapingFactor("ergonomics", "misleading", 50, 50),
    ShapingFactor("fitness for duty", "degraded", 5, 5),
    ShapingFactor("work processes", "poor", 2, 5, True, _CORRECTED),
    ShapingFactor("work processes", "good", 0.8, 0.5, True, _CORRECTED),
)
"""NUREG/CR-6883 2005. A level that is not listed is nominal: 1."""


@dataclass(frozen=True)
class Generic:
    """A HEART generic task, or an error-producing condition with its greatest effect.

    Attributes:
        name: Letter of the task, or the condition in words.
        value: Probability of the task, or greatest effect of the condition.
        verified: Seen in two independent places.
        how: How the number was come by.
    """

    name: str
    value: float
    verified: bool
    how: str


def _generics(values: Sequence[tuple[str, float]], confirmed: frozenset[str]) -> dict[str, Generic]:
    return {
        name: Generic(
            name, value, name in confirmed, _TWO_FILES if name in confirmed else _ONE_FILE
        )
        for name, value in values
    }


GENERIC_TASKS = _generics(
    (
        ("A", 0.55),
        ("B", 0.26),
        ("C", 0.16),
        ("D", 0.09),
        ("E", 0.02),
        ("F", 0.003),
        ("G", 0.0004),
        ("H", 0.00002),
        ("M", 0.03),
    ),
    frozenset({"E", "F"}),
)
"""Williams 1985, 1988."""

ERROR_PRODUCING_CONDITIONS = _generics(
    (
        ("unfamiliar", 17.0),
        ("short of time", 11.0),
        ("poor signal", 10.0),
        ("overriding is easy", 9.0),
        ("no reversal", 8.0),
        ("unlearning", 6.0),
        ("risk misperceived", 4.0),
        ("poor feedback", 4.0),
        ("inexperience", 3.0),
        ("no independent check", 3.0),
        ("conflicting objectives", 2.5),
        ("unclear allocation", 1.6),
        ("no tracking of progress", 1.4),
        ("emotional stress", 1.3),
    ),
    frozenset({"unfamiliar"}),
)
"""Williams 1985, 1988: greatest effects."""
