"""What the body does about its temperature: sweat, skin flow, shivering.

The loops run over members; the equations are those of Takahashi et al. 2021 (Energy and Buildings
231:110575), which keep the controller of Stolwijk 1971 (NASA CR-1855). Caps on sweat rate and on
cardiac output are ours, off when set to infinity.
"""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from neckring.arithmetic import exponential, saturation_pressure
from neckring.compiled import compiled
from neckring.constants import BLOOD_HEAT, LATENT_HEAT
from neckring.lanes import (
    AREA_FRACTION,
    AREA_RATIO,
    BASAL_METABOLISM,
    BASE_FLOW_CORE,
    BASE_FLOW_FAT,
    BASE_FLOW_MUSCLE,
    BASE_FLOW_SKIN,
    BASE_HEAT_CORE,
    BASE_HEAT_FAT,
    BASE_HEAT_MUSCLE,
    BASE_HEAT_SKIN,
    CARDIAC_LIMIT,
    CARDIAC_OUTPUT,
    COLD,
    CONSTRICTION,
    CONSTRICTION_SHARE,
    CORE,
    CORE_ERROR,
    CORE_ERROR_WEIGHT,
    DILATION,
    DILATION_GAIN,
    DILATION_SHARE,
    EXTERNAL_WORK,
    FEMALE,
    FLOW_CORE,
    FLOW_FAT,
    FLOW_MUSCLE,
    FLOW_OWN,
    FLOW_RATIO,
    FLOW_SKIN,
    FOOT_SHUNT,
    HAND_SHUNT,
    HEAD_CORE,
    HEAD_ERROR,
    HEAT_CORE,
    HEAT_FAT,
    HEAT_MUSCLE,
    HEAT_SKIN,
    MEAN_SKIN,
    METABOLIC_HEAT,
    METABOLIC_RATE,
    NONSHIVER,
    NONSHIVER_LIMIT,
    NONSHIVER_SHARE,
    OTHER_FLOW_TOTAL,
    RECEPTOR,
    SATURATION,
    SET_CORE,
    SET_SKIN,
    SHIVER,
    SHIVER_GATE,
    SHIVER_SHARE,
    SKIN,
    SKIN_ERROR,
    SKIN_FLOW_SCALE,
    SKIN_FLOW_TOTAL,
    SWEAT,
    SWEAT_GAIN,
    SWEAT_LIMIT,
    SWEAT_SCALE,
    SWEAT_SHARE,
    SWEAT_SIGNAL,
    SWEAT_TOTAL,
    WARM,
    WORK_SHARE,
)

Array = NDArray[float64]


# Extra muscle flow [L/h] per watt of work or shivering; Stolwijk 1971: 1/1.163.
FLOW_PER_WATT = 1.0 / 1.163
# Exponents of local skin temperature, per kelvin: 2**(e/10) on sweat and 2**(e/6) on skin flow;
# Stolwijk 1971. Both are powers of 2**(e/30).
LN2_OVER_30 = 0.6931471805599453 / 30.0
# Least share of the wanted skin flow that the cardiac cap leaves; assumed.
LEAST_SKIN_FLOW = 0.1


@compiled
def sense(state: Array, body: Array, whole: Array, active: float, lanes: int) -> None:
    """Gather the error signals of core and skin; `active` 0 makes the body passive."""
    for j in range(lanes):
        whole[HEAD_CORE + j] = state[0, CORE + j]
        whole[HEAD_ERROR + j] = active * (state[0, CORE + j] - body[0, SET_CORE + j])
        whole[WARM + j] = 0.0
        whole[COLD + j] = 0.0
        whole[SKIN_ERROR + j] = 0.0
        whole[CORE_ERROR + j] = 0.0
    for segment in range(17):
        here = state[segment]
        mine = body[segment]
        for j in range(lanes):
            error = active * (here[SKIN + j] - mine[SET_SKIN + j])
            core_error = active * (here[CORE + j] - mine[SET_CORE + j])
            whole[WARM + j] += mine[RECEPTOR + j] * max(error, 0.0)
            whole[COLD + j] += mine[RECEPTOR + j] * max(-error, 0.0)
            whole[SKIN_ERROR + j] += mine[AREA_FRACTION + j] * error
            whole[CORE_ERROR + j] += mine[CORE_ERROR_WEIGHT + j] * core_error


