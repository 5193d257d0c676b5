"""Measured courses of body temperature in people, and how far a simulation is from them.

Source of the data: see data/README.md.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from body_cases import BodyCase, Phase
from numpy.typing import ArrayLike, NDArray
from ruamel.yaml import YAML

FloatArray = NDArray[np.float64]

DATA = Path(__file__).parent / "data"
SERIES = ("A4", "A5", "A6", "A7", "B1", "B2", "B3", "B4", "B5")
SERIES_DURATION = 14400.0
"""Measured part of each series [s]."""
ADAPTATION = Phase(duration=6000.0, step=600.0, air=28.0, radiant=28.0, relative_humidity=0.40)
"""What the authors of the published model let their bodies do before each series."""

# Back, pelvis, thighs and legs, as the authors of the published model dressed the subjects in
# shorts on a chair [clo].
SHORTS_AND_CHAIR = (0, 0, 0, 0.3, 0.3, 0, 0, 0, 0, 0, 0, 0.3, 0.3, 0, 0.3, 0.3, 0)


@dataclass(frozen=True)
class Measured:
    """One quantity of one series: `time` [s] from the series' start, `value` [degC or as given]."""

    time: FloatArray
    value: FloatArray
    unit: str


@cache
def measured(series: str, quantity: str) -> Measured:
    """A measured course.

    Args:
        series: One of `SERIES`.
        quantity: "rectal", "tympanic" or "mean_skin" [degC]; for A6 and B4 also "metabolic_rate"
            and "evaporation", in a unit which the digitised file does not state.
    """
    with (DATA / "stolwijk_hardy_1966.csv").open(encoding="utf-8", newline="") as file:
        rows = [
            r for r in csv.DictReader(file) if (r["series"], r["quantity"]) == (series, quantity)
        ]
    if not rows:
        raise KeyError(f"no {quantity} in series {series}")
    time = np.array([float(row["time_s"]) for row in rows])
    return Measured(time, np.array([float(row["value"]) for row in rows]), rows[0]["unit"])


@cache
def series_cases(series: str) -> tuple[BodyCase, ...]:
    """The three subjects of a series, each with adaptation, base, step and return."""
    with (DATA / "stolwijk_hardy_1966_conditions.csv").open(encoding="utf-8", newline="") as file:
        condition = next(row for row in csv.DictReader(file) if row["series"] == series)
    with (DATA / "stolwijk_hardy_1966_subjects.csv").open(encoding="utf-8", newline="") as file:
        subjects = [
            row
            for row in csv.DictReader(file)
            if row["subject_group"] == condition["subject_group"]
        ]
    phases = tuple(_phase(condition, part) for part in ("base", "step", "back"))
    return tuple(
        BodyCase(
            name=f"{series} subject {number}",
            height=float(subject["height_m"]),
            mass=float(subject["mass_kg"]),
            age=int(subject["age_years"]),
            posture="sitting",
            clothing=SHORTS_AND_CHAIR,
            phases=(_seated(ADAPTATION), *phases),
        )
        for number, subject in enumerate(subjects, 1)
    )


def _phase(condition: Mapping[str, str], part: str) -> Phase:
    temperature = float(condition[f"{part}_temperature_degC"])
    return _seated(
        Phase(
            duration=float(condition[f"{part}_duration_s"]),
            air=temperature,
            radiant=temperature,
            relative_humidity=float(condition[f"{part}_relative_humidity"]),
        )
    )


def _seated(phase: Phase) -> Phase:
    return Phase(
        duration=phase.duration,
        step=phase.step,
        air=phase.air,
        radiant=phase.radiant,
        relative_humidity=phase.relative_humidity,
        air_speed=0.1,
        activity_ratio=1.2,
    )


def mean_course(
    series: str, course: Callable[[BodyCase], tuple[ArrayLike, ArrayLike]]
) -> tuple[FloatArray, FloatArray]:
    """Mean over the subjects of a simulated course, after adaptation.

    Args:
        series: One of `SERIES`.
        course: Gives time [s] from the case's start and a value, for one case.

    Returns:
        Time [s] from the series' start, every 300 s, and the mean value.
    """
    wanted = np.arange(0.0, SERIES_DURATION + 1.0, 300.0)
    courses = []
    for case in series_cases(series):
        time, value = course(case)
        shifted = np.asarray(time, dtype=np.float64) - ADAPTATION.duration
        courses.append(np.interp(wanted, shifted, np.asarray(value, dtype=np.float64)))
    return wanted, np.mean(courses, axis=0)


def rmse_series(simulated: ArrayLike, measured: ArrayLike) -> float:
    """Root of the mean squared difference of two courses on the same times [their unit].

    Raises:
        ValueError: The two differ in shape, or nothing is left to compare.
    """
    one, other = np.asarray(simulated, dtype=np.float64), np.asarray(measured, dtype=np.float64)
    if one.shape != other.shape or one.size == 0:
        raise ValueError(f"cannot compare {one.shape} with {other.shape}")
    return float(np.sqrt(np.mean((one - other) ** 2)))


@cache
def werner() -> dict[str, FloatArray]:
    """Steady temperatures [degC] of nude resting people at seven operative temperatures."""
    with (DATA / "werner_1980.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}


@cache
def human_trials() -> Mapping[str, Mapping[str, object]]:
    """All other trials on people, by name; see the head of data/human_trials.yaml."""
    return YAML(typ="safe").load((DATA / "human_trials.yaml").read_text(encoding="utf-8"))
