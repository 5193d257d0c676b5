"""How much metabolic rate each activity of an outing takes: a likely value and its spread."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from functools import reduce

import numpy as np

from neckring.body.walking import (
    STANDING_REST,
    acsm_walking,
    looney_2019,
    looney_2022,
    ludlow_weyand,
    pandolf_santee,
)
from neckring.values import Band, Values, plain

HAND_LOAD_FACTOR = 1.9
"""[1], cost of a kg in the hands over a kg on the trunk (Soule and Goldman 1969, from memory)."""

MEASURED_LOAD_SLOPE = 7.6
"""[W/kg] of added load at 1.25 m/s, to 40 % of body mass (Huang and Kuo 2014, J Exp Biol
217:605, PMC3922835)."""
MEASURED_SLOPE_SPEED = 1.25

MET = 58.2
"""[W/m2], one met (ASHRAE 55, from memory)."""

METABOLIC_CLASSES = (
    ("resting", 65.0, 55.0, 70.0),
    ("low", 100.0, 70.0, 130.0),
    ("moderate", 165.0, 130.0, 200.0),
    ("high", 230.0, 200.0, 260.0),
    ("very high", 290.0, 260.0, np.inf),
)
"""Class, mean, lower and upper bound [W/m2]. Source: ISO 8996:2004 annex A, from memory."""

CLASS_BOUNDS = (65.0, 130.0, 200.0, 260.0)
"""[W/m2] between those classes. Source: ISO 7243 as quoted by an instrument's manual."""

_PLACED = "ISO 8996:2004 annex A class (from memory); the activity placed in it by us"


@dataclass(frozen=True)
class Activity:
    """Metabolic rate of an activity without load [W/m2], and whether the legs bear the load."""

    likely: float
    low: float
    high: float
    bears_load: bool
    source: str


ACTIVITIES = {
    "rest": Activity(65.0, 55.0, 70.0, False, "ISO 8996:2004 class 0, resting (from memory)"),
    "stand": Activity(70.0, 65.0, 93.0, True, "ISO 7730 annex B, standing relaxed 70 and light "
        "standing activity 93 W/m2 (from memory)"),
    "ride": Activity(70.0, 58.0, 100.0, False, "ISO 7730 annex B, sedentary activity 70 W/m2 "
        "(from memory); band to class 1 for a rough track"),
    "kneel": Activity(130.0, 100.0, 165.0, True, f"{_PLACED}: between low and moderate"),
    "hammer": Activity(180.0, 150.0, 230.0, True, f"{_PLACED}: moderate to high"),
    "dress": Activity(100.0, 70.0, 130.0, True, f"{_PLACED}: low, with tenders' help"),
    "undress": Activity(100.0, 70.0, 130.0, True, f"{_PLACED}: low, with tenders' help"),
}  # fmt: skip
"""Activities other than walking."""


def activity_metabolic_rate(
    activity: str,
    body_mass: Values,
    surface_area: Values,
    load: Values = 0.0,
    bulk_factor: Values = 1.0,
) -> Band:
    """Metabolic rate of an activity on the spot.

    Args:
        activity: A key of `ACTIVITIES`.
        body_mass: [kg]
        surface_area: Of the bare body [m2].
        load: Carried, suit and all [kg]. When the legs bear it, what is above one met grows
            with the moved mass: all of it in `high`, half in `likely`, none in `low` (assumed).
        bulk_factor: Of stiff clothing [1], 1.05 to 1.20 (Dorman and Havenith 2009 measured 1.024
            to 1.209 in 14 ensembles); not applied to rest and ride.

    Returns:
        Band [W].

    Raises:
        KeyError: Unknown activity.
    """
    row = ACTIVITIES[activity]
    added = load / body_mass if row.bears_load else 0.0
    bulk = bulk_factor if row.bears_load else 1.0

    def rate(per_area: float, share: float) -> Values:
        above_rest = max(per_area - MET, 0.0)
        return surface_area * bulk * (per_area + above_rest * share * added)

    return Band(rate(row.likely, 0.5), rate(row.low, 0.0), rate(row.high, 1.0))


def walking_metabolic_rate(
    body_mass: Values,
    load: Values,
    speed: Values,
    grade: Values = 0.0,
    terrain_factor: Values = 1.0,
    bulk_factor: Values = 1.0,
    hand_load: Values = 0.0,
    resting_rate: Values = STANDING_REST,
) -> Band:
    """Metabolic rate of walking, with the spread between published equations.

    Args:
        body_mass: [kg]
        load: Worn or on the back, suit and all [kg].
        speed: [m/s]
        grade: Rise over run [1].
        terrain_factor: [1]
        bulk_factor: Of stiff clothing [1]; not to be used together with a clothing-weight rule.
        hand_load: Carried in the hands [kg]; counts 1.9 times.
        resting_rate: [W/kg]

    Returns:
        Band [W]: likely is Looney 2022; low and high are the least and the most of it, Looney
        2019 with the total mass, Pandolf-Santee, ACSM, Ludlow-Weyand and, for high, the measured
        slope of 7.6 W a kg.
    """
    worn = load + HAND_LOAD_FACTOR * hand_load
    likely = looney_2022(body_mass, worn, speed, grade, terrain_factor, resting_rate)
    others = (
        looney_2019(body_mass + worn, speed, grade),
        pandolf_santee(body_mass, worn, speed, grade, terrain_factor),
        acsm_walking(body_mass + worn, speed, grade, terrain_factor),
        ludlow_weyand(body_mass, worn, speed, grade, terrain_factor),
    )
    slope = MEASURED_LOAD_SLOPE * speed / MEASURED_SLOPE_SPEED * worn
    bare = looney_2022(body_mass, 0.0, speed, grade, terrain_factor, resting_rate)
    low = reduce(np.minimum, others, likely)
    high = reduce(np.maximum, others, np.maximum(likely, bare + slope))
    return Band(likely, plain(low), plain(high)).scaled(bulk_factor)


def range_remarks(
    body_mass: float, load: float, speed: float, grade: float = 0.0
) -> tuple[str, ...]:
    """Say where a walk lies outside what the equations were tested on.

    Args:
        body_mass: [kg]
        load: [kg]
        speed: [m/s]
        grade: Rise over run [1].

    Returns:
        One sentence for each, none when inside.
    """
    remarks = []
    if load > 0.66 * body_mass:
        remarks.append("load above 66 % of body mass: outside Looney 2022")
    if not 0.45 <= speed <= 1.97:
        remarks.append("speed outside 0.45 to 1.97 m/s: outside Looney 2022")
    if not -0.40 <= grade <= 0.45:
        remarks.append("grade outside -40 to 45 %: outside Looney 2019")
    if grade < -0.12:
        remarks.append("downhill steeper than 12 %: outside Santee 2001")
    return tuple(remarks)


def metabolic_class(rate_per_area: float) -> str:
    """Name of the ISO 7243 class that holds a metabolic rate [W/m2]."""
    return METABOLIC_CLASSES[bisect_left(CLASS_BOUNDS, rate_per_area)][0]
