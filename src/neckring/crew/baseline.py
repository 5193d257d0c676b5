"""A reading against the person's own earlier ones, since everybody is stirred before a run."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from neckring.station.gates import OwnBaseline
from neckring.station.people import CardReading

SMALLEST_SPREAD: dict[str, float] = {
    "heart_rate": 2.0 / 60.0,
    "systolic": 3.0 * 133.322387415,
    "diastolic": 3.0 * 133.322387415,
    "temperature": 0.1,
    "saturation": 0.01,
    "breathing_rate": 1.0 / 60.0,
    "carbon_monoxide": 0.01,
}
"""[SI]; no person is taken to vary less than the instrument does (assumed)."""


@dataclass(frozen=True)
class Against:
    """A reading against the card.

    Attributes:
        quantity: What.
        usual: Mean of the card [SI].
        difference: Reading less mean [SI].
        score: Difference over what one more reading may differ by [standard deviations]; None
            where the card holds too few.
        readings: How many the card holds.
        unusual: Whether the score is beyond what the team signed for.
    """

    quantity: str
    usual: float
    difference: float
    score: float | None
    readings: int
    unusual: bool


def against_card(
    quantity: str, reading: float, card: Sequence[CardReading], rule: OwnBaseline
) -> Against | None:
    """Hold a reading against the card; None where the card has nothing of it.

    Args:
        quantity: Code of what was measured.
        reading: [SI]
        card: The person's own readings.
        rule: From how many on a score is made, and which one is unusual.

    Source: one further value of a normal sample differs from its mean with the standard deviation
        s sqrt(1 + 1/n) (any text on prediction intervals, as ISO 16269-8:2004).
    """
    earlier = [found for each in card if (found := each.measured.get(quantity)) is not None]
    if not earlier:
        return None
    usual = statistics.fmean(earlier)
    difference = reading - usual
    if len(earlier) < rule.fewest:
        return Against(quantity, usual, difference, None, len(earlier), False)
    spread = max(statistics.stdev(earlier), SMALLEST_SPREAD[quantity])
    score = difference / (spread * math.sqrt(1.0 + 1.0 / len(earlier)))
    return Against(quantity, usual, difference, score, len(earlier), abs(score) > rule.beyond)
