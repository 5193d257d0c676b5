"""What the wearer carries, how it makes them lean, and what it takes to lift them."""

from __future__ import annotations

from typing import NamedTuple

from neckring.station.limits import LimitSheet
from neckring.station.suit import Suit
from neckring.station.wearer import Wearer
from neckring.suit.load import (
    LoadRemark,
    carried_share,
    centre_of_gravity_shift,
    forward_lean,
    load_remark,
    strap_pressure,
)
from neckring.values import Band

HEIGHT_OF_CENTRE = 0.57
"""[1] of stature at which the common centre of gravity stands (from memory)."""

TEAM_SHARES = {1: 1.0, 2: 2.0 / 3.0, 3: 0.5}
"""Share of the sum of what each can lift alone that a team can lift together.

Source: HSE guidance on the Manual Handling Operations Regulations 1992, "approximate guide"; it
gives nothing for four and says that more than four are unlikely to work together.
"""


class LoadLimit(NamedTuple):
    """A limit of the signed sheet on the carried share.

    Attributes:
        value: Share of body mass for this wearer [1].
        action: "caution", "turn back" or "stop now".
        crossed: Whether the suit alone crosses it.
        source: As the sheet names it.
    """

    value: float
    action: str
    crossed: bool
    source: str


class Burden(NamedTuple):
    """The load on one wearer.

    Attributes:
        carried: Suit, pack, water and ice [kg].
        share: Of body mass [1].
        remark: The published guide that it passes.
        shift: How far the common centre of gravity moves back [m].
        lean: Lean that brings it over the feet again [rad].
        strap_pressure: Peak under a shoulder strap [Pa].
        whole: Wearer and load together [kg].
        hands: People who may lift the whole plainly; None when no team of three can.
        pack: Mass of the filled pack [kg].
        pack_hands: People who may lift the filled pack onto the wearer; None as before.
        lift_limit: What one helper may lift [kg].
        limits: What the signed sheet says of the share.
    """

    carried: float
    share: float
    remark: LoadRemark
    shift: float
    lean: float
    strap_pressure: Band
    whole: float
    hands: int | None
    pack: float
    pack_hands: int | None
    lift_limit: float
    limits: tuple[LoadLimit, ...]

    @property
    def stopped(self) -> bool:
        """Whether the signed sheet forbids to go with this load."""
        return any(limit.crossed and limit.action == "stop now" for limit in self.limits)


def carried_by_wearer(suit: Suit) -> float:
    """Mass that a suit puts on its wearer: suit, pack, water and ice [kg]."""
    parts = (suit.mass, suit.pack_mass, suit.garment.water)
    return sum(part.nominal for part in (*parts, suit.reservoir.water, suit.reservoir.ice))


def filled_pack(suit: Suit) -> float:
    """Mass of the pack with its water and ice [kg]."""
    store = suit.reservoir
    return suit.pack_mass.nominal + store.water.nominal + store.ice.nominal


def team_lift(each: float, people: int) -> float:
    """What a team may lift [kg], when each of them may lift `each` [kg] alone.

    Raises:
        KeyError: The guide gives nothing for so many people.

    Source: see `TEAM_SHARES`.
    """
    return TEAM_SHARES[people] * people * each


def hands_for(mass: float, each: float) -> int | None:
    """Fewest people who may lift a mass [kg], each of whom may lift `each` [kg] alone.

    Returns:
        1 to 3; None when three are too few: then no plain lift is planned at all.
    """
    enough = (people for people in TEAM_SHARES if team_lift(each, people) >= mass)
    return next(enough, None)


def load_limits(sheet: LimitSheet, share: float, age: float) -> tuple[LoadLimit, ...]:
    """What a signed sheet says of a carried share [1] at an age [yr]."""
    return tuple(
        LoadLimit(limit.value_at(age), limit.action, limit.crossed_by(share, age), limit.source)
        for limit in sheet.limits
        if limit.quantity == "load_fraction"
    )


def burden(wearer: Wearer, suit: Suit, sheet: LimitSheet, lift_limit: float) -> Burden:
    """The load of a suit on a wearer.

    Args:
        wearer: Who.
        suit: Which.
        sheet: The signed limits.
        lift_limit: What one helper may lift [kg].
    """
    mass = wearer.mass.nominal
    carried, pack = carried_by_wearer(suit), filled_pack(suit)
    share = float(carried_share(mass, carried))
    shift = float(centre_of_gravity_shift(mass, carried, suit.centre_of_gravity_behind.nominal))
    height = HEIGHT_OF_CENTRE * wearer.height.nominal
    pressure = strap_pressure(
        pack,
        suit.hip_share.nominal,
        suit.strap.width.nominal,
        suit.strap.contact_length.nominal,
    )
    return Burden(
        carried=carried,
        share=share,
        remark=load_remark(share),
        shift=shift,
        lean=float(forward_lean(shift, height)),
        strap_pressure=pressure,
        whole=mass + carried,
        hands=hands_for(mass + carried, lift_limit),
        pack=pack,
        pack_hands=hands_for(pack, lift_limit),
        lift_limit=lift_limit,
        limits=load_limits(sheet, share, wearer.age.nominal),
    )
