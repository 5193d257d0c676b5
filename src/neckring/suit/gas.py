"""Heat and breathed gas of the suit's air, step by step: helmet first, then the body of the suit.

Each zone is well mixed. Species are kept per mole of dry air, so that what leaves one zone is what
enters the next and nothing is lost by rounding.

Source: mass and heat balances.
"""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.arithmetic import exponential
from neckring.compiled import compiled
from neckring.constants import (
    AIR_MOLAR_HEAT,
    CARBON_DIOXIDE_IN_AIR,
    DRY_PER_WATT,
    EXHALED_TEMPERATURE,
    OXYGEN_IN_AIR,
)
from neckring.lanes import (
    AIR_TEMPERATURE,
    AIR_TO_HELMET,
    AIR_TO_SUIT,
    CO2_IN,
    CO2_PER_WATT,
    CO2_TURNOVER,
    ENERGY_IN,
    ENERGY_TURNOVER,
    EXTERNAL_WORK,
    FACE_SHARE,
    GAS_CONDUCTANCE,
    HELMET_CO2,
    HELMET_MOLES,
    HELMET_O2,
    HELMET_ON,
    HELMET_TEMPERATURE,
    HELMET_WATER,
    INSPIRED_CO2,
    INSPIRED_O2,
    INSPIRED_TEMPERATURE,
    INSPIRED_WATER_PRESSURE,
    INTERNAL_MIXING,
    METABOLIC_HEAT,
    O2_IN,
    O2_PER_WATT,
    O2_TURNOVER,
    OPEN_HELMET,
    OUTSIDE_TEMPERATURE,
    PRESSURE,
    REBREATHED_CO2,
    RESPIRED_HEAT_DRY,
    SKIN,
    STEP,
    SUIT_CO2,
    SUIT_MOLES,
    SUIT_O2,
    SUIT_TEMPERATURE,
    TO_SKIN,
    TO_WALL,
    VISOR_INSIDE,
    VISOR_OUTSIDE,
    WALL,
    WALL_GAS,
    ZONE_CONDUCTANCE,
    ZONE_HEAT,
)

Array = NDArray[float64]


@compiled
def gather_zone_heat(
    state: Array, around: Array, whole: Array, first: int, last: int, lanes: int
) -> None:
    """Sum what skins and walls offer to a zone's air."""
    for j in range(lanes):
        whole[ZONE_HEAT + j] = 0.0
        whole[ZONE_CONDUCTANCE + j] = 0.0
    for segment in range(first, last):
        here = state[segment]
        outer = around[segment]
        for j in range(lanes):
            skin = outer[GAS_CONDUCTANCE + j]
            wall = outer[WALL_GAS + j]
            whole[ZONE_HEAT + j] += skin * here[SKIN + j] + wall * here[WALL + j]
            whole[ZONE_CONDUCTANCE + j] += skin + wall


@compiled
def give_zone_heat(
    state: Array, around: Array, whole: Array, temperature: int, first: int, last: int, lanes: int
) -> None:
    """Hand each skin and wall what the zone's air, at its new temperature, gives it."""
    for segment in range(first, last):
        here = state[segment]
        outer = around[segment]
        for j in range(lanes):
            air = whole[temperature + j]
            here[TO_SKIN + j] = outer[GAS_CONDUCTANCE + j] * (air - here[SKIN + j])
            here[TO_WALL + j] += outer[WALL_GAS + j] * (air - here[WALL + j])


@compiled
def book_heat(whole: Array, entering: float, leaving: float, step: float, j: int) -> None:
    """Book sensible heat [W] that enters or leaves the system."""
    whole[ENERGY_IN + j] += step * (entering - leaving)
    whole[ENERGY_TURNOVER + j] += step * (abs(entering) + abs(leaving))


