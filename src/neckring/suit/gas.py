"""The suit's air, step by step: helmet first, then the body of the suit.

Each zone is well mixed. Species are kept per mole of dry air, so that what leaves one zone is what
enters the next and nothing is lost by rounding. The water balance of a zone is piecewise linear in
its vapour pressure (each skin either gives all the water it has, or is as wet as it can be;
each cold surface condenses or does not), concave and falling, so Newton's method from any start
ends on the exact root after a few steps.

Source: mass balances; skin evaporation after Takahashi et al. 2021 with the wettedness held to
    0..1 on both sides (ours); surfaces condense by the same Lewis-type conductances.
"""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.arithmetic import exponential, saturation_pressure
from neckring.compiled import compiled
from neckring.constants import (
    AIR_MOLAR_HEAT,
    CARBON_DIOXIDE_IN_AIR,
    LATENT_HEAT,
    LATENT_HEAT_PER_MOLE,
    OXYGEN_IN_AIR,
    WATER_MOLAR_MASS,
)
from neckring.lanes import (
    AIR_HELMET,
    AIR_IN_TEMPERATURE,
    AIR_IN_WATER,
    AIR_NEEDS_BATTERY,
    AIR_SUIT,
    AIR_TEMPERATURE,
    AIR_TO_HELMET,
    AIR_TO_SUIT,
    AIR_WATER,
    ALIVE,
    AREA_FRACTION,
    AVAILABLE,
    CO2_IN,
    CO2_PER_WATT,
    CO2_TURNOVER,
    COLD_1,
    COLD_1_SATURATION,
    COLD_2,
    COLD_2_SATURATION,
    CONDENSATE,
    DIFFUSED,
    DIRECT_VAPOUR_CONDUCTANCE,
    DRIPPED,
    ENERGY_IN,
    ENERGY_TURNOVER,
    EVAPORATED,
    EVAPORATION,
    EXTERNAL_WORK,
    FACE_SHARE,
    GAS_CONDUCTANCE,
    GAS_VAPOUR_CONDUCTANCE,
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
    LEAK_HELMET,
    LEAK_SUIT,
    LIQUID,
    LIQUID_CAPACITY,
    METABOLIC_HEAT,
    O2_IN,
    O2_PER_WATT,
    O2_TURNOVER,
    OPEN_HELMET,
    OUTSIDE_TEMPERATURE,
    OUTSIDE_WATER,
    PRESSURE,
    REBREATHED_CO2,
    RESPIRED_HEAT_DRY,
    RESPIRED_WATER,
    SATURATION,
    SKIN,
    STEP,
    SUIT_CO2,
    SUIT_MOLES,
    SUIT_O2,
    SUIT_TEMPERATURE,
    SUIT_WATER,
    SWEAT,
    TO_SKIN,
    TO_WALL,
    TRUNK_AND_LIMB_SHARE,
    TUBE_CONDENSING,
    TUBE_HEAT,
    TUBE_TEMPERATURE,
    VISOR_CONDENSING,
    VISOR_INSIDE,
    VISOR_OUTSIDE,
    VISOR_TEMPERATURE,
    WALL,
    WALL_CONDENSING,
    WALL_GAS,
    WALL_MEAN,
    WATER_FLOW,
    WATER_IN,
    WATER_TURNOVER,
    WETTEDNESS,
    ZONE_BETA,
    ZONE_CONDUCTANCE,
    ZONE_HEAT,
    ZONE_INFLOW,
    ZONE_OUTFLOW,
    ZONE_PRESSURE,
    ZONE_SLOPE,
    ZONE_VALUE,
    ZONE_WATER,
)

Array = NDArray[float64]

# Share of skin that is damp without sweating; Gagge 1937 via Takahashi et al. 2021.
DRY_WETTEDNESS = 0.06
# Newton steps of a zone's water balance; three suffice in every case tried, assumed ample.
WATER_STEPS = 5


