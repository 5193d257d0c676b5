"""Sweat and water lost, from scales and bottles."""

from __future__ import annotations

import math
from dataclasses import dataclass

from neckring.units import Quantity

SCALE = 0.05
"""[kg]; one standard deviation of a mass without a written spread (assumed: bathroom scales)."""
BOTTLE = 0.02
"""[kg]; the same of what was drunk or passed (assumed)."""
WATER = 1000.0
"""[kg/m3]; drinks and urine count as water."""


@dataclass(frozen=True)
class Weighed:
    """What was weighed and measured.

    Attributes:
        nude_before: [kg]
        nude_after: Towelled dry [kg].
        drunk: Between the two [m3]; None for nothing.
        passed: Urine between the two [m3]; None for none.
        garment_before: Under-layers and cooling garment, dry [kg]; None when not weighed.
        garment_after: The same, wet [kg].
    """

    nude_before: Quantity
    nude_after: Quantity
    drunk: Quantity | None = None
    passed: Quantity | None = None
    garment_before: Quantity | None = None
    garment_after: Quantity | None = None


@dataclass(frozen=True)
class Banded:
    """A value with one standard deviation."""

    value: float
    deviation: float


@dataclass(frozen=True)
class MassBalance:
    """What the scales say.

    Attributes:
        lost: Body mass lost [kg].
        lost_share: Of the mass before [1]: what limits are held against.
        sweat: Sweat, with what was breathed out [kg].
        kept_in_garments: Of it, found in the garments [kg]; None when they were not weighed.
        evaporated: The rest, gone with the air [kg]; None when they were not weighed.
    """

    lost: Banded
    lost_share: Banded
    sweat: Banded
    kept_in_garments: Banded | None
    evaporated: Banded | None


def mass_balance(weighed: Weighed) -> MassBalance:
    """The water balance of a run.

    sweat = before + drunk - passed - after. Water of the breath and the carbon burnt are in it:
    some 0.1 kg an hour of work (from memory), so it is an upper figure.

    Args:
        weighed: Everything of one wearer; no meal and no stool in between.
    """
    before, after = _banded(weighed.nude_before, SCALE), _banded(weighed.nude_after, SCALE)
    drunk, passed = _water(weighed.drunk), _water(weighed.passed)
    lost = _sum(before, _less(after))
    sweat = _sum(before, drunk, _less(passed), _less(after))
    share = Banded(lost.value / before.value, lost.deviation / before.value)
    if weighed.garment_before is None or weighed.garment_after is None:
        return MassBalance(lost, share, sweat, None, None)
    dry = _banded(weighed.garment_before, SCALE)
    kept = _sum(_banded(weighed.garment_after, SCALE), _less(dry))
    return MassBalance(lost, share, sweat, kept, _sum(sweat, _less(kept)))


def _banded(quantity: Quantity, usual: float) -> Banded:
    return Banded(quantity.nominal, quantity.deviation or usual)


def _water(quantity: Quantity | None) -> Banded:
    if quantity is None:
        return Banded(0.0, 0.0)
    return Banded(WATER * quantity.nominal, WATER * quantity.deviation or BOTTLE)


def _less(one: Banded) -> Banded:
    return Banded(-one.value, one.deviation)


def _sum(*parts: Banded) -> Banded:
    return Banded(
        sum(part.value for part in parts), math.sqrt(sum(part.deviation**2 for part in parts))
    )