@compiled
def helmet_heat(
    state: Array, around: Array, whole: Array, traits: Array, spell: Array, lanes: int
) -> None:
    """New temperature of the helmet's air."""
    gather_zone_heat(state, around, whole, 0, 2, lanes)
    for j in range(lanes):
        step = spell[STEP + j]
        outside = spell[OUTSIDE_TEMPERATURE + j]
        flow = AIR_MOLAR_HEAT * whole[AIR_TO_HELMET + j]
        opened = AIR_MOLAR_HEAT * spell[OPEN_HELMET + j]
        stored = AIR_MOLAR_HEAT * traits[HELMET_MOLES + j] / step
        inner = traits[VISOR_INSIDE + j]
        outer = spell[VISOR_OUTSIDE + j]
        visor = spell[HELMET_ON + j] * inner * outer / (inner + outer)
        entering = flow * whole[AIR_TEMPERATURE + j] + opened * outside + visor * outside
        heat = stored * whole[HELMET_TEMPERATURE + j] + entering + whole[ZONE_HEAT + j]
        watts = whole[METABOLIC_HEAT + j] + spell[EXTERNAL_WORK + j]
        breath = DRY_PER_WATT * max(watts, 0.0)
        heat += breath * EXHALED_TEMPERATURE
        conductance = stored + flow + opened + visor + breath + whole[ZONE_CONDUCTANCE + j]
        temperature = heat / conductance
        whole[RESPIRED_HEAT_DRY + j] = breath * (EXHALED_TEMPERATURE - temperature)
        whole[HELMET_TEMPERATURE + j] = temperature
        passed_on = spell[HELMET_ON + j] * flow
        leaving = (flow + opened + visor - passed_on) * temperature
        book_heat(whole, entering, leaving, step, j)
    give_zone_heat(state, around, whole, HELMET_TEMPERATURE, 0, 2, lanes)


@compiled
def suit_heat(
    state: Array, around: Array, whole: Array, traits: Array, spell: Array, lanes: int
) -> None:
    """New temperature of the air in the body of the suit."""
    gather_zone_heat(state, around, whole, 2, 17, lanes)
    for j in range(lanes):
        step = spell[STEP + j]
        from_helmet = AIR_MOLAR_HEAT * spell[HELMET_ON + j] * whole[AIR_TO_HELMET + j]
        direct = AIR_MOLAR_HEAT * whole[AIR_TO_SUIT + j]
        stored = AIR_MOLAR_HEAT * traits[SUIT_MOLES + j] / step
        entering = direct * whole[AIR_TEMPERATURE + j]
        heat = stored * whole[SUIT_TEMPERATURE + j] + entering + whole[ZONE_HEAT + j]
        heat += from_helmet * whole[HELMET_TEMPERATURE + j]
        temperature = heat / (stored + from_helmet + direct + whole[ZONE_CONDUCTANCE + j])
        whole[SUIT_TEMPERATURE + j] = temperature
        book_heat(whole, entering, (from_helmet + direct) * temperature, step, j)
    give_zone_heat(state, around, whole, SUIT_TEMPERATURE, 2, 17, lanes)


@compiled
def breathed_gas(whole: Array, traits: Array, spell: Array, lanes: int) -> None:
    """Carbon dioxide and oxygen of helmet and suit, exactly for the step's steady inputs."""
    for j in range(lanes):
        step = spell[STEP + j]
        watts = whole[METABOLIC_HEAT + j] + spell[EXTERNAL_WORK + j]
        flow = whole[AIR_TO_HELMET + j] + spell[OPEN_HELMET + j]
        moles = traits[HELMET_MOLES + j]
        turns = flow * step / moles
        decay = exponential(-turns)
        safe = max(turns, 1e-3)
        mean = (1.0 - decay) / safe if turns > 1e-3 else 1.0 - 0.5 * turns + turns * turns / 6.0
        gain = step / moles * mean
        o2 = whole[HELMET_O2 + j]
        # Nobody breathes oxygen that is not there: gas exchange falls with what the helmet has.
        most = flow * OXYGEN_IN_AIR + o2 * decay / gain
        used = min(spell[O2_PER_WATT + j] * watts, most)
        co2 = whole[HELMET_CO2 + j]
        made = used * spell[CO2_PER_WATT + j] / spell[O2_PER_WATT + j]
        new = co2 * decay + (flow * CARBON_DIOXIDE_IN_AIR + made) * gain
        co2_out = flow * CARBON_DIOXIDE_IN_AIR + made - moles * (new - co2) / step
        whole[HELMET_CO2 + j] = new
        new = o2 * decay + (flow * OXYGEN_IN_AIR - used) * gain
        o2_out = flow * OXYGEN_IN_AIR - used - moles * (new - o2) / step
        whole[HELMET_O2 + j] = new
        fed = spell[HELMET_ON + j] * whole[AIR_TO_HELMET + j]
        share = fed / max(flow, 1e-30)
        feed_suit(whole, traits, step, share * co2_out, share * o2_out, fed, j)
        book_gas(whole, spell, step, made, used, co2_out, o2_out, share, flow, j)