@compiled
def shiver_gate(whole: Array, traits: Array, j: int) -> float:
    """1 when the core is cold enough for its skin to shiver, or when no gate is asked for.

    Source: thresholds of Asaka 2016, an option of Takahashi et al. 2021.
    """
    skin = whole[MEAN_SKIN + j]
    man = 44.10 - 0.2436 * skin
    woman = 43.05 - 0.2250 * skin
    threshold = man + traits[FEMALE + j] * (woman - man)
    threshold = 36.6 if skin < 31.0 else threshold
    closed = traits[SHIVER_GATE + j] if whole[HEAD_CORE + j] > threshold else 0.0
    return 1.0 - closed


@compiled
def signal(whole: Array, traits: Array, active: float, lanes: int) -> None:
    """Turn the errors into the whole body's orders.

    Source: Takahashi et al. 2021; shunt openness Takemori 1995 as in Kobayashi and Tanabe 2013
        (Building and Environment 66:1); non-shivering heat Asaka 2016.
    """
    for j in range(lanes):
        head = whole[HEAD_ERROR + j]
        skin = whole[WARM + j] - whole[COLD + j]
        ratio = traits[AREA_RATIO + j]
        sweat = max(371.2 * head + 33.64 * skin, 0.0)
        whole[SWEAT_SIGNAL + j] = sweat * ratio * traits[SWEAT_GAIN + j]
        dilation = max(100.5 * head + 6.4 * skin, 0.0)
        whole[DILATION + j] = dilation * traits[DILATION_GAIN + j]
        whole[CONSTRICTION + j] = max(-10.8 * (head + skin), 0.0)
        shiver = ratio * max(-24.36 * whole[COLD + j] * head, 0.0)
        whole[SHIVER + j] = shiver * shiver_gate(whole, traits, j)
        whole[NONSHIVER + j] = ratio * min(2.8 * whole[COLD + j], traits[NONSHIVER_LIMIT + j])
        mean_skin = 0.265 * whole[SKIN_ERROR + j]
        mean_core = 0.953 * whole[CORE_ERROR + j]
        hand = mean_skin + mean_core + 0.265 * 0.43 + 0.953 * 0.1905 + 0.9126
        foot = mean_skin + mean_core - 0.265 * 0.997 + 0.953 * 0.0095 + 0.9126
        scale = active * traits[FLOW_RATIO + j] * BLOOD_HEAT
        whole[HAND_SHUNT + j] = scale * 1.71 * min(max(hand, 0.0), 1.0)
        whole[FOOT_SHUNT + j] = scale * 2.16 * min(max(foot, 0.0), 1.0)
        whole[SWEAT_TOTAL + j] = 0.0
        whole[SKIN_FLOW_TOTAL + j] = 2.0 * (whole[HAND_SHUNT + j] + whole[FOOT_SHUNT + j])
        whole[OTHER_FLOW_TOTAL + j] = 0.0
        whole[METABOLIC_HEAT + j] = 0.0


