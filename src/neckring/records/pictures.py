"""Which pictures a plan's page holds, and what stands in each.

Palette: Okabe and Ito, "Color Universal Design" (2008, values from memory), which people with the
common kinds of colour blindness can tell apart.
"""

from __future__ import annotations

from dataclasses import dataclass

Dashes = str | tuple[int, tuple[float, ...]]

INK, BLUE, VERMILLION, GREEN, SKY = "#1b1b1b", "#0072b2", "#d55e00", "#009e73", "#56b4e9"
DASHED: Dashes = (0, (4, 1.6))
DOTTED: Dashes = (0, (1.2, 1.4))


@dataclass(frozen=True)
class Curve:
    """One line of a panel: a trace column, the short name at its end, colour and dashes."""

    quantity: str
    name: str
    colour: str = BLUE
    dashes: Dashes = "solid"


@dataclass(frozen=True)
class Panel:
    """One axis: its curves, what else is drawn, and values that must be in view.

    Attributes:
        heading: What the axis shows, without the unit.
        curves: The lines.
        shows: Stored values that must lie inside the axis, in the unit of the first curve.
        spread: Whether to draw the published spread of the metabolic rate.
        rise: Whether the axis also counts the rise over the wearer's own baseline.
    """

    heading: str
    curves: tuple[Curve, ...]
    shows: tuple[float, ...] = ()
    spread: bool = False
    rise: bool = False


@dataclass(frozen=True)
class Picture:
    """One figure of the page.

    Attributes:
        key: Short name, unique in the page.
        title: What it shows, in a few words.
        note: What a reader should know to read it.
        panels: One or two axes over the same time.
    """

    key: str
    title: str
    note: str
    panels: tuple[Panel, ...]


CORE = Panel(
    "Core temperature (and its rise, K)",
    (Curve("core_temperature", "core", VERMILLION),),
    rise=True,
)
SKIN = Panel(
    "Skin temperature",
    (
        Curve("mean_skin_temperature", "mean skin", VERMILLION),
        Curve("lowest_skin_temperature", "coldest skin", BLUE, DASHED),
    ),
)
HEART = Panel("Heart rate", (Curve("heart_rate", "heart", VERMILLION),))
WORK = Panel("Metabolic rate", (Curve("metabolic_rate", "planned", INK),), (0.0,), spread=True)
STORAGE = Panel("Heat stored", (Curve("heat_storage", "stored", VERMILLION),), (0.0,))
SWEAT = Panel("Sweat rate", (Curve("sweat_rate", "sweat"),), (0.0,))
WATER_LOSS = Panel("Body water lost", (Curve("body_water_loss", "water lost"),), (0.0,))
WATER = Panel(
    "Water temperature",
    (
        Curve("water_outlet_temperature", "out of garment", VERMILLION, DASHED),
        Curve("water_inlet_temperature", "into garment", BLUE),
        Curve("reservoir_temperature", "reservoir", GREEN, DOTTED),
    ),
)
FLOW = Panel("Water flow", (Curve("water_flow", "flow"),), (0.0,))
ICE = Panel("Ice left", (Curve("ice_mass", "ice"),), (0.0,))
GARMENT = Panel(
    "Heat taken by the garment", (Curve("garment_heat", "garment", VERMILLION),), (0.0,)
)
CO2 = Panel(
    "Carbon dioxide, partial pressure",
    (
        Curve("inspired_co2", "inspired", VERMILLION),
        Curve("helmet_co2", "helmet air", BLUE, DASHED),
    ),
    (0.0,),
)
O2 = Panel("Inspired oxygen, partial pressure", (Curve("inspired_o2", "inspired"),))
FOG = Panel("Visor: margin to fog", (Curve("fog_margin", "margin"),), (0.0,))
HUMIDITY = Panel("Helmet humidity", (Curve("helmet_humidity", "humidity", GREEN),), (0.0, 1.0))
AIR = Panel("Air flow", (Curve("air_flow", "air"),), (0.0,))
CHARGE = Panel("Charge", (Curve("battery_charge", "charge", GREEN),), (0.0, 1.0))
VOLTAGE = Panel("Voltage", (Curve("battery_voltage", "voltage", INK),))

GROUPS: tuple[tuple[str, str, tuple[Picture, ...]], ...] = (
    (
        "wearer",
        "The wearer",
        (
            Picture(
                "core",
                "Core temperature",
                "The temperature deep in the body, and in brackets its rise over the wearer's own "
                "baseline.",
                (CORE,),
            ),
            Picture(
                "skin",
                "Skin temperature",
                "Mean over the whole body, and the coldest of its segments.",
                (SKIN,),
            ),
            Picture(
                "heart",
                "Heart rate",
                "Heart rate, not core temperature, ended most published heavy-suit trials.",
                (HEART,),
            ),
            Picture(
                "work",
                "Metabolic rate",
                "Rate at which the body turns food into work and heat. The band is the spread of "
                "the published equations, dotted at its edges.",
                (WORK,),
            ),
            Picture(
                "storage",
                "Heat stored in the body",
                "Heat gained since first dressing, for each kilogram of body mass.",
                (STORAGE,),
            ),
            Picture(
                "sweat",
                "Sweat and body water",
                "Sweat produced, and water lost by sweat, skin and breath as a share of body mass.",
                (SWEAT, WATER_LOSS),
            ),
        ),
    ),
    (
        "cooling",
        "The cooling",
        (
            Picture(
                "water",
                "Cooling water",
                "Water into and out of the garment, and in the pack's reservoir. The gap between "
                "in and out, times the flow, is the heat carried away.",
                (WATER, FLOW),
            ),
            Picture(
                "ice",
                "Ice and garment heat",
                "While ice is left the reservoir stays cold; afterwards it warms. Below: the heat "
                "the garment takes from the skin.",
                (ICE, GARMENT),
            ),
        ),
    ),
    (
        "air",
        "The air",
        (
            Picture(
                "co2",
                "Carbon dioxide",
                "A helmet is not well mixed: what is breathed in holds more carbon dioxide than "
                "the helmet's mean air. Partial pressures, so the altitude is in them.",
                (CO2,),
            ),
            Picture("o2", "Inspired oxygen", "Partial pressure of the oxygen breathed in.", (O2,)),
            Picture(
                "fog",
                "Visor fog and helmet humidity",
                "How far the visor's inner face stays above the dew point of the helmet's air: at "
                "zero it fogs.",
                (FOG, HUMIDITY),
            ),
            Picture(
                "air",
                "Air flow to the helmet",
                "Air delivered by the facility or by the pack's fan.",
                (AIR,),
            ),
        ),
    ),
    (
        "power",
        "The power",
        (Picture("battery", "Battery", "Charge left, and voltage under load.", (CHARGE, VOLTAGE)),),
    ),
)
PICTURES = tuple(picture for _, _, pictures in GROUPS for picture in pictures)