@compiled
def surfaces(
    state: Array, body: Array, whole: Array, traits: Array, spell: Array, lanes: int
) -> None:
    """Set the flows of supplied air and the temperatures of visor and wall."""
    for j in range(lanes):
        running = 1.0 - spell[AIR_NEEDS_BATTERY + j] * (1.0 - whole[ALIVE + j])
        leaking = 1.0 - running
        whole[AIR_TO_HELMET + j] = (
            running * spell[AIR_HELMET + j] + leaking * spell[LEAK_HELMET + j]
        )
        whole[AIR_TO_SUIT + j] = running * spell[AIR_SUIT + j] + leaking * spell[LEAK_SUIT + j]
        outside = spell[OUTSIDE_TEMPERATURE + j]
        supply = running * spell[AIR_IN_TEMPERATURE + j]
        whole[AIR_TEMPERATURE + j] = supply + leaking * outside
        supply = running * spell[AIR_IN_WATER + j]
        whole[AIR_WATER + j] = supply + leaking * spell[OUTSIDE_WATER + j]
        inner = traits[VISOR_INSIDE + j]
        outer = spell[VISOR_OUTSIDE + j]
        whole[VISOR_TEMPERATURE + j] = (inner * whole[HELMET_TEMPERATURE + j] + outer * outside) / (
            inner + outer
        )
        whole[WALL_MEAN + j] = 0.0
        whole[EVAPORATED + j] = 0.0
        whole[WETTEDNESS + j] = 0.0
    for segment in range(2, 17):
        here = state[segment]
        mine = body[segment]
        for j in range(lanes):
            whole[WALL_MEAN + j] += mine[TRUNK_AND_LIMB_SHARE + j] * here[WALL + j]
    for segment in range(17):
        here = state[segment]
        for j in range(lanes):
            supply = here[SWEAT + j] + here[LIQUID + j] / spell[STEP + j]
            here[AVAILABLE + j] = LATENT_HEAT * supply
            here[EVAPORATION + j] = 0.0
            here[TO_WALL + j] = 0.0


@compiled
def helmet_water_balance(whole: Array, traits: Array, spell: Array, lanes: int) -> None:
    """Prepare the helmet's water balance: what enters, what leaves, which surface condenses."""
    for j in range(lanes):
        opened = spell[OPEN_HELMET + j]
        flow = whole[AIR_TO_HELMET + j]
        stored = traits[HELMET_MOLES + j] / spell[STEP + j]
        water = whole[HELMET_WATER + j]
        whole[ZONE_WATER + j] = water
        whole[ZONE_BETA + j] = spell[PRESSURE + j] / (1.0 + water)
        carried = flow * whole[AIR_WATER + j] + opened * spell[OUTSIDE_WATER + j]
        whole[ZONE_INFLOW + j] = stored * water + carried + whole[RESPIRED_WATER + j]
        whole[ZONE_OUTFLOW + j] = stored + flow + opened
        whole[COLD_1 + j] = traits[VISOR_CONDENSING + j] * spell[HELMET_ON + j]
        whole[COLD_1_SATURATION + j] = saturation_pressure(whole[VISOR_TEMPERATURE + j])
        whole[COLD_2 + j] = 0.0
        whole[COLD_2_SATURATION + j] = 0.0


@compiled
def suit_water_balance(whole: Array, traits: Array, spell: Array, lanes: int) -> None:
    """Prepare the same for the body of the suit, fed by the helmet and by the supply."""
    for j in range(lanes):
        from_helmet = spell[HELMET_ON + j] * whole[AIR_TO_HELMET + j]
        direct = whole[AIR_TO_SUIT + j]
        stored = traits[SUIT_MOLES + j] / spell[STEP + j]
        water = whole[SUIT_WATER + j]
        whole[ZONE_WATER + j] = water
        whole[ZONE_BETA + j] = spell[PRESSURE + j] / (1.0 + water)
        carried = from_helmet * whole[HELMET_WATER + j] + direct * whole[AIR_WATER + j]
        whole[ZONE_INFLOW + j] = stored * water + carried
        whole[ZONE_OUTFLOW + j] = stored + from_helmet + direct
        whole[COLD_1 + j] = traits[WALL_CONDENSING + j]
        whole[COLD_1_SATURATION + j] = saturation_pressure(whole[WALL_MEAN + j])
        flowing = 1.0 if whole[WATER_FLOW + j] > 1e-9 else 0.0
        whole[COLD_2 + j] = traits[TUBE_CONDENSING + j] * flowing
        whole[COLD_2_SATURATION + j] = saturation_pressure(whole[TUBE_TEMPERATURE + j])


