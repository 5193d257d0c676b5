"""What is left between body and suit at each place, with its band."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from scipy.stats import norm

from neckring.fitting.measures import Measure
from neckring.fitting.places import RULES, Harm
from neckring.fitting.survey import NINETY_FIFTH
from neckring.station.fit import Place
from neckring.values import Values

Verdict = Literal["fits", "in doubt", "does not fit"]

DOUBTFUL = 0.95
"""[1]; a place is said to fit, or not to fit, when that is at least so sure."""


class Clearance(NamedTuple):
    """What one place leaves.

    Attributes:
        place: Its name.
        measure: The wearer's measure that meets it.
        likely: Room less layers less body, soft tissue pressed in halfway [m].
        low: The same in the worse of twenty cases [m].
        high: The same in the better of twenty cases [m].
        least: What must be left [m].
        most: What may be left [m]; infinite when nothing is too much.
        chance: That it lies between [1].
        verdict: "fits", "in doubt" or "does not fit".
        barred: Chance that it keeps the wearer from the suit [1].
        side: "tight" or "loose": the side that may bar, else whichever is likelier to be wrong.
        harm: Whether that side bars the wearer or hurts.
        consequence: What then happens.
    """

    place: str
    measure: Measure
    likely: float
    low: float
    high: float
    least: float
    most: float
    chance: float
    barred: float
    verdict: Verdict
    side: Literal["tight", "loose"]
    harm: Harm
    consequence: str


def left_over(place: str, room: float, layers: float, body: Values) -> Values:
    """Room less body and layers, soft tissue pressed in halfway.

    Args:
        place: Name of the place.
        room: Of the suit as it is set [m].
        layers: Thickness of underwear and garment [m].
        body: The wearer's measure [m].

    Returns:
        [m]
    """
    rule = RULES[place]
    return room - rule.layers * layers - body + 0.5 * sum(rule.yields)


def doubt_of(place: str, measure: Measure) -> float:
    """Standard deviation of a clearance [m]: of the measure, and of how far tissue yields."""
    low, high = RULES[place].yields
    return float(np.hypot(measure.deviation, (high - low) / np.sqrt(12.0)))


def chance_within(likely: float, deviation: float, least: float, most: float) -> float:
    """Chance that a clearance lies between its bounds [1]; all in one unit."""
    scale = max(deviation, 1e-9)
    upper, lower = norm.cdf((most - likely) / scale), norm.cdf((least - likely) / scale)
    return float(upper - lower)


def clearance(name: str, place: Place, measure: Measure, room: float, layers: float) -> Clearance:
    """Judge one place.

    Args:
        name: Of the place.
        place: As the suit's file has it.
        measure: The wearer's.
        room: As it is set [m].
        layers: Thickness of underwear and garment [m].
    """
    likely = float(left_over(name, room, layers, measure.value))
    deviation = doubt_of(name, measure)
    least, most = bounds_of(place)
    wrong = {
        "tight": chance_within(likely, deviation, -np.inf, least),
        "loose": chance_within(likely, deviation, most, np.inf),
    }
    rule = RULES[name]
    harms = {"tight": rule.tight_harm, "loose": rule.loose_harm}
    barring = {side: share for side, share in wrong.items() if harms[side] == "bars"}
    barred = sum(barring.values())
    weighed = barring if barred > 1.0 - DOUBTFUL else wrong
    tight = weighed.get("tight", -1.0) >= weighed.get("loose", -1.0)
    chance = chance_within(likely, deviation, least, most)
    return Clearance(
        place=name,
        measure=measure,
        likely=likely,
        low=likely - NINETY_FIFTH * deviation,
        high=likely + NINETY_FIFTH * deviation,
        least=least,
        most=most,
        chance=chance,
        barred=barred,
        verdict=_verdict(chance),
        side="tight" if tight else "loose",
        harm=rule.tight_harm if tight else rule.loose_harm,
        consequence=rule.tight if tight else rule.loose,
    )


def bounds_of(place: Place) -> tuple[float, float]:
    """Least and most clearance of a place [m]."""
    return place.least.nominal, place.most.nominal if place.most else np.inf


def _verdict(chance: float) -> Verdict:
    if chance >= DOUBTFUL:
        return "fits"
    return "in doubt" if chance > 1.0 - DOUBTFUL else "does not fit"
