"""Body measures of adults: percentiles of a large public survey, for fitting and for doubt.

The sample is US Army soldiers measured bare in 2012. It is no civilian sample: civilians are on
average heavier, older and more varied. Men and women must be looked up apart, and clothing and the
suit's ease come on top.
"""

from __future__ import annotations

from math import erf, sqrt
from typing import Literal, NamedTuple

import numpy as np

Sex = Literal["male", "female"]

SOURCE = (
    "ANSUR II 2012, 4082 men and 1986 women (Gordon et al. 2014, NATICK/TR-15/007); percentiles "
    "computed from the public data"
)


class Percentiles(NamedTuple):
    """Fifth, fiftieth and ninety-fifth percentile; [m], body mass [kg]."""

    fifth: float
    median: float
    ninety_fifth: float


_MILLIMETRES: dict[str, tuple[tuple[int, int, int], tuple[int, int, int]]] = {
    "stature": ((1648, 1755, 1870), (1525, 1626, 1740)),
    "shoulder_height": ((1339, 1439, 1546), (1242, 1332, 1434)),
    "cervicale_height": ((1416, 1517, 1623), (1300, 1393, 1498)),
    "iliac_crest_height": ((977, 1061, 1148), (918, 993, 1080)),
    "crotch_height": ((771, 845, 925), (712, 780, 857)),
    "biacromial_breadth": ((384, 415, 447), (335, 365, 396)),
    "bideltoid_breadth": ((459, 509, 567), (406, 450, 499)),
    "chest_breadth": ((261, 289, 320), (241, 268, 302)),
    "chest_depth": ((211, 253, 298), (205, 245, 296)),
    "chest_circumference": ((922, 1056, 1207), (824, 940, 1094)),
    "waist_circumference": ((768, 937, 1131), (710, 852, 1040)),
    "hip_breadth": ((308, 344, 387), (311, 353, 400)),
    "waist_back_length": ((433, 477, 524), (384, 425, 470)),
    "shoulder_length": ((133, 150, 167), (120, 135, 153)),
    "vertical_trunk_circumference": ((1519, 1664, 1814), (1440, 1555, 1685)),
    "sitting_height": ((860, 918, 977), (803, 857, 912)),
    "head_breadth": ((146, 154, 163), (140, 147, 156)),
    "head_length": ((188, 200, 211), (178, 190, 202)),
    "head_circumference": ((548, 574, 601), (532, 560, 597)),
    "neck_circumference": ((360, 395, 443), (302, 328, 363)),
    "hand_length": ((177, 193, 210), (165, 180, 199)),
    "hand_breadth": ((81, 88, 96), (72, 78, 85)),
    "foot_length": ((250, 271, 293), (226, 246, 268)),
    "span": ((1680, 1812, 1957), (1529, 1657, 1803)),
}

BODY_MASS = {
    "male": Percentiles(64.4, 84.6, 110.7),
    "female": Percentiles(51.3, 66.8, 87.1),
}
"""[kg]"""

MEASURES = (*_MILLIMETRES, "body_mass")
"""Names of all measures."""


def percentiles(measure: str, sex: Sex) -> Percentiles:
    """Percentiles of a measure.

    Args:
        measure: One of `MEASURES`.
        sex: "male" or "female".

    Returns:
        [m], for body mass [kg].

    Raises:
        KeyError: Unknown measure.

    Source: see `SOURCE`.
    """
    if measure == "body_mass":
        return BODY_MASS[sex]
    row = _MILLIMETRES[measure][0 if sex == "male" else 1]
    return Percentiles(*(value / 1000.0 for value in row))


def share_below(measure: str, sex: Sex, value: float) -> float:
    """Share of the sample below a value, as two half normal curves through the percentiles.

    Args:
        measure: One of `MEASURES`.
        sex: "male" or "female".
        value: [m], for body mass [kg].

    Returns:
        [1], held between 0.01 and 0.99, since three percentiles say no more of the ends.
    """
    known = percentiles(measure, sex)
    deviations = np.array([-1.6449, 0.0, 1.6449])
    slope = np.diff(deviations) / np.diff(known)
    side = slope[0] if value < known.median else slope[1]
    return float(np.clip(_normal_share(side * (value - known.median)), 0.01, 0.99))


def _normal_share(deviation: float) -> float:
    return 0.5 * (1.0 + erf(deviation / sqrt(2.0)))
