"""The 17 segments of the published body, and how they are made to fit one person.

All figures are facts of Takahashi et al. 2021 (Energy and Buildings 231:110575), which takes areas,
masses and tissue from Tanabe et al. 2002 (65MN, Energy and Buildings 34:637), head and neck from
Smith 1991, vessels from Yokoyama and Mitchell, controller shares from Stolwijk 1971.
Segments in the order of `neckring.lanes.SEGMENT_NAMES`; left and right are equal.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.constants import BLOOD_HEAT

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def by_segment(trunk: list[float], arm: list[float], leg: list[float]) -> FloatArray:
    """One value a segment, shape (17,), from head..pelvis, one arm and one leg."""
    return np.array([*trunk, *arm, *arm, *leg, *leg], dtype=np.float64)


REFERENCE_MASS = 74.43
REFERENCE_BLOOD_FLOW = 290.0

AREA = by_segment([0.110, 0.029, 0.175, 0.161, 0.221], [0.096, 0.063, 0.050], [0.209, 0.112, 0.056])
REFERENCE_AREA = float(AREA.sum())

# Capacities [Wh/K].
ARTERY_CAPACITY = by_segment(
    [0.096, 0.025, 0.12, 0.111, 0.265], [0.0186, 0.0091, 0.0044], [0.0813, 0.04, 0.0103]
)
VEIN_CAPACITY = by_segment(
    [0.321, 0.085, 0.424, 0.39, 0.832], [0.046, 0.024, 0.01], [0.207, 0.1, 0.024]
)
SUPERFICIAL_CAPACITY = by_segment([0, 0, 0, 0, 0], [0.025, 0.015, 0.011], [0.074, 0.05, 0.021])
CENTRAL_CAPACITY = 1.999
CORE_CAPACITY = by_segment(
    [1.7229, 0.564, 10.2975, 9.3935, 4.488], [1.6994, 1.1209, 0.1536], [5.3117, 2.867, 0.2097]
)
MUSCLE_CAPACITY = by_segment([0.305, 0, 0, 0, 7.409], [0, 0, 0], [0, 0, 0])
FAT_CAPACITY = by_segment([0.203, 0, 0, 0, 1.947], [0, 0, 0], [0, 0, 0])
SKIN_CAPACITY = by_segment(
    [0.1885, 0.058, 0.441, 0.406, 0.556], [0.126, 0.084, 0.088], [0.334, 0.169, 0.107]
)

# Conductances [W/K].
CORE_MUSCLE = by_segment([1.601, 0, 0, 0, 3.0813], [0, 0, 0], [0, 0, 0])
MUSCLE_FAT = by_segment([13.222, 0, 0, 0, 10.3738], [0, 0, 0], [0, 0, 0])
FAT_SKIN = by_segment([16.008, 0, 0, 0, 41.4954], [0, 0, 0], [0, 0, 0])
VESSEL_CORE = by_segment([0, 0, 0, 0, 0], [0.586, 0.383, 1.534], [0.810, 0.435, 1.816])
SUPERFICIAL_SKIN = by_segment([0, 0, 0, 0, 0], [57.735, 37.768, 16.634], [102.012, 54.784, 24.277])
ARTERY_VEIN = by_segment([0, 0, 0, 0, 0], [0.537, 0.351, 0.762], [0.826, 0.444, 0.992])
# Core to skin by body-fat class: below 12.5, 17.5, 22.5, 27.5 % and above. Head and pelvis have
# their layers instead.
CORE_SKIN_BY_FAT = np.stack(
    [
        by_segment([0, 0.930, 1.879, 1.729, 0], [1.557, 1.018, 2.210], [2.565, 1.378, 3.404]),
        by_segment([0, 0.909, 1.785, 1.643, 0], [1.501, 0.982, 2.183], [2.468, 1.326, 3.370]),
        by_segment([0, 0.889, 1.698, 1.563, 0], [1.448, 0.947, 2.156], [2.375, 1.276, 3.337]),
        by_segment([0, 0.870, 1.618, 1.488, 0], [1.396, 0.913, 2.130], [2.285, 1.227, 3.304]),
        by_segment([0, 0.852, 1.542, 1.419, 0], [1.346, 0.880, 1.945], [2.198, 1.181, 3.271]),
    ]
)
FAT_CLASS_EDGES = np.array([0.125, 0.175, 0.225, 0.275])

# Basal blood flows [L/h].
CORE_FLOW = by_segment(
    [35.251, 15.240, 89.214, 87.663, 18.686], [1.808, 0.940, 0.217], [1.406, 0.164, 0.080]
)
MUSCLE_FLOW = by_segment([0.682, 0, 0, 0, 12.614], [0, 0, 0], [0, 0, 0])
FAT_FLOW = by_segment([0.265, 0, 0, 0, 2.219], [0, 0, 0], [0, 0, 0])
SKIN_FLOW = by_segment(
    [1.754, 0.325, 1.967, 1.475, 2.272], [0.91, 0.508, 1.114], [1.456, 0.651, 0.934]
)

# Shares of basal metabolism.
CORE_HEAT = by_segment(
    [0.19551, 0.00324, 0.28689, 0.25677, 0.09509],
    [0.01435, 0.00409, 0.00106],
    [0.01557, 0.00422, 0.00250],
)
MUSCLE_HEAT = by_segment([0.00252, 0, 0, 0, 0.04804], [0, 0, 0], [0, 0, 0])
FAT_HEAT = by_segment([0.00127, 0, 0, 0, 0.00950], [0, 0, 0], [0, 0, 0])
SKIN_HEAT = by_segment(
    [0.00152, 0.00033, 0.00211, 0.00187, 0.00300],
    [0.00059, 0.00031, 0.00059],
    [0.00144, 0.00027, 0.00118],
)

# Controller shares.
WORK_SHARE = by_segment(
    [0, 0, 0.091, 0.08, 0.129], [0.0262, 0.0139, 0.005], [0.2010, 0.0990, 0.005]
)
SHIVER_SHARE = by_segment(
    [0.0339, 0.0436, 0.27394, 0.24102, 0.38754],
    [0.00243, 0.00137, 0.0002],
    [0.0039, 0.00175, 0.00035],
)
NONSHIVER_SHARE = by_segment([0, 0.190, 0, 0.190, 0.190], [0.215, 0, 0], [0, 0, 0])
SWEAT_SHARE = by_segment(
    [0.064, 0.017, 0.146, 0.129, 0.206], [0.051, 0.026, 0.0155], [0.073, 0.036, 0.0175]
)
DILATION_SHARE = by_segment(
    [0.0692, 0.0992, 0.0580, 0.0679, 0.0707], [0.0400, 0.0373, 0.0632], [0.0736, 0.0411, 0.0623]
)
CONSTRICTION_SHARE = by_segment(
    [0.0213, 0.0213, 0.0638, 0.0638, 0.0638], [0.0213, 0.0213, 0.1489], [0.0213, 0.0213, 0.1489]
)
RECEPTOR = by_segment(
    [0.0549, 0.0146, 0.1492, 0.1321, 0.2122], [0.0227, 0.0117, 0.0923], [0.0501, 0.0251, 0.0167]
)
# Weights of chest, back and pelvis cores in the shunts' signal are their capacities.
SHUNT_CORES = (2, 3, 4)

# Decline with age, from 60 years on.
OLD_SWEAT = by_segment([0.69, 0.69, 0.59, 0.52, 0.40], [0.75, 0.75, 0.75], [0.40, 0.40, 0.40])
OLD_DILATION = by_segment([0.91, 0.91, 0.47, 0.47, 0.31], [0.47, 0.47, 0.47], [0.31, 0.31, 0.31])
OLD_AGE = 60.0
SHIVER_AGES = np.array([30.0, 40.0, 50.0, 60.0, 70.0, 80.0])
SHIVER_DECLINE = np.array([1.0, 0.97514, 0.95028, 0.92818, 0.90055, 0.86188, 0.82597])
FLOW_AGES = np.array([50.0, 60.0, 70.0])
FLOW_DECLINE = np.array([1.0, 0.85, 0.75, 0.70])
# Share of people with active brown fat; Yoneshiro 2011 by way of Takahashi et al. 2021.
BROWN_FAT_AGES = np.array([30.0, 40.0, 50.0])
BROWN_FAT_ACTIVITY = np.array([1.61, 1.00, 0.80, 0.80])
BROWN_FAT_INCIDENCE = np.array([44 / 83, 15 / 38, 7 / 26, 0.0])

SECONDS_PER_HOUR = 3600.0


@dataclass(frozen=True)
class Person:
    """Who is in the suit; each field an array of shape (members,).

    Attributes:
        height: [m]
        mass: [kg]
        age: [years]
        female: True for a woman.
        body_fat: Fraction of body mass.
        cardiac_index: Resting cardiac output per area [L/(min m2)].
    """

    height: FloatArray
    mass: FloatArray
    age: FloatArray
    female: BoolArray
    body_fat: FloatArray
    cardiac_index: FloatArray


def surface_area(height: FloatArray, mass: FloatArray) -> FloatArray:
    """Body surface area [m2] of height [m] and mass [kg]; DuBois and DuBois 1916."""
    return 0.2025 * height**0.725 * mass**0.425


def segment_areas(person: Person) -> FloatArray:
    """Skin area of each segment [m2], shape (17, members): the reference body's, scaled as one."""
    return AREA[:, None] / REFERENCE_AREA * surface_area(person.height, person.mass)


