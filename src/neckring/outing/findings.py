"""What a plan found: plain frozen records, SI inside, made once and only read afterwards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from neckring.outing.outlook import Outlook

FloatArray = NDArray[np.float64]
Verdict = Literal["go", "shorten", "no-go"]
Action = Literal["caution", "turn back", "stop now"]


@dataclass(frozen=True)
class LimitFinding:
    """One limit of the signed sheet held against the computed outing.

    Attributes:
        quantity: Name of the limited quantity, one of the trace's columns.
        direction: Whether the limit is crossed above or below `value`.
        value: The limit for this wearer [SI unit of the quantity].
        sustained: How long it must hold to count [s].
        action: What the sheet demands.
        reached: Time from first dressing at which it is crossed [s]; None when never.
        worst: Most severe value over the whole run [SI unit of the quantity].
        source: Where the figure comes from, as the sheet says it.
        verified: Whether the sheet's author has read the figure in that source.
        signed_by: Who signed it.
        signed_on: Date of the signature, ISO 8601.
    """

    quantity: str
    direction: Literal["above", "below"]
    value: float
    sustained: float
    action: Action
    reached: float | None
    worst: float
    source: str
    verified: bool
    signed_by: str
    signed_on: str


@dataclass(frozen=True)
class SpellFinding:
    """One spell of the run as computed.

    Attributes:
        activity: The spell's word, for example "walk".
        place: Code of the place at its end.
        begins: Time from first dressing [s].
        ends: Time from first dressing [s].
        metabolic_rate: Planned metabolic rate [W].
        metabolic_rate_low: Lower edge of the published spread [W].
        metabolic_rate_high: Upper edge of the published spread [W].
        cooling: Cooling source: "none", "facility" or "pack".
        air: Air source: "none", "facility" or "pack".
        helmet_on: Whether the helmet is on.
        valve: Opening of the water valve, 0 to 1.
    """

    activity: str
    place: str
    begins: float
    ends: float
    metabolic_rate: float
    metabolic_rate_low: float
    metabolic_rate_high: float
    cooling: str
    air: str
    helmet_on: bool
    valve: float


@dataclass(frozen=True)
class Assumption:
    """One number or equation the plan stands on.

    Attributes:
        topic: Part of the model, for example "cooling garment".
        statement: What is taken, with its value and unit, in words.
        source: Author, year, equation or table; or "assumed"; or "station file".
        status: "published", "from memory", "assumed", "measured" or "station".
    """

    topic: str
    statement: str
    source: str
    status: Literal["published", "from memory", "assumed", "measured", "station"]


@dataclass(frozen=True)
class Residuals:
    """Relative closure errors of the run's four balances."""

    energy: float
    water: float
    co2: float
    o2: float


@dataclass(frozen=True)
class Remaining:
    """What is left in the pack when the run ends, as fractions, and when each ran out.

    Attributes:
        ice: Share of the ice left, 0 to 1; None when the pack began without ice.
        water_heat: Share left of the heat the reservoir could take up to the skin, 0 to 1.
        battery: Charge left, 0 to 1.
        ice_gone: Time at which the last ice melted [s]; None when some is left.
        battery_dead: Time of the battery's cut-off [s]; None when it lasts.
    """

    ice: float | None
    water_heat: float
    battery: float
    ice_gone: float | None
    battery_dead: float | None


@dataclass(frozen=True)
class Advice:
    """What to drink and what to weigh.

    Attributes:
        body_water_loss: Sweat, insensible and breathed water lost over the run [kg].
        drink_before: Water to drink before dressing [kg].
        drink_after: Water to drink after the run [kg].
        expected_mass_change: Expected change of the nude body mass, no drinking [kg].
        sentences: The advice in plain words.
    """

    body_water_loss: float
    drink_before: float
    drink_after: float
    expected_mass_change: float
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class LoadFinding:
    """The load on the wearer.

    Attributes:
        carried_mass: Suit, pack, water and ice [kg].
        fraction: Carried mass over body mass.
        centre_of_gravity_shift: Backward shift of the combined centre of gravity [m].
        strap_pressure_low: Lower edge of the mean pressure under a shoulder strap [Pa].
        strap_pressure_high: Upper edge of the same [Pa].
        remark: What the guides say of that fraction.
    """

    carried_mass: float
    fraction: float
    centre_of_gravity_shift: float
    strap_pressure_low: float
    strap_pressure_high: float
    remark: str


@dataclass(frozen=True)
class Plan:
    """A whole computed run.

    Attributes:
        station: Name of the station.
        invented: Whether the station's data are made up.
        run: Code of the run.
        title: Title of the run.
        wearer: Code of the wearer.
        suit: Name of the suit.
        starts: Local clock time of first dressing.
        duration: Length of the run [s].
        verdict: "go", "shorten" or "no-go".
        sentence: The verdict in one plain sentence.
        binding_limit: The first crossed limit that ends the run, or the one that comes nearest.
        longest: Time before the first limit that ends the run, cautions aside; its length when none
            does [s].
        limits: All limits of the sheet.
        spells: All spells.
        trace: Column name to values, shape (samples,), SI; always has "time" [s].
            Columns: core_temperature, core_rise, mean_skin_temperature, lowest_skin_temperature
            [degC, K], heart_rate [1/s], metabolic_rate [W], heat_storage [J/kg],
            sweat_rate [kg/s], body_water_loss [fraction of body mass], skin_wettedness [1],
            reservoir_temperature, water_inlet_temperature, water_outlet_temperature [degC],
            water_flow [m3/s], garment_heat [W], ice_mass [kg], inspired_co2, inspired_o2 [Pa],
            helmet_co2 [Pa], helmet_temperature [degC], helmet_humidity [fraction],
            fog_margin [K], air_flow [m3/s], battery_charge [fraction], battery_voltage [V],
            suit_air_temperature [degC], evaporation, heat_production [W],
            head_core_temperature, central_blood_temperature [degC], skin_core_gap [K],
            load_fraction [fraction of body mass].
        residuals: The balances' closure.
        remaining: What is left.
        advice: Drink and weigh.
        load: The load on the wearer.
        assumptions: What the numbers stand on.
        cautions: The cautions the product always carries.
        outlook: Harm against help, when it was computed.
    """

    station: str
    invented: bool
    run: str
    title: str
    wearer: str
    suit: str
    starts: datetime
    duration: float
    verdict: Verdict
    sentence: str
    binding_limit: LimitFinding | None
    longest: float
    limits: tuple[LimitFinding, ...]
    spells: tuple[SpellFinding, ...]
    trace: dict[str, FloatArray]
    residuals: Residuals
    remaining: Remaining
    advice: Advice
    load: LoadFinding
    assumptions: tuple[Assumption, ...]
    cautions: tuple[str, ...]
    outlook: Outlook | None = None