@compiled
def solve_zone_water(
    state: Array, around: Array, whole: Array, first: int, last: int, lanes: int
) -> None:
    """Find the water content at which a zone's balance holds."""
    for _ in range(WATER_STEPS):
        for j in range(lanes):
            pressure = whole[ZONE_BETA + j] * whole[ZONE_WATER + j]
            whole[ZONE_PRESSURE + j] = pressure
            leaving = whole[ZONE_OUTFLOW + j]
            value = whole[ZONE_INFLOW + j] - leaving * whole[ZONE_WATER + j]
            over = pressure - whole[COLD_1_SATURATION + j]
            wet = whole[COLD_1 + j] if over > 0.0 else 0.0
            value -= wet * over
            slope = wet
            over = pressure - whole[COLD_2_SATURATION + j]
            wet = whole[COLD_2 + j] if over > 0.0 else 0.0
            whole[ZONE_VALUE + j] = value - wet * over
            whole[ZONE_SLOPE + j] = leaving + (slope + wet) * whole[ZONE_BETA + j]
        for segment in range(first, last):
            here = state[segment]
            outer = around[segment]
            for j in range(lanes):
                conductance = outer[GAS_VAPOUR_CONDUCTANCE + j]
                greatest = conductance * (here[SATURATION + j] - whole[ZONE_PRESSURE + j])
                limited = DRY_WETTEDNESS * greatest + (1.0 - DRY_WETTEDNESS) * here[AVAILABLE + j]
                soaked = greatest < limited
                evaporated = greatest if soaked else limited
                slope = conductance if soaked else DRY_WETTEDNESS * conductance
                whole[ZONE_VALUE + j] += evaporated / LATENT_HEAT_PER_MOLE
                whole[ZONE_SLOPE + j] += slope * whole[ZONE_BETA + j] / LATENT_HEAT_PER_MOLE
        for j in range(lanes):
            whole[ZONE_WATER + j] += whole[ZONE_VALUE + j] / whole[ZONE_SLOPE + j]


@compiled
def evaporate(
    state: Array,
    body: Array,
    around: Array,
    whole: Array,
    spell: Array,
    first: int,
    last: int,
    lanes: int,
) -> None:
    """Evaporate from each skin at the zone's pressure, keep what stays wet, let the rest drip."""
    for j in range(lanes):
        whole[ZONE_PRESSURE + j] = whole[ZONE_BETA + j] * whole[ZONE_WATER + j]
        whole[ZONE_VALUE + j] = 0.0
    for segment in range(first, last):
        here = state[segment]
        mine = body[segment]
        outer = around[segment]
        for j in range(lanes):
            step = spell[STEP + j]
            outside = (
                spell[OUTSIDE_WATER + j] * spell[PRESSURE + j] / (1.0 + spell[OUTSIDE_WATER + j])
            )
            inside = outer[GAS_VAPOUR_CONDUCTANCE + j]
            direct = outer[DIRECT_VAPOUR_CONDUCTANCE + j]
            # A segment gives its vapour either to the suit's air or straight outside.
            greatest = inside * (here[SATURATION + j] - whole[ZONE_PRESSURE + j])
            greatest += direct * (here[SATURATION + j] - outside)
            swept = min(here[AVAILABLE + j], greatest)
            diffused = DRY_WETTEDNESS * (greatest - swept)
            evaporated = swept + diffused
            enclosed = 1.0 if inside > 0.0 else 0.0
            here[EVAPORATION + j] = evaporated
            left = here[LIQUID + j] + step * (here[SWEAT + j] - swept / LATENT_HEAT)
            kept = min(left, mine[LIQUID_CAPACITY + j])
            here[LIQUID + j] = kept
            whole[DRIPPED + j] += left - kept
            whole[DIFFUSED + j] += step * diffused / LATENT_HEAT
            whole[EVAPORATED + j] += evaporated
            wettedness = min(max(evaporated / max(greatest, 1e-9), 0.0), 1.0)
            whole[WETTEDNESS + j] += mine[AREA_FRACTION + j] * wettedness
            whole[ZONE_VALUE + j] += enclosed * evaporated / LATENT_HEAT_PER_MOLE
            lost = (1.0 - enclosed) * evaporated
            whole[ENERGY_IN + j] -= step * lost
            whole[ENERGY_TURNOVER + j] += step * abs(lost)
            whole[WATER_IN + j] -= step * lost / LATENT_HEAT
            whole[WATER_TURNOVER + j] += step * abs(lost) / LATENT_HEAT


@compiled
def close_helmet_water(whole: Array, traits: Array, spell: Array, lanes: int) -> None:
    """Take the helmet's new water from its balance and book what crossed the border."""
    for j in range(lanes):
        step = spell[STEP + j]
        over = whole[ZONE_PRESSURE + j] - whole[COLD_1_SATURATION + j]
        condensed = whole[COLD_1 + j] * max(over, 0.0)
        stored = traits[HELMET_MOLES + j] / step
        before = whole[HELMET_WATER + j]
        gained = whole[ZONE_INFLOW + j] + whole[ZONE_VALUE + j] - condensed
        water = gained / whole[ZONE_OUTFLOW + j]
        whole[HELMET_WATER + j] = water
        entering = whole[ZONE_INFLOW + j] - stored * before - whole[RESPIRED_WATER + j]
        passed_on = spell[HELMET_ON + j] * whole[AIR_TO_HELMET + j]
        leaving = (whole[ZONE_OUTFLOW + j] - stored - passed_on) * water
        whole[CONDENSATE + j] += step * condensed * WATER_MOLAR_MASS
        book_water(whole, entering, leaving, step, j)
        # The visor gives the heat of condensing to the outside.
        whole[ENERGY_IN + j] -= step * condensed * LATENT_HEAT_PER_MOLE
        whole[ENERGY_TURNOVER + j] += step * condensed * LATENT_HEAT_PER_MOLE


