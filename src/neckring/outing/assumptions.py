"""What a plan's numbers stand on: equations, constants and the station's own figures."""

from __future__ import annotations

from typing import Literal

import numpy as np

from neckring.body.calibration import DILATION_GAIN, SWEAT_GAIN
from neckring.body.capacity import maximum_metabolic_rate
from neckring.body.work import range_remarks
from neckring.outing.findings import Assumption
from neckring.outing.scenario import Scenario
from neckring.outing.spells import Leg, carried_mass, movement
from neckring.suit.battery import COLDEST
from neckring.units import Quantity

Status = Literal["published", "from memory", "assumed", "measured", "station"]

# Topic, statement, source, status. Kept beside nothing else: each line names a number or equation
# that stands in the module of its topic.
FIXED: tuple[tuple[str, str, str, Status], ...] = (
    (
        "body",
        "17 segments, 85 temperatures, controller and set points as published",
        "Takahashi et al. 2021, Energy and Buildings 231:110575",
        "published",
    ),
    (
        "body",
        "core temperature is the pelvis core, near what a rectal probe reads; rises are surer "
        "than absolute values",
        "Takahashi et al. 2021; comparison in docs/validation.md",
        "published",
    ),
    (
        "body",
        f"sweat order times {SWEAT_GAIN:g}, order to widen skin vessels times {DILATION_GAIN:g}",
        "fitted by us to four series of Stolwijk and Hardy 1966, judged on the other five",
        "assumed",
    ),
    (
        "body",
        "only a core below about 36.6 degC shivers",
        "Asaka 2016, an option of Takahashi et al. 2021",
        "published",
    ),
    (
        "body",
        "sweat at most 400 W/m2, acclimatised 500 W/m2",
        "ISO 7933:2004, read in a public code",
        "published",
    ),
    (
        "body",
        "cardiac output at most 5 L/min and 5.5 L a litre of oxygen",
        "textbook figures",
        "from memory",
    ),
    (
        "heart rate",
        "share of heart-rate reserve equals share of oxygen-uptake reserve",
        "Swain 1998; Dalleck 2006 (abstracts)",
        "published",
    ),
    (
        "heart rate",
        "rises with core: 33 bpm/K in light work, 17.5 and 7.5 in hard work, 40 with hot skin",
        "ISO 9886 and own trials, Kampmann and Broede 2019; doi 10.1007/BF00421151",
        "published",
    ),
    (
        "heart rate",
        "rises 3.3 bpm a percent of body mass lost as water",
        "Montain and Coyle 1992",
        "from memory",
    ),
    (
        "work",
        "walking with load: Looney 2022; spread from Pandolf, Santee, ACSM, Ludlow-Weyand, "
        "Looney 2019",
        "Looney et al. 2022, Med Sci Sports Exerc 54:646, from public transcriptions",
        "published",
    ),
    (
        "work",
        "activities on the spot from metabolic classes",
        "ISO 8996 and ISO 7730 tables",
        "from memory",
    ),
    (
        "breath",
        "respiratory quotient 0.80 at rest to 1.00 in the hardest work",
        "ISO 8996 for its use; the line between is assumed",
        "assumed",
    ),
    (
        "breath",
        "ventilation over carbon dioxide from age, height and sex",
        "Sun et al. 2002, Am J Respir Crit Care Med 166:1443",
        "published",
    ),
    (
        "garment",
        "effectiveness-NTU against each skin; conductance is an input to be measured",
        "Kays and London 1984; measured garments 10 to 35 W/K",
        "published",
    ),
    (
        "garment",
        "the tubes' outside lies half way between water and skin for condensing",
        "assumed",
        "assumed",
    ),
    (
        "suit wall",
        "one node a segment inside its insulation; film to the suit's air 4 W/(m2 K)",
        "assumed",
        "assumed",
    ),
    (
        "sun",
        "the mean square metre of suit gets 0.4 of the level irradiance",
        "0.25 projected area, Fanger 1970; the rest assumed",
        "assumed",
    ),
    (
        "air",
        "helmet and suit are one well-mixed zone each; the face sees the helmet through an "
        "effectiveness and breathes part of each breath back",
        "form after published washout tests (Kim et al. 2020)",
        "published",
    ),
    (
        "air",
        "where the suit leaks is not known: helmet and suit leak by their volumes",
        "assumed",
        "assumed",
    ),
    (
        "reservoir",
        "well mixed; melting goes with the contact of the ice that is left",
        "contact 20 to 60 W/(K kg), from memory",
        "from memory",
    ),
    (
        "battery",
        "constant power through resistance; rest voltage of a generic cell; cold after vendor "
        "sheets",
        "Chen et al. 2020, J Electrochem Soc 167:080534; Samsung SDI sheet",
        "published",
    ),
    (
        "ventilation",
        "the greater ventilation that inspired carbon dioxide brings is not modelled",
        "assumed",
        "assumed",
    ),
)


