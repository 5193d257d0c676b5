"""Names of uncertain quantities in words that fit behind "measure"."""

from __future__ import annotations

LABELS = {
    "suit.bulk_factor": "how much dearer the suit makes the work",
    "suit.speed_factor": "how much slower the suit makes the wearer",
    "suit.centre_of_gravity_behind": "where the load's centre of gravity lies",
    "suit.hip_share": "the share of the pack that the hips bear",
    "suit.inner.air_gap_conductance": "the conductance from skin to the suit's air",
    "suit.inner.direct_conductance": "the conductance from skin straight to the wall",
    "suit.inner.vapour_permeability_index": "the underwear's vapour permeability",
    "suit.inner.underwear_insulation": "the underwear's insulation",
    "suit.inner.liquid_capacity": "how much sweat skin and underwear hold",
    "suit.garment.water": "the water in the garment",
    "suit.garment.condensing_area": "the bare cold area of the garment's tubes",
    "suit.water_loop.ambient_conductance": "the water lines' conductance to the air around",
    "suit.reservoir.water": "the water in the reservoir",
    "suit.reservoir.ice": "the ice in the reservoir",
    "suit.reservoir.ice_contact": "how fast the ice gives its cold to the water",
    "suit.air.fan_heat_to_air": "the share of the fans' power that warms the air",
    "suit.air.helmet_share": "the share of the air that goes to the helmet",
    "suit.air.face_share": "the share of fresh air that reaches the face",
    "suit.air.internal_mixing": "the mixing of air between helmet and suit",
    "suit.air.helmet_volume": "the helmet's free volume",
    "suit.air.suit_volume": "the suit's free volume",
    "suit.air.leak": "the suit's leak",
    "suit.air.dead_space": "the helmet's dead space",
    "suit.air.evaporation_effectiveness": "the share of wet skin that the suit's air reaches",
    "suit.battery.age_factor": "the battery's capacity left by age",
    "suit.help.notice_air": "how soon a loss of air is noticed",
    "suit.help.notice": "how soon a fault is noticed",
    "suit.help.open_helmet": "the time in which the wearer opens the helmet",
    "suit.help.open_helmet_by_other": "the time in which a helper opens the helmet",
    "suit.help.free_helmet": "the time to free a jammed helmet",
    "suit.help.connect": "the time to connect the facility supply",
    "suit.help.free_umbilical": "the time to free a snagged umbilical",
    "suit.help.undress": "the time to undress the wearer in an emergency",
    "suit.help.undress_lying": "the time to undress a wearer who lies",
    "suit.help.carry_speed": "the speed at which a wearer is carried",
    "wearer.work_factor": "how hard the wearer works at what is planned",
    "run.outing.speed": "the speed on the way",
    "run.outing.load": "the load in the hands",
    "run.outing.metabolic_rate": "the metabolic rate of the work",
    "run.help.tender_speed": "the tender's speed",
    "station.places.air_temperature": "the air temperature along the way",
    "station.places.relative_humidity": "the humidity along the way",
    "station.places.radiant_temperature": "the radiant temperature along the way",
    "station.places.wind": "the wind along the way",
    "station.places.sun": "the sun along the way",
    "station.paths.length": "the length of the paths",
}

NOT_MEASURABLE = frozenset({"suit.help.notice_air", "suit.help.notice"})
"""Quantities of the files that no measurement before the run makes sure of."""


def label_of(key: str) -> str:
    """A dimension in words, for example "the garment's conductance".

    Args:
        key: Its field path, for example "suit.garment.conductance".
    """
    if key in LABELS:
        return LABELS[key]
    *before, part, leaf = [word.replace("_", " ") for word in key.split(".")]
    if before[-1:] == ["wall"]:
        return f"the wall's {leaf} on the {part}"
    if part == "shares":
        return f"the garment's share on the {leaf}"
    return f"the {part}' {leaf}" if part.endswith("s") else f"the {part}'s {leaf}"
