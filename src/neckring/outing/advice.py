"""What to drink, what to weigh, and what the load does to the wearer."""

from __future__ import annotations

from neckring.outing.findings import Advice, LoadFinding
from neckring.outing.scenario import Scenario
from neckring.outing.spells import carried_mass
from neckring.suit.load import (
    carried_share,
    centre_of_gravity_shift,
    load_remark,
    strap_pressure,
)

# American College of Sports Medicine position stand 2007 (Med Sci Sports Exerc 39:377), from
# memory: 5 to 7 mL/kg at least four hours before; 1.5 L for each kg lost, to recover quickly.
DRINK_BEFORE_PER_MASS = 6e-3
DRINK_AFTER_PER_LOSS = 1.5
# Weighing finds what the model cannot know: 0.3 kg is what a household scale, a mouthful and damp
# hair add up to; assumed.
SCALE_DOUBT = 0.3


def drink_and_weigh(scenario: Scenario, loss: float, dripped: float) -> Advice:
    """Drinking and weighing for a run.

    Args:
        scenario: Who goes.
        loss: Water the body gives off over the run [kg].
        dripped: Part of it left wet in suit and garment [kg].
    """
    mass = scenario.wearer.mass.nominal
    before = DRINK_BEFORE_PER_MASS * mass
    after = DRINK_AFTER_PER_LOSS * loss
    rate = scenario.station.policy.drink_limit.nominal * 1000.0 * 3600.0
    sentences = (
        f"Drink about {before:.1f} L of water by four hours before dressing, then to thirst.",
        f"Afterwards drink {after:.1f} L over the next hours, not faster than {rate:.1f} L/h, "
        "and eat something salty.",
        f"Weigh the wearer nude and dry before and after: expect {loss:.1f} kg less if nothing was "
        f"drunk. A difference of more than {max(SCALE_DOUBT, 0.5 * loss):.1f} kg from that means "
        "that this plan's numbers do not fit this wearer: tell the lead before the next run.",
        f"Weigh garment and underwear too: about {dripped:.1f} kg of sweat should be in them.",
    )
    return Advice(loss, before, after, -loss, sentences)


def load_on(scenario: Scenario) -> LoadFinding:
    """The load on the wearer at the start of the outing."""
    suit, mass = scenario.suit, scenario.wearer.mass.nominal
    carried = float(carried_mass(scenario)[0])
    stored = suit.reservoir.water.nominal + suit.reservoir.ice.nominal
    share = float(carried_share(mass, carried))
    pressure = strap_pressure(
        suit.pack_mass.nominal + stored,
        suit.hip_share.nominal,
        suit.strap.width.nominal,
        suit.strap.contact_length.nominal,
    )
    remark = load_remark(share)
    shift = centre_of_gravity_shift(mass, carried, suit.centre_of_gravity_behind.nominal)
    return LoadFinding(
        carried_mass=carried,
        fraction=share,
        centre_of_gravity_shift=float(shift),
        strap_pressure_low=float(pressure.low),
        strap_pressure_high=float(pressure.high),
        remark=f"{remark.words} ({remark.source})",
    )
