"""Task load: six ratings, and their plain or weighted mean.

Source: Hart, NASA Task Load Index, volume 1.0, paper and pencil package, NASA Ames 1986 (public
technical report; arithmetic only, the wording of the questions here is our own); Hart and
Staveland 1988, in Hancock and Meshkati (editors), Human Mental Workload, pages 139-183. Left
unweighted ("raw"): Byers, Bittner and Hill 1989.
"""

from __future__ import annotations

from collections.abc import Mapping

SCALES: dict[str, tuple[str, str, str]] = {
    "mental_demand": ("How much did you have to think, look and remember?", "hardly", "all I had"),
    "physical_demand": ("How hard did your body have to work?", "hardly", "all I had"),
    "temporal_demand": ("How much did the pace press you?", "not at all", "all the time"),
    "performance": ("How well did you do what was asked?", "perfectly", "not at all"),
    "effort": ("How much did it take out of you to do that well?", "hardly", "all I had"),
    "frustration": ("How much did it vex you?", "not at all", "all the time"),
}
"""Code to our own question, and the words at 0 and at 100."""
STEP, MOST = 5, 100
"""Ratings go from 0 to 100 in steps of 5: twenty intervals of a line."""
COMPARISONS = 15
"""Pairs of six."""


def raw(ratings: Mapping[str, float]) -> float:
    """Plain mean of the six ratings, 0..100.

    Args:
        ratings: Code of each scale to its rating, 0..100.

    Raises:
        ValueError: One is missing, unknown or out of range.

    Source: Byers, Bittner and Hill 1989; see above.
    """
    _refuse(ratings)
    return sum(ratings.values()) / len(SCALES)


def weighted(ratings: Mapping[str, float], chosen: Mapping[str, int]) -> float:
    """Mean of the ratings, each weighted by how often its scale was chosen, 0..100.

    Args:
        ratings: As in `raw`.
        chosen: Code of each scale to how often it was the more telling of a pair; 15 in all, and
            none more than 5 times.

    Raises:
        ValueError: The ratings are not six, or the choices are not those of 15 pairs.

    Source: Hart 1986: sum of rating times tally, divided by 15.
    """
    _refuse(ratings)
    if set(chosen) != set(SCALES) or sum(chosen.values()) != COMPARISONS:
        raise ValueError("the six scales are chosen 15 times in all")
    if not all(0 <= tally <= len(SCALES) - 1 for tally in chosen.values()):
        raise ValueError("a scale stands in five pairs")
    return sum(ratings[code] * chosen[code] for code in SCALES) / COMPARISONS


def _refuse(ratings: Mapping[str, float]) -> None:
    if set(ratings) != set(SCALES):
        raise ValueError(f"the six ratings are {', '.join(SCALES)}")
    if not all(0 <= rating <= MOST for rating in ratings.values()):
        raise ValueError("a rating lies between 0 and 100")