@compiled
def feed_suit(
    whole: Array, traits: Array, step: float, co2_in: float, o2_in: float, fed: float, j: int
) -> None:
    """Mix what the helmet passes on [mol/s] and the direct supply into the suit's air."""
    direct = whole[AIR_TO_SUIT + j]
    stored = traits[SUIT_MOLES + j] / step
    leaving = stored + fed + direct
    co2 = stored * whole[SUIT_CO2 + j] + co2_in + direct * CARBON_DIOXIDE_IN_AIR
    o2 = stored * whole[SUIT_O2 + j] + o2_in + direct * OXYGEN_IN_AIR
    whole[SUIT_CO2 + j] = co2 / leaving
    whole[SUIT_O2 + j] = o2 / leaving


@compiled
def book_gas(
    whole: Array,
    spell: Array,
    step: float,
    made: float,
    used: float,
    co2_out: float,
    o2_out: float,
    share: float,
    flow: float,
    j: int,
) -> None:
    """Book what entered and left both zones, in moles."""
    direct = whole[AIR_TO_SUIT + j]
    supplied = flow + direct
    fed = spell[HELMET_ON + j] * whole[AIR_TO_HELMET + j] + direct
    out = (1.0 - share) * co2_out + fed * whole[SUIT_CO2 + j]
    entered = made + supplied * CARBON_DIOXIDE_IN_AIR
    whole[CO2_IN + j] += step * (entered - out)
    whole[CO2_TURNOVER + j] += step * (entered + out)
    out = (1.0 - share) * o2_out + fed * whole[SUIT_O2 + j]
    entered = supplied * OXYGEN_IN_AIR
    whole[O2_IN + j] += step * (entered - used - out)
    whole[O2_TURNOVER + j] += step * (entered + used + out)


@compiled
def inspire(whole: Array, traits: Array, spell: Array, lanes: int) -> None:
    """What the wearer breathes in: the zone at the face, and what the dead space gives back."""
    for j in range(lanes):
        water = whole[HELMET_WATER + j]
        pressure = spell[PRESSURE + j]
        vapour = pressure * water / (1.0 + water)
        dry = pressure - vapour
        flow = whole[AIR_TO_HELMET + j]
        mixing = traits[INTERNAL_MIXING + j]
        swept = (traits[FACE_SHARE + j] * flow + mixing) / max(flow + mixing, 1e-30)
        effectiveness = max(1.0 + spell[HELMET_ON + j] * (swept - 1.0), 1e-3)
        fresh = CARBON_DIOXIDE_IN_AIR * dry
        rise = (whole[HELMET_CO2 + j] * dry - fresh) / effectiveness
        again = spell[REBREATHED_CO2 + j]
        whole[INSPIRED_CO2 + j] = min(fresh + rise + again, dry)
        fresh = OXYGEN_IN_AIR * dry
        fall = (fresh - whole[HELMET_O2 + j] * dry) / effectiveness
        again *= spell[O2_PER_WATT + j] / spell[CO2_PER_WATT + j]
        whole[INSPIRED_O2 + j] = max(fresh - fall - again, 0.0)
        whole[INSPIRED_WATER_PRESSURE + j] = vapour
        whole[INSPIRED_TEMPERATURE + j] = whole[HELMET_TEMPERATURE + j]
