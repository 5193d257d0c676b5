"""A scenario: who goes out in what, where, for what, with every quantity at a chosen value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.station.run import Run
from neckring.station.site import Station
from neckring.station.suit import Suit
from neckring.station.wearer import Wearer
from neckring.units import Quantity

FloatArray = NDArray[np.float64]
# Gives each quantity its values for all members, shape (members,).
Draw = Callable[[Quantity], FloatArray]


def nominal(quantity: Quantity) -> FloatArray:
    """The value as written, for a single member."""
    return np.array([quantity.nominal])


@dataclass(frozen=True, eq=False)
class Scenario:
    """Everything a simulation needs, validated and in SI.

    Attributes:
        station: Places, paths and facility supply.
        suit: The suit, with whatever it extends already filled in.
        wearer: Who wears it.
        run: What they do.
        members: How many members are computed side by side.
        draw: Value of each quantity for each member; `nominal` for one member as written.
    """

    station: Station
    suit: Suit
    wearer: Wearer
    run: Run
    members: int = 1
    draw: Draw = nominal

    def of(self, quantity: Quantity | None, default: float = 0.0) -> FloatArray:
        """Values of a quantity for all members; of `default` when there is none."""
        if quantity is None:
            return np.full(self.members, default)
        return np.broadcast_to(self.draw(quantity), (self.members,)).astype(np.float64)
