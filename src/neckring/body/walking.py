"""Published equations for the metabolic rate of walking with a load.

Body and load in kg, speed in m/s, grade as rise over run (0.05 is five in a hundred, negative
downhill), results in W.
"""

from __future__ import annotations

import math

import numpy as np

from neckring.values import Values, plain

STANDING_REST = 1.05
"""[W/kg], metabolic rate of quiet rest in Looney 2022's equation; a free input there."""

OXYGEN_ENERGY = 340.6 * 60.0e-3
"""[J] per mL of oxygen at a respiratory quotient of 0.85 (ISO 8996 form, see `breath`)."""

TERRAIN_FACTORS = {
    "blacktop": 1.0,
    "dirt_road": 1.1,
    "grass": 1.1,
    "light_brush": 1.2,
    "ploughed": 1.3,
    "heavy_brush": 1.5,
    "hard_snow": 1.6,
    "swampy_bog": 1.8,
    "loose_sand": 2.1,
}
"""[1], energy over that on blacktop. Source: Soule and Goldman 1972 and (ploughed field and hard
snow, tentative) Givoni and Goldman 1971, as tabled by Herzog 2014, Internet Archaeology 36, table
3; sand 2.0 there, 2.1 in others. Energy factors: never divide a walking speed by them."""

SANTEE_STEEPEST = -0.20
SANTEE_FULL = -0.03
# The downhill correction jumps at level ground and rises again on steep slopes: it is faded in
# down to -3 % and held below -20 %, as other implementers do.

LUDLOW_DOWNHILL = 0.73


def looney_2022(
    body_mass: Values,
    load: Values,
    speed: Values,
    grade: Values = 0.0,
    terrain_factor: Values = 1.0,
    resting_rate: Values = STANDING_REST,
) -> Values:
    """Backpacking equation.

    Args:
        body_mass: [kg]
        load: Carried, suit and all [kg]; tested to 66 % of body mass.
        speed: [m/s], tested 0.45 to 1.97.
        grade: Rise over run [1].
        terrain_factor: [1], see `TERRAIN_FACTORS`.
        resting_rate: [W/kg body mass]

    Returns:
        [W]

    Source: Looney et al. 2022, Med Sci Sports Exerc 54(4):646, as transcribed in three public
        codes; two of the three let the terrain factor multiply the grade term, which is taken
        here, but downhill on rough ground the larger of the two readings. The load's location is
        not in it.
    """
    level = 1.78 * speed**0.58 + 0.27 * speed**4
    slope = _graded_term(speed, grade)
    steep = np.maximum(terrain_factor * slope, np.where(slope < 0.0, slope, -np.inf))
    moving = 0.19 + terrain_factor * level + steep
    burden = 1.0 + 1.96 * (load / body_mass) ** 1.36
    # Steep descents would take the bracket below nought; standing still is the least.
    return plain(body_mass * (resting_rate + np.maximum(moving, 0.19) * burden))


def _graded_term(speed: Values, grade: Values) -> Values:
    percent = 100.0 * np.asarray(grade)
    return 0.34 * speed * percent * (1.0 - 1.05 ** (1.0 - 1.1 ** (percent + 32.0)))


def looney_2019(mass: Values, speed: Values, grade: Values = 0.0) -> Values:
    """Graded walking equation, without load.

    Args:
        mass: Of body, or of body and load as a rough reading [kg].
        speed: [m/s], to 1.96.
        grade: Rise over run [1], -0.40 to 0.45.

    Returns:
        [W]

    Source: Looney et al. 2019, Med Sci Sports Exerc 51(9):1954.
    """
    level = 1.44 + 1.94 * speed**0.43 + 0.24 * speed**4
    return plain(mass * (level + _graded_term(speed, grade)))


def pandolf_1977(
    body_mass: Values,
    load: Values,
    speed: Values,
    grade: Values = 0.0,
    terrain_factor: Values = 1.0,
) -> Values:
    """Load carriage equation for level and uphill; low when slow or heavily loaded.

    Args:
        body_mass: [kg]
        load: [kg]
        speed: [m/s]
        grade: Rise over run [1].
        terrain_factor: [1]

    Returns:
        [W]

    Source: Pandolf, Givoni and Goldman 1977, J Appl Physiol 43:577.
    """
    total = body_mass + load
    standing = 1.5 * body_mass + 2.0 * total * (load / body_mass) ** 2
    return standing + terrain_factor * total * (1.5 * speed**2 + 35.0 * speed * grade)