@compiled
def respond(
    state: Array,
    body: Array,
    whole: Array,
    traits: Array,
    spell: Array,
    active: float,
    lanes: int,
) -> None:
    """Set each segment's sweat, blood flow and heat from the orders."""
    for segment in range(17):
        here = state[segment]
        mine = body[segment]
        for j in range(lanes):
            error = active * (here[SKIN + j] - mine[SET_SKIN + j])
            warmth = exponential(LN2_OVER_30 * error)
            cubed = warmth * warmth * warmth
            sweat = mine[SWEAT_SHARE + j] * whole[SWEAT_SIGNAL + j] * cubed / LATENT_HEAT
            here[SWEAT + j] = sweat
            whole[SWEAT_TOTAL + j] += sweat
            opened = 1.0 + mine[DILATION_SHARE + j] * whole[DILATION + j]
            closed = 1.0 + mine[CONSTRICTION_SHARE + j] * whole[CONSTRICTION + j]
            flow = opened / closed * mine[BASE_FLOW_SKIN + j] * cubed * warmth * warmth
            here[FLOW_SKIN + j] = flow
            whole[SKIN_FLOW_TOTAL + j] += flow
            here[SATURATION + j] = saturation_pressure(here[SKIN + j])
        for j in range(lanes):
            # Below the basal rate (deep rest, measured) the basal heat is scaled; muscles never
            # cool.
            basal = traits[BASAL_METABOLISM + j]
            rested = min(spell[METABOLIC_RATE + j] / basal, 1.0)
            work = max(spell[METABOLIC_RATE + j] - basal, 0.0)
            # Work against gravity leaves the body as height, not as heat; descending returns it.
            heat = mine[WORK_SHARE + j] * (work - spell[EXTERNAL_WORK + j])
            effort = mine[WORK_SHARE + j] * work + mine[SHIVER_SHARE + j] * whole[SHIVER + j]
            heat += mine[SHIVER_SHARE + j] * whole[SHIVER + j]
            extra_flow = effort * (FLOW_PER_WATT * BLOOD_HEAT)
            # Head and pelvis have a muscle layer of their own; elsewhere muscle is in the core.
            layered = 1.0 if mine[BASE_FLOW_MUSCLE + j] > 0.0 else 0.0
            nonshiver = mine[NONSHIVER_SHARE + j] * whole[NONSHIVER + j]
            here[HEAT_CORE + j] = (
                rested * mine[BASE_HEAT_CORE + j] + (1.0 - layered) * heat + nonshiver
            )
            here[HEAT_MUSCLE + j] = rested * mine[BASE_HEAT_MUSCLE + j] + layered * heat
            here[HEAT_FAT + j] = rested * mine[BASE_HEAT_FAT + j]
            here[HEAT_SKIN + j] = rested * mine[BASE_HEAT_SKIN + j]
            here[FLOW_CORE + j] = mine[BASE_FLOW_CORE + j] + (1.0 - layered) * extra_flow
            here[FLOW_MUSCLE + j] = mine[BASE_FLOW_MUSCLE + j] + layered * extra_flow
            here[FLOW_FAT + j] = mine[BASE_FLOW_FAT + j]
            deep = here[FLOW_CORE + j] + here[FLOW_MUSCLE + j] + here[FLOW_FAT + j]
            here[FLOW_OWN + j] = deep
            whole[OTHER_FLOW_TOTAL + j] += deep
            whole[METABOLIC_HEAT + j] += here[HEAT_CORE + j] + here[HEAT_MUSCLE + j]
            whole[METABOLIC_HEAT + j] += here[HEAT_FAT + j] + here[HEAT_SKIN + j]


@compiled
def cap(state: Array, whole: Array, traits: Array, lanes: int) -> None:
    """Hold sweat rate and cardiac output to the member's greatest ones; ours, not the paper's."""
    for j in range(lanes):
        whole[SWEAT_SCALE + j] = min(
            1.0, traits[SWEAT_LIMIT + j] / max(whole[SWEAT_TOTAL + j], 1e-12)
        )
        room = traits[CARDIAC_LIMIT + j] - whole[OTHER_FLOW_TOTAL + j]
        scale = min(1.0, max(room / whole[SKIN_FLOW_TOTAL + j], LEAST_SKIN_FLOW))
        whole[SKIN_FLOW_SCALE + j] = scale
        whole[HAND_SHUNT + j] *= scale
        whole[FOOT_SHUNT + j] *= scale
        whole[CARDIAC_OUTPUT + j] = whole[OTHER_FLOW_TOTAL + j] + scale * whole[SKIN_FLOW_TOTAL + j]
        whole[SWEAT_TOTAL + j] *= whole[SWEAT_SCALE + j]
    for segment in range(17):
        here = state[segment]
        for j in range(lanes):
            here[SWEAT + j] *= whole[SWEAT_SCALE + j]
            here[FLOW_SKIN + j] *= whole[SKIN_FLOW_SCALE + j]
            here[FLOW_OWN + j] += here[FLOW_SKIN + j]
