"""A live estimate as an entry of the log book: what binds, the worst failures, what was learned."""

from __future__ import annotations

import hashlib
import math

from neckring.live.entries import Deed, Json, Kind, Role
from neckring.live.estimated import Band, Estimated

MOST_FAILURES = 6
"""So many failures with the least slack are written down; the pages show all of the last round."""
FIGURES = 6
"""Significant figures; more than any of these numbers deserves."""


def estimate_deed(estimated: Estimated, name: str) -> Deed:
    """What the desk records of one round.

    Args:
        estimated: Of one wearer.
        name: Of the run; makes the key with the wearer and the time.
    """
    told = f"{name} {estimated.wearer} {estimated.run_time!r}"
    key = f"estimate:{hashlib.sha256(told.encode()).hexdigest()[:40]}"
    return Deed(key, Kind.ESTIMATE, "desk", Role.DESK, "desk", estimate_body(estimated))


def estimate_body(estimated: Estimated) -> dict[str, Json]:
    """An estimate as JSON; a time that never comes is null."""
    return {
        "wearer": estimated.wearer,
        "for": _number(estimated.run_time),
        "quantities": {name: _band(band) for name, band in estimated.quantities.items()},
        "failures": [
            {
                "code": slack.code,
                "words": slack.words,
                "harm": _band(slack.harm),
                "help": _band(slack.help),
                "slack": _band(slack.slack),
                "reserve": _number(slack.reserve),
                "limit": slack.limit,
                "relief": slack.relief,
            }
            for slack in estimated.failures[:MOST_FAILURES]
        ],
        "turn_back": None if estimated.turn_back is None else _band(estimated.turn_back),
        "binding": estimated.binding,
        "suspicions": [
            {
                "code": one.code,
                "words": one.words,
                "chance": _number(one.chance),
                "stands_on": list(one.stands_on),
                "first_action": one.first_action,
            }
            for one in estimated.suspicions
        ],
        "stands_on": list(estimated.stands_on),
        "left_out": dict(estimated.left_out),
        "effective": _number(estimated.effective),
    }


def _band(band: Band) -> dict[str, Json]:
    return {"low": _number(band.low), "middle": _number(band.middle), "high": _number(band.high)}


def _number(value: float) -> float | None:
    return float(f"{value:.{FIGURES}g}") if math.isfinite(value) else None