def basal_metabolism(person: Person) -> FloatArray:
    """Basal metabolic rate [W], shape (members,).

    Source: Harris-Benedict revised, Roza and Shizgal 1984 (kcal/day), with the 0.048 W per kcal/day
        of Takahashi et al. 2021.
    """
    height, mass, age = person.height, person.mass, person.age
    man = 88.362 + 13.397 * mass + 500.3 * height - 5.677 * age
    woman = 447.593 + 9.247 * mass + 479.9 * height - 4.330 * age
    return np.asarray(0.048 * np.where(person.female, woman, man))


def nonshivering_limit(person: Person) -> FloatArray:
    """Most heat of non-shivering thermogenesis [W] of a person of reference area; Asaka 2016."""
    body_mass_index = person.mass / person.height**2
    step = np.searchsorted(BROWN_FAT_AGES, person.age, side="right")
    active = 10 ** (2.7708 - 0.10502 * body_mass_index) * BROWN_FAT_ACTIVITY[step]
    return np.asarray(1.80 * active * BROWN_FAT_INCIDENCE[step] + 2.43 + 5.62)


def flow_ratio(person: Person) -> FloatArray:
    """Resting blood flow over that of the reference body (290 L/h), shape (members,)."""
    decline = FLOW_DECLINE[np.searchsorted(FLOW_AGES, person.age, side="right")]
    area = surface_area(person.height, person.mass)
    return np.asarray(person.cardiac_index * 60.0 * decline * area / REFERENCE_BLOOD_FLOW)


