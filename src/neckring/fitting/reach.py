"""What must be reached in the closed suit before anybody walks off in it."""

from __future__ import annotations

from neckring.station.fit import Fit

USUAL = (
    "own water valve",
    "own helmet latch or emergency release",
    "own radio switch",
    "own visor",
    "the partner's umbilical and helmet latch",
    "own knee, and up again from kneeling",
    "both hands on the head: the signal for help",
)
"""What every wearer must reach; common practice. A suit's own list takes its place."""


def reach_list(fit: Fit) -> tuple[str, ...]:
    """The reach tests of a suit: its own, or the usual ones."""
    return fit.reach or USUAL
