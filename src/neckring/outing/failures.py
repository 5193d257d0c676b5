"""What can fail: each failure a small declared change of the scenario from an instant on.

To add one, add an entry to `FAILURES`: what it is called, in which spells it can happen, what it
changes (`neckring.outing.breakage`), how the wearer goes on, and what it does to the help.
CONTRIBUTING.md shows how.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from neckring.outing import breakage
from neckring.outing.breakage import Change, Strike
from neckring.outing.scenario import Scenario
from neckring.station.run import Spell

# Whether a failure can happen in a spell that follows another (None before the first).
Possible = Callable[[Scenario, Spell, Spell | None], bool]
Conduct = Literal["walks home", "walks slowly", "lies down"]
Hindrance = Literal[
    "own hands",  # cannot open the helmet
    "jammed helmet",  # it must be freed with tools
    "facility",  # gives no relief at the bay
    "unheard",  # nobody comes before a call is missed
    "busy tender",  # helps the partner first
    "snagged",  # must be freed from the umbilical first
]


@dataclass(frozen=True)
class Failure:
    """One thing that can fail.

    Attributes:
        code: For files and other programs.
        words: In a sentence: "the fans stop".
        possible: Whether it can happen in a spell.
        change: What differs in the rows of the spells after it.
        strike: What jumps at the instant itself; None when nothing does.
        conduct: How the wearer goes on once it is noticed.
        stops_air: Whether it is felt at once because the air stops.
        hindrances: What stands in the way of help.
    """

    code: str
    words: str
    possible: Possible
    change: Change = breakage.nothing
    strike: Strike | None = None
    conduct: Conduct = "walks home"
    stops_air: bool = False
    hindrances: frozenset[Hindrance] = frozenset()

    @property
    def course(self) -> tuple[object, ...]:
        """What the wearer's body goes through: failures that share it differ only in their help."""
        unheard = "unheard" in self.hindrances  # Nobody notices before a call is missed.
        return (self.change, self.strike, self.conduct, self.stops_air, unheard)


def in_the_suit(_scenario: Scenario, spell: Spell, _before: Spell | None) -> bool:
    """The helmet is on."""
    return spell.helmet_on


def on_pack_air(_scenario: Scenario, spell: Spell, _before: Spell | None) -> bool:
    """The pack's fans give the air."""
    return spell.air == "pack" and spell.helmet_on


def several_fans(scenario: Scenario, spell: Spell, before: Spell | None) -> bool:
    """More than one fan gives the air."""
    return on_pack_air(scenario, spell, before) and scenario.suit.air.fans > 1


def on_pack_water(_scenario: Scenario, spell: Spell, _before: Spell | None) -> bool:
    """The pack's pump moves the water."""
    return spell.cooling == "pack"


def on_pack(scenario: Scenario, spell: Spell, before: Spell | None) -> bool:
    """The pack gives air and water."""
    return on_pack_air(scenario, spell, before) and spell.cooling == "pack"


def changed_to_pack(_scenario: Scenario, spell: Spell, before: Spell | None) -> bool:
    """The pack's water has just been turned on: this is when it shows."""
    return spell.cooling == "pack" and (before is None or before.cooling != "pack")


def on_facility(_scenario: Scenario, spell: Spell, _before: Spell | None) -> bool:
    """The facility gives air or water."""
    return "facility" in (spell.cooling, spell.air) and spell.helmet_on


def on_facility_water(_scenario: Scenario, spell: Spell, _before: Spell | None) -> bool:
    """The facility gives water."""
    return spell.cooling == "facility" and spell.helmet_on


def away(scenario: Scenario, spell: Spell, before: Spell | None) -> bool:
    """In the suit and away from the bay."""
    home = scenario.run.outing[0].starts_at
    return spell.helmet_on and spell.places != (home,)


def with_partner(scenario: Scenario, spell: Spell, before: Spell | None) -> bool:
    """On the pack's air beside a partner in the same case."""
    return scenario.run.hands.partner is not None and on_pack_air(scenario, spell, before)


def _hindered(*by: Hindrance) -> frozenset[Hindrance]:
    return frozenset(by)


FAILURES: tuple[Failure, ...] = (
    Failure("nothing", "nothing fails and the wearer turns for home", in_the_suit),
    Failure("fans", "the fans stop", on_pack_air, breakage.no_air, stops_air=True),
    Failure("one-fan", "one of the fans stops", several_fans, breakage.one_fan_less),
    Failure("weak-fans", "the fans turn at 60 % of their speed", on_pack_air, breakage.weak_fans),
    Failure("air-hose", "the air hose comes off", on_pack_air, breakage.no_air, stops_air=True),
    Failure("pump", "the pump stops", on_pack_water, breakage.no_water),
    Failure("weak-pump", "the pump turns at 60 % of its speed", on_pack_water, breakage.weak_pump),
    Failure("main-kinked", "the water hose is kinked", on_pack_water, breakage.main_kinked),
    Failure(
        "branch-kinked",
        "half the garment's tubes are kinked",
        on_pack_water,
        breakage.branch_kinked,
    ),
    Failure("flattened", "the garment is pressed flat", on_pack_water, breakage.flattened),
    Failure(
        "leak-outside",
        "water leaks out of the pack",
        on_pack_water,
        breakage.leaking,
        strike=breakage.most_water_lost,
    ),
    Failure(
        "leak-inside",
        "water leaks into the suit",
        on_pack_water,
        breakage.leaking,
        strike=breakage.water_into_the_suit,
    ),
    Failure(
        "not-chilled",
        "the reservoir was not chilled",
        changed_to_pack,
        strike=breakage.never_chilled,
    ),
    Failure(
        "battery",
        "the battery dies",
        on_pack,
        breakage.dead_battery,
        stops_air=True,
    ),
    Failure(
        "cold-battery",
        "cold leaves half the battery's charge",
        on_pack,
        breakage.cold_battery,
        strike=breakage.half_charged,
    ),
    Failure(
        "facility-warm",
        "the chiller stops",
        on_facility_water,
        breakage.facility_warm,
        hindrances=_hindered("facility"),
    ),
    Failure(
        "facility",
        "the facility's air and water stop",
        on_facility,
        breakage.facility_lost,
        stops_air=True,
        hindrances=_hindered("facility"),
    ),
    Failure("umbilical", "the umbilical is snagged", on_facility, hindrances=_hindered("snagged")),
    Failure(
        "helmet",
        "the helmet will not unlock",
        in_the_suit,
        hindrances=_hindered("own hands", "jammed helmet"),
    ),
    Failure("slow", "the wearer walks slowly", away, conduct="walks slowly"),
    Failure(
        "down",
        "the wearer is down",
        in_the_suit,
        conduct="lies down",
        hindrances=_hindered("own hands"),
    ),
    Failure(
        "down-unheard",
        "the wearer is down and out of contact",
        away,
        conduct="lies down",
        hindrances=_hindered("own hands", "unheard"),
    ),
    Failure(
        "fall",
        "a fall: the air hose is off and the wearer is down",
        on_pack_air,
        breakage.no_air,
        conduct="lies down",
        stops_air=True,
        hindrances=_hindered("own hands"),
    ),
    Failure("no-contact", "the bay hears nothing", away, hindrances=_hindered("unheard")),
    Failure(
        "both-fans",
        "the fans of wearer and partner stop",
        with_partner,
        breakage.no_air,
        stops_air=True,
        hindrances=_hindered("busy tender"),
    ),
)