def _figure(topic: str, label: str, quantity: Quantity) -> Assumption:
    return Assumption(topic, f"{label}: {quantity.text}", "station file", "station")


def assumptions(scenario: Scenario, ready: list[Leg]) -> tuple[Assumption, ...]:
    """Everything the plan of a scenario, with its spells made ready, stands on."""
    suit = scenario.suit
    own = (
        _figure("garment", "conductance skin to water", suit.garment.conductance),
        _figure("reservoir", "water", suit.reservoir.water),
        _figure("reservoir", "ice", suit.reservoir.ice),
        _figure("reservoir", "temperature at the start", suit.reservoir.start_temperature),
        _figure("air", "leak when no fan runs", suit.air.leak),
        _figure("air", "helmet's free volume", suit.air.helmet_volume),
        _figure("air", "share of fresh air that reaches the face", suit.air.face_share),
        _figure(
            "air",
            "share of the suit's air that wet skin reaches",
            suit.air.evaporation_effectiveness,
        ),
        _figure("work", "factor of stiff clothing", suit.bulk_factor),
        _figure("battery", "capacity", suit.battery.capacity),
        _figure("heart rate", "resting", scenario.wearer.resting_heart_rate),
        _figure("heart rate", "greatest oxygen uptake", scenario.wearer.maximum_oxygen_uptake),
    )
    beyond = _beyond_range(scenario) + _beyond_wearer(scenario, ready)
    return tuple(Assumption(*line) for line in FIXED) + beyond + own


def _beyond_wearer(scenario: Scenario, ready: list[Leg]) -> tuple[Assumption, ...]:
    """Spells that ask for more than the wearer's greatest metabolic rate."""
    uptake = scenario.of(scenario.wearer.maximum_oxygen_uptake)
    most = float(maximum_metabolic_rate(uptake * scenario.of(scenario.wearer.mass))[0])
    said = []
    for leg in ready:
        rate = float(np.asarray(leg.rate.likely).reshape(-1)[0])
        if rate > most:
            words = (
                f"{leg.spell.spell} to {leg.spell.ends_at} asks for {rate:.0f} W; "
                f"this wearer can do {most:.0f} W for minutes at most"
            )
            said.append(Assumption("work", words, "maximum oxygen uptake", "station"))
    return tuple(dict.fromkeys(said))


def _beyond_range(scenario: Scenario) -> tuple[Assumption, ...]:
    """Where a run lies outside what an equation was tested on."""
    said = []
    places = {name for spell in scenario.run.outing for name in spell.places}
    coldest = min(scenario.station.places[name].air_temperature.nominal for name in places)
    if coldest < COLDEST:
        words = f"colder than {COLDEST:.0f} degC: the battery is taken as at {COLDEST:.0f} degC"
        said.append(Assumption("battery", words, "no published figure", "assumed"))
    mass = scenario.wearer.mass.nominal
    for spell in scenario.run.outing:
        if spell.speed is None or spell.spell == "ride":
            continue
        load = float(carried_mass(scenario)[0]) + (spell.load.nominal if spell.load else 0.0)
        walked, _ = movement(scenario, spell)
        for remark in range_remarks(mass, load, spell.speed.nominal, walked.grade):
            said.append(Assumption("work", remark, "range of the studies", "assumed"))
    if scenario.suit.visor.anti_fog:
        words = (
            "anti-fog coat: below its dew point the visor wets, and clouds once the coat is gone"
        )
        said.append(Assumption("visor", words, "practice", "assumed"))
    return tuple(dict.fromkeys(said))
