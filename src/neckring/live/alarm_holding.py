"""Whether a condition holds: it does, does not, nearly does, or nobody knows.

Between the value that raises an alarm and the one that ends it lies a dead band, in which a
condition is NEAR: it stays what it was. A condition of which nothing is known stays what it was,
too: a lost sensor never ends an alarm, and never raises one about what it measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from neckring.live.alarm import Rank
from neckring.live.alarm_facts import WearerNow
from neckring.live.alarm_list import LISTED
from neckring.live.estimated import Estimated
from neckring.station.limits import LIMITED
from neckring.units import format_quantity

# An estimate older than this says nothing of now [s]; three rounds of a minute each.
ESTIMATE_HOLDS = 180.0
# To how much a value is rounded in an alarm, by its dimension [SI].
SHOWN_STEPS = {
    "temperature": 0.1,
    "temperature_difference": 0.1,
    "frequency": 1.0 / 60.0,
    "fraction": 0.001,
    "specific_energy": 100.0,
    "pressure": 10.0,
}


class Holds(Enum):
    """Whether a condition holds."""

    YES = "yes"
    NEAR = "near"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Condition:
    """One thing that may be wrong, at one instant.

    Attributes:
        code: In the list of alarms.
        wearer: A, B, or empty.
        subject: Which channel, clock, tablet; empty where there is only one.
        rank: How urgent.
        words: What is wrong.
        holds: Whether it is so.
        stage: Tells limits of one quantity apart.
        waits: How long it must hold [s].
        source: What a sensor's channel comes from.
        quantity: What a sensor's channel measures.
    """

    code: str
    wearer: str
    subject: str
    rank: Rank
    words: str
    holds: Holds
    stage: str = ""
    waits: float = 0.0
    source: str = ""
    quantity: str = ""

    @property
    def key(self) -> tuple[str, str, str]:
        """Of the tree of causes."""
        return (self.code, self.wearer, self.subject)

    @property
    def identity(self) -> tuple[str, str, str, str]:
        """Of what is remembered."""
        return (*self.key, self.stage)


def listed(
    code: str, holds: Holds, words: str, wearer: str = "", subject: str = "", source: str = ""
) -> Condition:
    """A condition with the rank and the time that the list gives it."""
    entry = LISTED[code]
    rank = entry.rank or Rank.KNOW
    return Condition(code, wearer, subject, rank, words, holds, waits=entry.waits, source=source)


def yes(holds: bool) -> Holds:
    """YES or NO."""
    return Holds.YES if holds else Holds.NO


def below(value: float, raises: float, ends: float) -> Holds:
    """Whether a value is below what raises; NEAR until it is above what ends."""
    if value < raises:
        return Holds.YES
    return Holds.NO if value > ends else Holds.NEAR


def good(wearer: WearerNow, quantity: str) -> tuple[float, ...]:
    """Good readings of a quantity [SI]; none when no channel of it is good."""
    return tuple(
        channel.reading.value
        for channel in wearer.channels
        if channel.quantity == quantity and channel.reading is not None and channel.reading.good
    )


def fresh(run_time: float, wearer: WearerNow) -> Estimated | None:
    """The estimate, unless it is too old to say anything of now."""
    estimate = wearer.estimate
    return estimate if estimate and run_time - estimate.run_time <= ESTIMATE_HOLDS else None


def shown(quantity: str, value: float, finer: float = 1.0) -> str:
    """A limited quantity's value for people.

    Args:
        quantity: Which.
        value: Of it [SI].
        finer: So many times finer than usual.
    """
    dimension = LIMITED[quantity].dimension
    step = SHOWN_STEPS[dimension] / finer
    return format_quantity(round(value / step) * step, dimension)


def shown_beyond(quantity: str, value: float, bound: float) -> str:
    """A value that is beyond a bound, as finely as it takes to see that it is.

    Args:
        quantity: Which.
        value: Of it [SI].
        bound: Shown beside it [SI].
    """
    beside = shown(quantity, bound)
    told = [shown(quantity, value, finer) for finer in (1.0, 10.0)]
    return next((words for words in told if words != beside), f"{beside}, rounded,")
