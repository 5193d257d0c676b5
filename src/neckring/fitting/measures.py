"""The wearer's measures as fitting needs them: each with its doubt, and where it comes from."""

from __future__ import annotations

from math import hypot
from typing import Literal, NamedTuple

from neckring.fitting.survey import KNOWN, expected
from neckring.station.wearer import Wearer
from neckring.units import Quantity

Status = Literal["measured", "estimated"]


class Measure(NamedTuple):
    """One measure of a wearer.

    Attributes:
        name: Key of the station's files.
        value: [m]
        deviation: Standard deviation of what is not known of it [m].
        status: "measured", or "estimated" from stature and mass.
        note: What the doubt stands on.
    """

    name: str
    value: float
    deviation: float
    status: Status
    note: str


WORDS: dict[str, str] = {
    "biacromial_breadth": "shoulder (biacromial) breadth",
    "bideltoid_breadth": "shoulder (bideltoid) breadth",
    "chest_depth": "chest depth, standing",
    "chest_depth_full_breath": "chest depth at full breath",
    "chest_circumference": "chest circumference",
    "hip_breadth": "hip breadth, standing",
    "vertical_trunk_circumference": "vertical trunk circumference",
    "shoulder_height": "shoulder height",
    "crotch_height": "crotch height",
    "sitting_height": "sitting height (erect)",
    "arm_length": "arm length, acromion to wrist",
    "span": "span",
    "hand_length": "hand length",
    "hand_breadth": "hand breadth at metacarpals",
    "foot_length": "foot length",
    "head_length": "head length",
    "head_breadth": "head breadth",
    "head_circumference": "head circumference",
    "stature": "stature (body height)",
    "body_mass": "body mass (weight)",
}
"""Names as in ISO 7250-1 (from memory); trunk circumference, arm length and full breath as in
military surveys, which that standard does not hold."""

BONE, TAPE, HEIGHT, CHEST = 0.004, 0.008, 0.006, 0.006
ERRORS: dict[str, float] = {
    "biacromial_breadth": BONE,
    "bideltoid_breadth": TAPE,
    "chest_depth": CHEST,
    "chest_depth_full_breath": CHEST,
    "chest_circumference": 0.012,
    "hip_breadth": CHEST,
    "vertical_trunk_circumference": 0.012,
    "shoulder_height": HEIGHT,
    "crotch_height": HEIGHT,
    "sitting_height": HEIGHT,
    "arm_length": HEIGHT,
    "span": HEIGHT,
    "hand_length": 0.002,
    "hand_breadth": 0.001,
    "foot_length": 0.002,
    "head_length": 0.001,
    "head_breadth": 0.001,
    "head_circumference": 0.003,
}
"""Standard deviation between two people who measure the same body with care [m]; assumed."""

DEEPEST_BREATH = (0.015, 0.004)
"""How much deeper a chest is at full breath, and its deviation [m].

Assumed: 5.4 cm more round the upper chest from full out to full in (53 adults, Debouche et al.
2016) is 17 mm of depth if all of the chest grows alike, less what lies below the quiet breath at
which chest depth is measured.
"""


def measure_of(wearer: Wearer, name: str) -> Measure | None:
    """One measure of a wearer: measured if it is there, else estimated from stature and mass.

    Args:
        wearer: Who.
        name: Key of `measures` in the wearer's file.

    Returns:
        The measure; None when it was not measured and cannot be estimated.
    """
    written: Quantity | None = getattr(wearer.measures, name, None)
    if written is not None:
        stated = written.spread != "exact"
        note = "spread as written" if stated else "error of measuring assumed"
        doubt = written.deviation if stated else ERRORS[name]
        return Measure(name, written.nominal, doubt, "measured", note)
    if name == "chest_depth_full_breath":
        return _full_breath(wearer)
    if name not in KNOWN:
        return None
    likely, deviation = expected(name, wearer.sex, wearer.height.nominal, wearer.mass.nominal)
    return Measure(name, likely, deviation, "estimated", "from stature and mass: measure it")


def _full_breath(wearer: Wearer) -> Measure | None:
    quiet = measure_of(wearer, "chest_depth")
    if quiet is None:
        return None
    more, doubt = DEEPEST_BREATH
    note = f"chest depth, {quiet.status}, and {1e3 * more:.0f} mm assumed for the breath"
    deviation = hypot(quiet.deviation, doubt)
    return Measure("chest_depth_full_breath", quiet.value + more, deviation, "estimated", note)