def conductances(person: Person) -> dict[str, FloatArray]:
    """Conductances between nodes [W/K], each shape (17, members).

    Head and neck scale as spheres, mass over area; the rest as cylinders, area squared over mass.
    """
    area_ratio = surface_area(person.height, person.mass) / REFERENCE_AREA
    mass_ratio = person.mass / REFERENCE_MASS
    sphere = np.arange(17)[:, None] < 2
    scale = np.where(sphere, mass_ratio / area_ratio, area_ratio**2 / mass_ratio)
    fat_class = np.searchsorted(FAT_CLASS_EDGES, person.body_fat, side="right")
    fixed = {
        "CORE_MUSCLE": CORE_MUSCLE,
        "MUSCLE_FAT": MUSCLE_FAT,
        "FAT_SKIN_CONDUCTANCE": FAT_SKIN,
        "VESSEL_CORE": VESSEL_CORE,
        "SUPERFICIAL_SKIN_CONDUCTANCE": SUPERFICIAL_SKIN,
        "ARTERY_VEIN": ARTERY_VEIN,
    }
    table = {name: values[:, None] * scale for name, values in fixed.items()}
    table["CORE_SKIN_CONDUCTANCE"] = CORE_SKIN_BY_FAT[fat_class].T * scale
    return table


def capacities(person: Person) -> dict[str, FloatArray]:
    """Heat capacities [J/K], each shape (17, members); nodes that do not exist get 1 J/K."""
    blood = flow_ratio(person) * SECONDS_PER_HOUR
    tissue = person.mass / REFERENCE_MASS * SECONDS_PER_HOUR
    table = {
        "ARTERY_CAPACITY": ARTERY_CAPACITY[:, None] * blood,
        "VEIN_CAPACITY": VEIN_CAPACITY[:, None] * blood,
        "SUPERFICIAL_CAPACITY": SUPERFICIAL_CAPACITY[:, None] * blood,
        "CORE_CAPACITY": CORE_CAPACITY[:, None] * tissue,
        "MUSCLE_CAPACITY": MUSCLE_CAPACITY[:, None] * tissue,
        "FAT_CAPACITY": FAT_CAPACITY[:, None] * tissue,
        "SKIN_CAPACITY": SKIN_CAPACITY[:, None] * tissue,
    }
    return {name: np.asarray(values) for name, values in table.items()}


