"""What the wearer carries: share of body mass, lean, pressure under the straps."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from neckring.suit.reservoir import GRAVITY
from neckring.values import Band, Values

ADVISED_SHARE = 0.30
"""[1] of body mass that keeps agility (US Army ADP 3-90)."""

GREATEST_SHARE = 0.45
"""[1] of body mass above which a march is an emergency one (US Army FM 3-21.8, 7-20)."""

CENTRE_OF_MASS_HEIGHT = 1.0
"""[m] of body and load over the ground (about 0.57 of stature, from memory)."""

SKIN_FLOW_STOPS = 4_000.0
"""[Pa], about 30 mmHg, at which skin blood flow begins to stop (Holewijn 1990 and others)."""

PEAK_FACTORS = Band(2.5, 2.0, 3.0)
"""[1], peak over mean pressure under a strap (assumed; straps press on edges and bone)."""


class LoadRemark(NamedTuple):
    """Judgement of a carried share: rank (0 fine, 1 warn, 2 too much), words, source."""

    rank: int
    words: str
    source: str


def carried_share(body_mass: Values, load: Values) -> Values:
    """Carried mass, suit and all, over body mass [1]; both [kg]."""
    return load / body_mass


def load_remark(share: float) -> LoadRemark:
    """Judge a carried share of body mass.

    Args:
        share: [1]

    Returns:
        The first guide that it passes. The bounds come from marching soldiers; for volunteers of
        other ages and fitness they are upper bounds.
    """
    if share > GREATEST_SHARE:
        words = f"more than {GREATEST_SHARE:.0%} of body mass: fatigue and injury must be expected"
        return LoadRemark(2, words, "US Army FM 3-21.8, 7-20 (emergency approach march)")
    if share > ADVISED_SHARE:
        words = f"more than {ADVISED_SHARE:.0%} of body mass: slower, clumsier, sooner tired"
        return LoadRemark(1, words, "US Army ADP 3-90 (fighting load)")
    return LoadRemark(0, f"within {ADVISED_SHARE:.0%} of body mass", "US Army ADP 3-90")


def centre_of_gravity_shift(body_mass: Values, load: Values, offset: Values) -> Values:
    """How far a load moves the common centre of gravity.

    Args:
        body_mass: [kg]
        load: [kg]
        offset: Of the load behind the wearer's own centre [m].

    Returns:
        [m]
    """
    return load * offset / (body_mass + load)


def forward_lean(shift: Values, height: Values = CENTRE_OF_MASS_HEIGHT) -> Values:
    """Lean that brings the centre of gravity back over the feet [rad]; both lengths [m]."""
    lean: Values = np.arctan2(shift, height)
    return lean


def strap_force(pack_mass: Values, hip_share: Values) -> Values:
    """Force that each of two shoulder straps bears standing still.

    Args:
        pack_mass: [kg]
        hip_share: Share borne by the hips [1].

    Returns:
        [N]
    """
    return (1.0 - hip_share) * pack_mass * GRAVITY / 2.0


def strap_pressure(
    pack_mass: Values, hip_share: Values, width: Values, contact_length: Values
) -> Band:
    """Peak pressure under a shoulder strap, standing still.

    Args:
        pack_mass: [kg]
        hip_share: Share borne by the hips [1].
        width: Of the strap [m].
        contact_length: Of the strap on the shoulder [m].

    Returns:
        Band [Pa], with the spread of the peak over the mean; steps add to it.

    Source: force over area with an assumed peak factor; compare `SKIN_FLOW_STOPS`.
    """
    mean = strap_force(pack_mass, hip_share) / (width * contact_length)
    return PEAK_FACTORS.scaled(mean)
