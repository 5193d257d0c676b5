"""Water vapour in helmet and suit, step by step: sweat evaporates, cold surfaces condense.

The water balance of a zone is piecewise linear in its vapour pressure (each skin either gives all
the water it has, or is as wet as it can be; each cold surface condenses or does not), concave and
falling, so Newton's method from any start ends on the exact root after a few steps.

Source: skin evaporation after Takahashi et al. 2021 (Energy and Buildings 231:110575) with the
    wettedness held to 0..1 on both sides (ours); surfaces condense by the same Lewis-type
    conductances.
"""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.arithmetic import saturation_pressure
from neckring.compiled import compiled
from neckring.constants import (
    EXHALED_PRESSURE,
    LATENT_HEAT,
    LATENT_HEAT_PER_MOLE,
    WATER_MOLAR_MASS,
    WET_PER_WATT,
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
    BREATHED_WATER,
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
    GAS_VAPOUR_CONDUCTANCE,
    HELMET_MOLES,
    HELMET_ON,
    HELMET_TEMPERATURE,
    HELMET_WATER,
    LEAK_HELMET,
    LEAK_SUIT,
    LIQUID,
    LIQUID_CAPACITY,
    METABOLIC_HEAT,
    OPEN_HELMET,
    OUTSIDE_TEMPERATURE,
    OUTSIDE_WATER,
    PRESSURE,
    RESPIRED_HEAT_WET,
    RESPIRED_WATER,
    SATURATION,
    STEP,
    SUIT_MOLES,
    SUIT_WATER,
    SWEAT,
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
    WALL_MEAN,
    WATER_FLOW,
    WATER_IN,
    WATER_TURNOVER,
    WETTEDNESS,
    ZONE_BETA,
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
        watts = max(whole[METABOLIC_HEAT + j] + spell[EXTERNAL_WORK + j], 0.0)
        breath = WET_PER_WATT * watts / LATENT_HEAT_PER_MOLE
        whole[ZONE_INFLOW + j] = stored * water + carried + breath * EXHALED_PRESSURE
        whole[ZONE_OUTFLOW + j] = stored + flow + opened
        whole[COLD_1 + j] = traits[VISOR_CONDENSING + j] * spell[HELMET_ON + j]
        whole[COLD_1_SATURATION + j] = saturation_pressure(whole[VISOR_TEMPERATURE + j])
        # The breath gives breath (5870 Pa - p); what it takes in stands as a surface that is dry.
        whole[COLD_2 + j] = breath
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
        breath = whole[COLD_2 + j]
        taken_in = breath * max(whole[ZONE_PRESSURE + j], 0.0)
        moles = breath * EXHALED_PRESSURE - taken_in
        whole[RESPIRED_WATER + j] = moles
        whole[RESPIRED_HEAT_WET + j] = LATENT_HEAT_PER_MOLE * moles
        whole[BREATHED_WATER + j] += step * moles * WATER_MOLAR_MASS
        gained = whole[ZONE_INFLOW + j] + whole[ZONE_VALUE + j] - condensed - taken_in
        water = gained / whole[ZONE_OUTFLOW + j]
        whole[HELMET_WATER + j] = water
        entering = whole[ZONE_INFLOW + j] - stored * before - breath * EXHALED_PRESSURE
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
