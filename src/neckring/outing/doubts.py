"""What is uncertain in the model itself, beside what the station's files say with a spread.

Each doubt is a quantity whose nominal value changes nothing: a plan as written is the same with
and without it. Drawn members differ in it. Where no published figure was found, that is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.units import Quantity, parse_quantity
from neckring.values import Band

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class ModelDoubt:
    """One thing that the model does not know.

    Attributes:
        key: Short name, beginning with "model".
        label: In words that fit behind "measure".
        quantity: Its spread; identity counts, so only the constants of this module are drawn.
        lowest: No member gets less.
        highest: No member gets more.
        written: The spread in words.
        source: Published source, or that it is assumed.
        measurable: Whether it can be measured before the run and written into the station's files.
    """

    key: str
    label: str
    quantity: Quantity
    lowest: float
    highest: float
    written: str
    source: str
    measurable: bool


def _number(text: str) -> Quantity:
    return parse_quantity(text, "number")


# Place in the published band of metabolic rate: 0 is the likely equation, -1 and +1 the least and
# the most of all published ones, taken as two standard deviations (assumed).
WALKING_PLACE = _number("0 +/- 0.5")
ACTIVITY_PLACE = _number("0 +/- 0.5")
# Factor on the rise of heart rate with core temperature [1].
HEART_SLOPE_FACTOR = _number("1 +/- 0.2")
# The wearer's resting core temperature, skin temperatures and set points over the model's [K].
SET_POINT_SHIFT = parse_quantity("0 K +/- 0.36", "temperature_difference")
# Factor on the fitted sweat gain [1].
SWEAT_FACTOR = _number("1 +/- 0.25")
# Added to the respiratory quotient [1]: more carbon dioxide for the same work.
QUOTIENT_SHIFT = _number("0 +/- 0.045")
# Factor on the breathed volume for the same carbon dioxide [1].
VENTILATION_FACTOR = _number("1 +/- 0.1")

MODEL_DOUBTS = (
    ModelDoubt(
        "model.walking",
        "the wearer's metabolic rate in walking",
        WALKING_PLACE,
        -1.0,
        1.0,
        "within the band of the published equations",
        "Looney 2022 likely; Looney 2019, Pandolf-Santee, ACSM, Ludlow-Weyand, Huang and Kuo 2014 "
        "as band; normal, two standard deviations to its edges (assumed)",
        True,
    ),
    ModelDoubt(
        "model.activity",
        "the wearer's metabolic rate at the activities on the spot",
        ACTIVITY_PLACE,
        -1.0,
        1.0,
        "within the band of the activity tables",
        "ISO 8996 and ISO 7730 classes (from memory); normal, two standard deviations to the "
        "band's edges (assumed)",
        True,
    ),
    ModelDoubt(
        "model.heart_slope",
        "the wearer's rise of heart rate with core temperature",
        HEART_SLOPE_FACTOR,
        8.0 / 33.0,
        1.6,
        "1 +/- 0.2 of the published slope",
        "published means of 30 (Broede and Kampmann 2019, Ind Health 57:615), 33 (ISO 9886) and "
        "39 to 41 bpm/K (Kampmann and Broede 2019, Front Physiol 10:1524) differ by a fifth; 8 is "
        "the least published (doi 10.1007/BF00421151); no figure between people was found: assumed "
        "the same. With hot skin the slope is never below 40 bpm/K, which errs to the safe side",
        False,
    ),
    ModelDoubt(
        "model.set_point",
        "the wearer's resting core temperature",
        SET_POINT_SHIFT,
        -0.72,
        0.72,
        "the model's +/- 0.36 K",
        "Geneva et al. 2019 (Open Forum Infect Dis 6:ofz032): healthy adults, rectal, mean less "
        "and plus two standard deviations 36.32 to 37.76 degC; nobody beyond is taken to go out",
        False,
    ),
    ModelDoubt(
        "model.sweat",
        "how much the wearer sweats",
        SWEAT_FACTOR,
        1.0 / 2.4,
        2.0 - 1.0 / 2.4,
        "1 +/- 0.25 of the fitted gain",
        "assumed: Gonzalez et al. 2009 (J Appl Physiol 107:379) predict sweating to within "
        "100 g/(m2 h), a quarter of 400 in work in heat; the least is the gain of Takahashi et al. "
        "2021 before our fit",
        False,
    ),
    ModelDoubt(
        "model.quotient",
        "the wearer's carbon dioxide for the same work",
        QUOTIENT_SHIFT,
        -0.105,
        0.105,
        "respiratory quotient +/- 0.045",
        "Goedecke et al. 2000 (Am J Physiol Endocrinol Metab 279:E1325): 0.718 to 0.927 at rest in "
        "61 cyclists, kept in exercise; the range of 61 normal values is 4.7 standard deviations",
        False,
    ),
    ModelDoubt(
        "model.ventilation",
        "how deeply the wearer breathes",
        VENTILATION_FACTOR,
        0.7,
        1.3,
        "1 +/- 0.1 of the published volume",
        "least ventilation over carbon dioxide 24.2 (2.3) in men and 27.0 (2.8) in women in their "
        "twenties, among 529 healthy Japanese in ramp exercise (abstract; authors not read)",
        False,
    ),
)
"""All doubts of the model, in the order in which they are drawn."""


def placed(rate: Band, place: FloatArray) -> Band:
    """A metabolic rate at a place in its band.

    Args:
        rate: Likely, low and high [W].
        place: From -1 at the low edge through 0, likely, to 1 at the high edge; straight on each
            side. Shape (members,).

    Returns:
        The band with its likely value moved [W]; its edges stay.
    """
    up, down = np.maximum(place, 0.0), np.minimum(place, 0.0)
    moved = rate.likely + up * (rate.high - rate.likely) + down * (rate.likely - rate.low)
    return Band(moved, rate.low, rate.high)
