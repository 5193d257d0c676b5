"""The places of a suit: which measure meets which room, and what follows when it does not fit."""

from __future__ import annotations

from math import pi
from typing import Literal, NamedTuple

Harm = Literal["bars", "hurts"]
"""Whether a place that does not fit keeps the wearer from the suit, or makes the run sore."""


class Rule(NamedTuple):
    """What one place asks of a body.

    Attributes:
        words: The place, as people call it.
        measure: Key of the wearer's measure.
        layers: How many thicknesses of underwear and garment lie in its room [1].
        yields: How far soft tissue can be pressed in without harm, least and most [m]; assumed.
        tight: What happens when there is too little room.
        loose: What happens when there is too much.
        tight_harm: Whether too little room bars or hurts.
        loose_harm: The same of too much.
    """

    words: str
    measure: str
    layers: float
    yields: tuple[float, float]
    tight: str
    loose: str
    tight_harm: Harm
    loose_harm: Harm


FIRM = (0.0, 0.0)
TWO_SIDES = 2.0
ALL_ROUND = 2.0 * pi
"""A loop that lies a thickness further out is longer by so many thicknesses."""

RULES: dict[str, Rule] = {
    "arm_openings": Rule(
        "shoulders against arm openings",
        "biacromial_breadth",
        0.0,
        FIRM,
        "the shoulder joints stand outside the openings' centres: the rims press on the upper arms "
        "and the arms cannot be raised",
        "the shoulder joints stand too far inside: the arms must reach out to the openings and "
        "cannot be moved freely",
        "bars",
        "bars",
    ),
    "shoulders": Rule(
        "shoulder breadth",
        "bideltoid_breadth",
        TWO_SIDES,
        (0.005, 0.015),
        "the upper arms are pressed to the sides",
        "the suit slides from side to side",
        "bars",
        "hurts",
    ),
    "trunk": Rule(
        "vertical trunk",
        "vertical_trunk_circumference",
        ALL_ROUND,
        (0.005, 0.020),
        "shoulders and crotch are pressed: the wearer cannot stand upright",
        "the torso hangs: the shoulders leave the arm openings and the helmet moves by itself",
        "bars",
        "bars",
    ),
    "chest": Rule(
        "chest at full breath",
        "chest_depth_full_breath",
        TWO_SIDES,
        FIRM,
        "the wearer cannot take a full breath",
        "the wearer falls forward and back inside: bruises at the ring and the ribs",
        "bars",
        "hurts",
    ),
    "chest_girth": Rule(
        "round the chest",
        "chest_circumference",
        ALL_ROUND,
        (0.005, 0.020),
        "the suit cannot be closed, or the breath is short",
        "the suit slides",
        "bars",
        "hurts",
    ),
    "hatch": Rule(
        "hips through the hatch",
        "hip_breadth",
        TWO_SIDES,
        (0.005, 0.020),
        "the hips do not pass: the wearer cannot get in, or, worse, out",
        "",
        "bars",
        "hurts",
    ),
    "neck_ring": Rule(
        "head through the neck ring",
        "head_length",
        0.0,
        FIRM,
        "the head does not pass the ring, or only with scraped ears and nose",
        "",
        "bars",
        "hurts",
    ),
    "helmet": Rule(
        "head in the helmet",
        "head_breadth",
        0.0,
        FIRM,
        "the helmet presses on the head",
        "the head strikes the shell",
        "bars",
        "hurts",
    ),
    "helmet_top": Rule(
        "crown under the helmet",
        "sitting_height",
        1.0,
        FIRM,
        "the helmet rests on the head: the neck is pushed down",
        "the eyes lie low in the visor",
        "hurts",
        "hurts",
    ),
    "sleeves": Rule(
        "arm length",
        "arm_length",
        0.0,
        FIRM,
        "the gloves pull on the fingertips",
        "the elbows bend beside the suit's: sore fingers and forearms",
        "hurts",
        "hurts",
    ),
    "legs": Rule(
        "inside leg",
        "crotch_height",
        0.0,
        FIRM,
        "the crotch is pressed at every step",
        "the boots come off the heels: falls",
        "hurts",
        "hurts",
    ),
    "gloves": Rule(
        "hand in the glove",
        "hand_length",
        0.0,
        FIRM,
        "the fingertips are pressed",
        "the fingers cannot feel or hold",
        "hurts",
        "hurts",
    ),
    "glove_breadth": Rule(
        "hand across the glove",
        "hand_breadth",
        0.0,
        FIRM,
        "the hand is pressed and soon cold",
        "the glove turns on the hand",
        "hurts",
        "hurts",
    ),
    "boots": Rule(
        "foot in the boot",
        "foot_length",
        0.0,
        FIRM,
        "the toes are pressed downhill",
        "the heel lifts: blisters and falls",
        "hurts",
        "hurts",
    ),
}
"""Rules by the place's name in the suit's file; what follows is common practice, not measured."""
