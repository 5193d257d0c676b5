"""What help takes: times of a suit's relief, and the people who wait to give it on a run.

All defaults are assumed: round figures of our own, with a wide spread and without a published
source. Time your own drills and write what you measure.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from neckring.station.fields import Code, Plain
from neckring.station.measured import Measured, left_out
from neckring.station.written import Written
from neckring.units import Quantity

ALONG = "along"
"""Written for a tender who walks beside the wearer; no place may have it as its code."""

Brief = Annotated[Quantity, Measured("time", "1 s", "30 min")]
Long = Annotated[Quantity, Measured("time", "10 s", "60 min")]


class Help(Written):
    """How long each act of relief takes with this suit; a key left out counts as assumed.

    Attributes:
        notice_air: Until a stopped fan or a parted hose is noticed and acted on [s]. Assumed.
        notice: Until any other fault is noticed, told, and the way home begun [s]. Assumed.
        open_helmet: Opened by the wearer alone [s]; None when the wearer cannot.
        open_helmet_by_other: Opened by somebody who stands beside the wearer [s]. Assumed.
        free_helmet: A helmet that will not unlock, by a tender with tools [s]. Assumed.
        connect: Facility air and water onto the suit, at the bay [s]. Assumed.
        free_umbilical: A snagged umbilical, let go [s]. Assumed.
        undress: Out of the suit in an emergency, by tenders [s]. Assumed.
        undress_lying: The same where the wearer lies [s]. Assumed.
        carry_speed: Of those who carry a wearer in the suit [m/s]. Assumed.
    """

    notice_air: Brief = left_out("5..20 s", "time")
    notice: Brief = left_out("30..120 s", "time")
    open_helmet: Annotated[Quantity | None, Measured("time", "1 s", "30 min")] = None
    open_helmet_by_other: Brief = left_out("5..15 s", "time")
    free_helmet: Brief = left_out("60..180 s", "time")
    connect: Brief = left_out("30..60 s", "time")
    free_umbilical: Brief = left_out("20..60 s", "time")
    undress: Long = left_out("2..4 min", "time")
    undress_lying: Long = left_out("3..6 min", "time")
    carry_speed: Annotated[Quantity, Measured("speed", "0.05 m/s", "2 m/s")] = left_out(
        "0.3..0.5 m/s", "speed"
    )

    @property
    def assumed(self) -> tuple[str, ...]:
        """The keys that were left out and count as assumed."""
        return tuple(key for key in _left_out(self) if key != "open_helmet")


class Hands(Written):
    """Who helps on a run; a key left out counts as assumed.

    Attributes:
        tender: Code of the place where the tender waits, or `ALONG`. In a `Run`'s `hands` it is
            always there; as written it is empty when it was left out.
        tenders: How many there are. Assumed.
        tender_speed: At which they hurry along a path [m/s]. Assumed.
        call_every: Time between two calls; a call that is missed sends a tender [s]. Assumed.
        partner: Code of another wearer who works beside this one in a suit; None for nobody.
    """

    tender: Annotated[str, Code(also=f"the word {ALONG}")] = Field(default_factory=str)
    tenders: Annotated[int, Plain(1, 20, whole=True)] = 2
    tender_speed: Annotated[Quantity, Measured("speed", "0.1 m/s", "5 m/s")] = left_out(
        "1.0..1.5 m/s", "speed"
    )
    call_every: Annotated[Quantity, Measured("time", "10 s", "60 min", spread=False)] = left_out(
        "5 min", "time"
    )
    partner: Annotated[str | None, Code()] = None

    @property
    def walks_along(self) -> bool:
        """Whether the tender walks beside the wearer."""
        return self.tender == ALONG

    @property
    def assumed(self) -> tuple[str, ...]:
        """The keys that were left out and count as assumed."""
        return tuple(key for key in _left_out(self) if key != "partner")


class ProvedHelp(Help):
    """Times of which some come from a kit and its procedures, not from the suit's file.

    Attributes:
        origins: Key to what its time stands on, in words.
    """

    origins: dict[str, str] = Field(default_factory=dict)


ASSUMED_HELP = Help()
"""Stands for the group that a suit leaves out."""

ASSUMED_HANDS = Hands()
"""Stands for the group that a run leaves out."""


def _left_out(group: Written) -> list[str]:
    return [key for key in type(group).model_fields if key not in group.model_fields_set]