def pandolf_santee(
    body_mass: Values,
    load: Values,
    speed: Values,
    grade: Values = 0.0,
    terrain_factor: Values = 1.0,
) -> Values:
    """Pandolf 1977 with Santee's correction downhill.

    Args:
        body_mass: [kg]
        load: [kg], tested to 18.
        speed: [m/s], tested at 1.34.
        grade: Rise over run [1]; held at -0.20 when steeper, correction faded in to -0.03.
        terrain_factor: [1]

    Returns:
        [W]

    Source: Santee et al. 2001 (correction as transcribed in six public codes, signed grade in both
        parts; paper not opened).
    """
    grade = np.maximum(np.asarray(grade), SANTEE_STEEPEST)
    percent, total = 100.0 * grade, body_mass + load
    correction = terrain_factor * (
        percent * total * speed / 3.5 - total * (percent + 6.0) ** 2 / body_mass + 25.0 - speed**2
    )
    fade = np.clip(grade / SANTEE_FULL, 0.0, 1.0)
    return plain(pandolf_1977(body_mass, load, speed, grade, terrain_factor) - fade * correction)


def acsm_walking_oxygen(speed: Values, grade: Values = 0.0) -> Values:
    """Oxygen uptake of level and uphill walking.

    Args:
        speed: [m/s], 0.8 to 1.7.
        grade: Rise over run [1], not negative.

    Returns:
        [mL/(kg min)], the unit of the source.

    Source: American College of Sports Medicine, Guidelines for Exercise Testing and Prescription.
    """
    per_minute = 60.0 * speed
    return 3.5 + 0.1 * per_minute + 1.8 * per_minute * grade


def acsm_walking(
    total_mass: Values, speed: Values, grade: Values = 0.0, terrain_factor: Values = 1.0
) -> Values:
    """Walking metabolic rate from the ACSM equation, total mass moved [kg].

    Args:
        total_mass: Body and load [kg].
        speed: [m/s]
        grade: Rise over run [1]; downhill counts as level.
        terrain_factor: [1], multiplies what is above rest (assumed).

    Returns:
        [W]
    """
    rest = 3.5
    moving = acsm_walking_oxygen(speed, np.maximum(grade, 0.0)) - rest
    oxygen = rest + terrain_factor * moving
    return plain(oxygen * total_mass / 60.0 * OXYGEN_ENERGY)


def ludlow_weyand(
    body_mass: Values,
    load: Values,
    speed: Values,
    grade: Values = 0.0,
    terrain_factor: Values = 1.0,
) -> Values:
    """Minimum mechanics equation.

    Args:
        body_mass: [kg]
        load: [kg], tested to 31 % of body mass.
        speed: [m/s], tested 0.4 to 1.6.
        grade: Rise over run [1], tested to 9 degrees either way.
        terrain_factor: [1]

    Returns:
        [W]; downhill is 0.73 of the level's part above rest.

    Source: Ludlow and Weyand 2017, J Appl Physiol 123:1288 (coefficients as transcribed in public
        code).
    """
    percent = 100.0 * np.maximum(np.asarray(grade), 0.0)
    bracket = 3.28 + 0.32 * percent + (1.0 + 0.19 * percent) * 2.66 * np.asarray(speed) ** 2
    bracket = np.where(np.asarray(grade) < 0.0, LUDLOW_DOWNHILL * bracket, bracket)
    oxygen = 3.05 + terrain_factor * (body_mass + load) / body_mass * bracket
    return plain(oxygen * body_mass / 60.0 * OXYGEN_ENERGY)


def climbing_power(total_mass: Values, speed: Values, grade: Values) -> Values:
    """Mechanical work against gravity in a time.

    Args:
        total_mass: Body and load [kg].
        speed: Along the path [m/s].
        grade: Rise over run [1].

    Returns:
        [W]; uphill it is stored as height and is no heat in the body, downhill it is negative and
        becomes heat there.
    """
    rise: Values = np.sin(np.arctan(grade))
    return total_mass * 9.80665 * speed * rise


def grade_of(rise: float, length: float) -> float:
    """Grade [1] of a path that rises [m] over a length along it [m].

    Raises:
        ValueError: The rise is not less than the length.
    """
    if not abs(rise) < length:
        raise ValueError(f"a path of {length:g} m cannot rise {rise:g} m")
    return rise / math.sqrt(length**2 - rise**2)