@compiled
def book_water(whole: Array, entering: float, leaving: float, step: float, j: int) -> None:
    """Book vapour [mol/s] that enters or leaves with air, as water and as latent heat."""
    whole[WATER_IN + j] += step * (entering - leaving) * WATER_MOLAR_MASS
    whole[WATER_TURNOVER + j] += step * (entering + leaving) * WATER_MOLAR_MASS
    whole[ENERGY_IN + j] += step * (entering - leaving) * LATENT_HEAT_PER_MOLE
    whole[ENERGY_TURNOVER + j] += step * (entering + leaving) * LATENT_HEAT_PER_MOLE


@compiled
def close_suit_water(
    state: Array, body: Array, whole: Array, traits: Array, spell: Array, lanes: int
) -> None:
    """The same for the suit; the wall and the cold tubes keep the heat of condensing."""
    for j in range(lanes):
        step = spell[STEP + j]
        over = whole[ZONE_PRESSURE + j] - whole[COLD_1_SATURATION + j]
        on_wall = whole[COLD_1 + j] * max(over, 0.0)
        over = whole[ZONE_PRESSURE + j] - whole[COLD_2_SATURATION + j]
        on_tubes = whole[COLD_2 + j] * max(over, 0.0)
        stored = traits[SUIT_MOLES + j] / step
        gained = whole[ZONE_INFLOW + j] + whole[ZONE_VALUE + j] - on_wall - on_tubes
        water = gained / whole[ZONE_OUTFLOW + j]
        whole[SUIT_WATER + j] = water
        entering = whole[AIR_TO_SUIT + j] * whole[AIR_WATER + j]
        leaving = (whole[ZONE_OUTFLOW + j] - stored) * water
        whole[CONDENSATE + j] += step * (on_wall + on_tubes) * WATER_MOLAR_MASS
        whole[TUBE_HEAT + j] = on_tubes * LATENT_HEAT_PER_MOLE
        whole[ZONE_VALUE + j] = on_wall * LATENT_HEAT_PER_MOLE
        book_water(whole, entering, leaving, step, j)
    for segment in range(2, 17):
        here = state[segment]
        mine = body[segment]
        for j in range(lanes):
            here[TO_WALL + j] += mine[TRUNK_AND_LIMB_SHARE + j] * whole[ZONE_VALUE + j]


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
        heat += whole[RESPIRED_HEAT_DRY + j]
        conductance = stored + flow + opened + visor + whole[ZONE_CONDUCTANCE + j]
        temperature = heat / conductance
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
        co2 = whole[HELMET_CO2 + j]
        made = spell[CO2_PER_WATT + j] * watts
        new = co2 * decay + (flow * CARBON_DIOXIDE_IN_AIR + made) * gain
        co2_out = flow * CARBON_DIOXIDE_IN_AIR + made - moles * (new - co2) / step
        whole[HELMET_CO2 + j] = new
        o2 = whole[HELMET_O2 + j]
        # Nobody breathes oxygen that is not there: consumption stops when the helmet has none.
        most = flow * OXYGEN_IN_AIR + o2 * decay / gain
        used = min(spell[O2_PER_WATT + j] * watts, most)
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
        swept = (traits[FACE_SHARE + j] * flow + mixing) / (flow + mixing)
        effectiveness = 1.0 + spell[HELMET_ON + j] * (swept - 1.0)
        fresh = CARBON_DIOXIDE_IN_AIR * dry
        rise = (whole[HELMET_CO2 + j] * dry - fresh) / effectiveness
        again = spell[REBREATHED_CO2 + j]
        whole[INSPIRED_CO2 + j] = fresh + rise + again
        fresh = OXYGEN_IN_AIR * dry
        fall = (fresh - whole[HELMET_O2 + j] * dry) / effectiveness
        again *= spell[O2_PER_WATT + j] / spell[CO2_PER_WATT + j]
        whole[INSPIRED_O2 + j] = max(fresh - fall - again, 0.0)
        whole[INSPIRED_WATER_PRESSURE + j] = vapour
        whole[INSPIRED_TEMPERATURE + j] = whole[HELMET_TEMPERATURE + j]
