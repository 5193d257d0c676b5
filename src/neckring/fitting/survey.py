"""How body measures go together: correlations, and what stature and mass say of the rest.

Each measure alone follows two half normal curves through its fifth, fiftieth and ninety-fifth
percentile, which are published. How they go together is a normal copula: among stature, mass, chest
circumference, bideltoid and hip breadth from the whole public data; any other measure is tied to
those through stature and mass alone. That last is an assumption, and `tests/validation` says how
well it does.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.stats import norm

from neckring.body.anthropometry import MEASURES as SURVEYED
from neckring.body.anthropometry import Percentiles, Sex, percentiles
from neckring.values import FloatArray, Values

NINETY_FIFTH = float(norm.ppf(0.95))
"""Deviations of a normal curve at its ninety-fifth percentile [1]."""

# Sleeve outseam, acromion to wrist, of the same survey: Gordon et al. 2014, pages 199 and 200.
_ARM_LENGTH = {
    "male": Percentiles(0.545, 0.592, 0.645),
    "female": Percentiles(0.497, 0.542, 0.594),
}

CORE = ("stature", "body_mass", "chest_circumference", "bideltoid_breadth", "hip_breadth")
"""Measures whose correlations are those of the whole public data."""

# Pearson correlations of all 4082 men and 1986 women of ANSUR II, as computed from the public data
# and published by others, to two figures.
_CORE: dict[Sex, tuple[tuple[float, ...], ...]] = {
    "male": (
        (1.00, 0.47, 0.25, 0.31, 0.38),
        (0.47, 1.00, 0.91, 0.88, 0.85),
        (0.25, 0.91, 1.00, 0.89, 0.75),
        (0.31, 0.88, 0.89, 1.00, 0.73),
        (0.38, 0.85, 0.75, 0.73, 1.00),
    ),
    "female": (
        (1.00, 0.53, 0.26, 0.36, 0.39),
        (0.53, 1.00, 0.83, 0.86, 0.83),
        (0.26, 0.83, 1.00, 0.82, 0.68),
        (0.36, 0.86, 0.82, 1.00, 0.69),
        (0.39, 0.83, 0.68, 0.69, 1.00),
    ),
}


class Ties(NamedTuple):
    """Correlation of a measure with stature and with body mass [1]."""

    stature: float
    mass: float


# With stature: from the mean and the spread of each measure over stature among the survey's women,
# published by others from the public data; r = (a^2 + s^2 - q^2)/(2 a s), where a, s and q are the
# coefficients of variation of measure, stature and quotient. Men are taken to be alike (assumed).
# With mass: biacromial breadth and chest depth from 507 measured adults (Heinz et al. 2003, women;
# men 0.42 and 0.72); shoulder, trunk and limbs assumed, from memory of military surveys.
_TIES: dict[str, Ties] = {
    "biacromial_breadth": Ties(0.57, 0.50),
    "chest_breadth": Ties(0.24, 0.80),
    "chest_depth": Ties(0.26, 0.72),
    "waist_circumference": Ties(0.23, 0.84),
    "vertical_trunk_circumference": Ties(0.62, 0.80),
    "shoulder_height": Ties(0.97, 0.50),
    "cervicale_height": Ties(0.98, 0.50),
    "iliac_crest_height": Ties(0.93, 0.42),
    "crotch_height": Ties(0.84, 0.35),
    "sitting_height": Ties(0.77, 0.45),
    "waist_back_length": Ties(0.50, 0.40),
    "shoulder_length": Ties(0.45, 0.25),
    "arm_length": Ties(0.79, 0.40),
    "span": Ties(0.82, 0.42),
    "hand_length": Ties(0.67, 0.42),
    "hand_breadth": Ties(0.50, 0.55),
    "foot_length": Ties(0.74, 0.50),
    "head_length": Ties(0.35, 0.35),
    "head_breadth": Ties(0.12, 0.30),
    "head_circumference": Ties(0.34, 0.45),
    "neck_circumference": Ties(0.29, 0.76),
}

KNOWN = (*(measure for measure in SURVEYED if measure in CORE or measure in _TIES), "arm_length")
"""Measures that the survey knows and that are tied to the others."""


class Expected(NamedTuple):
    """What is expected of a measure: likely value and standard deviation; [m], body mass [kg]."""

    likely: float
    deviation: float


def spread_of(measure: str, sex: Sex) -> Percentiles:
    """Percentiles of a measure, [m] or [kg]; one of `KNOWN`."""
    return _ARM_LENGTH[sex] if measure == "arm_length" else percentiles(measure, sex)


def value_at(measure: str, sex: Sex, deviate: Values) -> Values:
    """The measure of whoever stands so many deviations from the median.

    Args:
        measure: One of `KNOWN`.
        sex: "male" or "female".
        deviate: Standard normal [1].

    Returns:
        [m], for body mass [kg]; exactly the published percentiles at 0 and +/- 1.645.
    """
    known = spread_of(measure, sex)
    below, above = known.median - known.fifth, known.ninety_fifth - known.median
    slope = np.where(np.asarray(deviate) < 0.0, below, above) / NINETY_FIFTH
    found: Values = known.median + slope * deviate
    return found


def deviate_of(measure: str, sex: Sex, value: float) -> float:
    """How many deviations a measure lies from the median [1]; undoes `value_at`."""
    known = spread_of(measure, sex)
    side = known.fifth if value < known.median else known.ninety_fifth
    return NINETY_FIFTH * (value - known.median) / abs(side - known.median)


def correlations(measures: Sequence[str], sex: Sex) -> FloatArray:
    """Correlations among measures.

    Args:
        measures: Of `KNOWN`, each once.
        sex: "male" or "female".

    Returns:
        Shape (n, n), positive semidefinite.
    """
    core = np.array(_CORE[sex])
    both = core[:2, :2]
    # How each measure follows from stature and mass; a core measure follows from itself.
    weights = np.array([np.linalg.solve(both, _ties(measure, core)) for measure in measures])
    found = weights @ both @ weights.T
    for i, first in enumerate(measures):
        for j, second in enumerate(measures):
            if first in CORE and second in CORE:
                found[i, j] = core[CORE.index(first), CORE.index(second)]
    np.fill_diagonal(found, 1.0)
    return np.asarray(found)


def _ties(measure: str, core: FloatArray) -> FloatArray:
    if measure in CORE:
        return np.asarray(core[CORE.index(measure), :2])
    return np.array(_TIES[measure])


def expected(measure: str, sex: Sex, stature: float, mass: float) -> Expected:
    """What stature and mass say of a measure.

    Args:
        measure: One of `KNOWN`.
        sex: "male" or "female".
        stature: [m]
        mass: [kg]

    Returns:
        Likely value and standard deviation of people of that stature and mass [m].
    """
    core = np.array(_CORE[sex])
    given = np.array([deviate_of("stature", sex, stature), deviate_of("body_mass", sex, mass)])
    weights = np.linalg.solve(core[:2, :2], _ties(measure, core))
    centre = float(weights @ given)
    left = max(1.0 - float(weights @ _ties(measure, core)), 0.0)
    low, likely, high = (
        float(value_at(measure, sex, centre + side * np.sqrt(left))) for side in (-1.0, 0.0, 1.0)
    )
    return Expected(likely, 0.5 * (high - low))