def controller(person: Person) -> dict[str, FloatArray]:
    """Shares of the controller's orders, each shape (17, members)."""
    old = person.age >= OLD_AGE
    members = np.ones_like(person.age)
    decline = SHIVER_DECLINE[np.searchsorted(SHIVER_AGES, person.age, side="right")]
    weights = np.zeros(17)
    weights[list(SHUNT_CORES)] = CORE_CAPACITY[list(SHUNT_CORES)]
    weights /= weights.sum()
    return {
        "WORK_SHARE": WORK_SHARE[:, None] * members,
        "SHIVER_SHARE": SHIVER_SHARE[:, None] * decline,
        "NONSHIVER_SHARE": NONSHIVER_SHARE[:, None] * members,
        "SWEAT_SHARE": SWEAT_SHARE[:, None] * np.where(old, OLD_SWEAT[:, None], 1.0),
        "DILATION_SHARE": DILATION_SHARE[:, None] * np.where(old, OLD_DILATION[:, None], 1.0),
        "CONSTRICTION_SHARE": CONSTRICTION_SHARE[:, None] * members,
        "RECEPTOR": RECEPTOR[:, None] * members,
        "CORE_ERROR_WEIGHT": weights[:, None] * members,
    }


def basal_flows_and_heats(person: Person) -> dict[str, FloatArray]:
    """Basal flows as heat carried [W/K] and basal heats [W], each shape (17, members)."""
    flow = BLOOD_HEAT * flow_ratio(person)
    basal = basal_metabolism(person)
    return {
        "BASE_FLOW_CORE": CORE_FLOW[:, None] * flow,
        "BASE_FLOW_MUSCLE": MUSCLE_FLOW[:, None] * flow,
        "BASE_FLOW_FAT": FAT_FLOW[:, None] * flow,
        "BASE_FLOW_SKIN": SKIN_FLOW[:, None] * flow,
        "BASE_HEAT_CORE": CORE_HEAT[:, None] * basal,
        "BASE_HEAT_MUSCLE": MUSCLE_HEAT[:, None] * basal,
        "BASE_HEAT_FAT": FAT_HEAT[:, None] * basal,
        "BASE_HEAT_SKIN": SKIN_HEAT[:, None] * basal,
    }


def segments(person: Person) -> Mapping[str, FloatArray]:
    """All per-segment rows of the kernel's `body` array that anatomy decides.

    Args:
        person: The members.

    Returns:
        Row name of `neckring.lanes` to values, each shape (17, members).
    """
    shape = np.ones_like(person.height)
    outer = AREA.copy()
    outer[:2] = 0.0
    return {
        **conductances(person),
        **capacities(person),
        **controller(person),
        **basal_flows_and_heats(person),
        "AREA": segment_areas(person),
        "AREA_FRACTION": (AREA / REFERENCE_AREA)[:, None] * shape,
        "TRUNK_AND_LIMB_SHARE": (outer / outer.sum())[:, None] * shape,
    }
