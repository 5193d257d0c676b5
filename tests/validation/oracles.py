"""Independent public programs run on a described body: what they answer, in SI.

They are oracles for tests, never part of neckring. Their known defects, and which comparison bears
which, are in docs/oracle_defects.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from body_cases import BodyCase, Phase
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

PELVIS, HEAD = 4, 0
LITRE_PER_HOUR = 1e-3 / 3600.0
MET = 58.15
"""[W/m2]; ISO 7730 and pythermalcomfort's heat strain. Its two-node model uses 58.2."""


@dataclass(frozen=True)
class BodyTrace:
    """A body's course; n samples, the first at time 0.

    Temperatures are those at `time`. All else is what the model used *during the step that ends at*
    `time` (both libraries control explicitly, from the temperatures before the step); there the
    first sample repeats the second.

    Attributes:
        time: [s], shape (n,).
        mean_skin: Area-weighted [degC], shape (n,).
        skin: [degC], shape (n, 17).
        core: [degC], shape (n, 17).
        cardiac_output: [m3/s], shape (n,).
        metabolic_rate: All heat made, with shivering [W], shape (n,).
        skin_evaporation: Sweat and diffusion [W], shape (n,).
        respiration: Sensible and latent [W], shape (n,).
        mean_wettedness: Of skin [1], shape (n,).
    """

    time: FloatArray
    mean_skin: FloatArray
    skin: FloatArray
    core: FloatArray
    cardiac_output: FloatArray
    metabolic_rate: FloatArray
    skin_evaporation: FloatArray
    respiration: FloatArray
    mean_wettedness: FloatArray

    @property
    def head_core(self) -> FloatArray:
        """[degC], shape (n,)."""
        return self.core[:, HEAD]

    @property
    def pelvis_core(self) -> FloatArray:
        """What the model's authors compare with the rectum [degC], shape (n,)."""
        return self.core[:, PELVIS]


@lru_cache(maxsize=256)
def run_jos3(case: BodyCase) -> BodyTrace:
    """The case in jos3 0.5.0 (its authors' program)."""
    import jos3
    from jos3 import thermoregulation

    # jos3 keeps the last shivering in a variable of the module, shared by all bodies; a body made
    # between two steps of another would reset it. One body at a time, from a clean start.
    thermoregulation.PRE_SHIV = 0
    model = jos3.JOS3(
        height=case.height,
        weight=case.mass,
        fat=100.0 * case.body_fat,
        age=case.age,
        sex=case.sex,
        ex_output=["Esk"],
    )
    model.posture = case.posture
    rows = [_jos3_start(model)]
    for phase in case.phases:
        _set_jos3(model, case, phase)
        for _ in range(_steps(phase)):
            model.simulate(1, dtime=phase.step)
            rows.append(_jos3_row(model._history.pop()))
    thermoregulation.PRE_SHIV = 0
    return _trace(case, rows)


def _set_jos3(model, case: BodyCase, phase: Phase) -> None:
    model.Ta, model.Tr = phase.air, phase.radiant
    model.RH, model.Va = 100.0 * phase.relative_humidity, phase.air_speed
    model.PAR = phase.activity_ratio
    model.Icl = np.asarray(case.clothing, dtype=float)


def _jos3_start(model) -> dict[str, object]:
    return {"skin": model.Tsk, "core": model.Tcr, "mean_skin": model.TskMean}


def _jos3_row(row) -> dict[str, object]:
    return {
        "skin": row["Tsk"],
        "core": row["Tcr"],
        "mean_skin": row["TskMean"],
        "cardiac_output": row["CO"] * LITRE_PER_HOUR,
        "metabolic_rate": row["Met"],
        "skin_evaporation": float(np.sum(row["Esk"])),
        "respiration": row["RES"],
        "mean_wettedness": row["WetMean"],
    }


@lru_cache(maxsize=256)
def run_pythermalcomfort(case: BodyCase) -> BodyTrace:
    """The case in pythermalcomfort 4.8.1's version of the same model.

    Its results are rounded to 0.01 K; temperatures are therefore read from the body after every
    step, where they are whole. Cardiac output comes rounded to 0.1 L/h, heat to 0.01 W.
    """
    from pythermalcomfort.jos3_functions import thermoregulation
    from pythermalcomfort.models import JOS3

    thermoregulation.PRE_SHIV = 0
    model = JOS3(
        height=case.height,
        weight=case.mass,
        fat=100.0 * case.body_fat,
        age=case.age,
        sex=case.sex,
    )
    model.posture = case.posture
    rows = [_pythermalcomfort_temperatures(model)]
    for phase in case.phases:
        model.tdb, model.tr = float(phase.air), float(phase.radiant)
        model.rh, model.v = 100.0 * phase.relative_humidity, float(phase.air_speed)
        model.par = phase.activity_ratio
        model.clo = np.asarray(case.clothing, dtype=float)
        for _ in range(_steps(phase)):
            model.simulate(1, dtime=phase.step)
            rows.append(_pythermalcomfort_row(model, model._history.pop()))
    thermoregulation.PRE_SHIV = 0
    return _trace(case, rows)


def _pythermalcomfort_temperatures(model) -> dict[str, object]:
    return {"skin": model.t_skin, "core": model.t_core, "mean_skin": float(model.t_skin_mean)}


def _pythermalcomfort_row(model, row) -> dict[str, object]:
    return _pythermalcomfort_temperatures(model) | {
        "cardiac_output": row.cardiac_output * LITRE_PER_HOUR,
        "metabolic_rate": row.q_thermogenesis_total,
        "skin_evaporation": float(sum(vars(row.e_skin).values())),
        "respiration": row.q_res,
        "mean_wettedness": row.w_mean,
    }


def _steps(phase: Phase) -> int:
    count = round(phase.duration / phase.step)
    if abs(count * phase.step - phase.duration) > 1e-6:
        raise ValueError(f"{phase.duration} s is no whole number of steps of {phase.step} s")
    return count


def _trace(case: BodyCase, rows: list[dict[str, object]]) -> BodyTrace:
    rows[0] = rows[1] | rows[0]
    steps = [phase.step for phase in case.phases for _ in range(_steps(phase))]
    columns = {key: np.array([row[key] for row in rows], dtype=float) for key in rows[1]}
    return BodyTrace(time=np.concatenate([[0.0], np.cumsum(steps)]), **columns)


@dataclass(frozen=True)
class HeatStrain:
    """Answer of ISO 7933 predicted heat strain for one spell.

    Attributes:
        rectal: At the end [degC].
        core: At the end [degC].
        skin: At the end [degC].
        sweat: Mass lost [kg].
        time_to_rectal_limit: Until 38 degC [s].
        time_to_water_limit: Until the water loss limit [s].
    """

    rectal: float
    core: float
    skin: float
    sweat: float
    time_to_rectal_limit: float
    time_to_water_limit: float


def run_heat_strain(
    case: BodyCase,
    metabolic_flux: float,
    clothing: float,
    edition: Literal["7933-2023", "7933-2004"] = "7933-2023",
    acclimatised: bool = True,
    limit_inputs: bool = False,
) -> HeatStrain:
    """ISO 7933 for a case of one phase, by pythermalcomfort.

    Out of its range it is no judge: closed suits, lying bodies, cold, light clothing below 0.1 clo.

    Args:
        case: One phase only; its clothing and activity are not used.
        metabolic_flux: [W/m2], per real body area.
        clothing: Whole-body insulation [clo].
        edition: Of the standard.
        acclimatised: To heat.
        limit_inputs: Answer nan outside the standard's range.

    Raises:
        ValueError: The case has more than one phase, or lies.
    """
    from pythermalcomfort.models import phs

    if len(case.phases) != 1 or case.posture == "lying":
        raise ValueError("ISO 7933 is run on one phase, standing or sitting")
    (phase,) = case.phases
    answer = phs(
        tdb=phase.air,
        tr=phase.radiant,
        v=phase.air_speed,
        rh=100.0 * phase.relative_humidity,
        met=metabolic_flux / MET,
        clo=clothing,
        posture=case.posture,
        model=edition,
        round_output=False,
        limit_inputs=limit_inputs,
        acclimatized=100 if acclimatised else 0,
        weight=case.mass,
        height=case.height,
        duration=round(phase.duration / 60.0),
    )
    return HeatStrain(
        rectal=float(answer.t_re),
        core=float(answer.t_cr),
        skin=float(answer.t_sk),
        sweat=float(answer.sweat_loss_g) / 1000.0,
        time_to_rectal_limit=60.0 * float(answer.d_lim_t_re),
        time_to_water_limit=60.0 * float(answer.d_lim_loss_95),
    )


@dataclass(frozen=True)
class TwoNode:
    """Answer of the two-node model after one hour; flows per area [W/m2], temperatures [degC]."""

    core: float
    skin: float
    evaporation: float
    sensible: float
    respiration: float
    wettedness: float


def run_two_nodes(case: BodyCase, metabolic_flux: float, clothing: float) -> TwoNode:
    """Gagge, Fobelets and Berglund 1986 by pythermalcomfort: always sixty steps of one minute.

    Args:
        case: Its first phase, whatever its duration; its clothing and activity are not used.
        metabolic_flux: [W/m2].
        clothing: Whole-body insulation [clo].
    """
    from pythermalcomfort.models import two_nodes_gagge

    phase = case.phases[0]
    answer = two_nodes_gagge(
        tdb=phase.air,
        tr=phase.radiant,
        v=phase.air_speed,
        rh=100.0 * phase.relative_humidity,
        met=metabolic_flux / 58.2,
        clo=clothing,
        body_surface_area=0.202 * case.height**0.725 * case.mass**0.425,
        position="sitting" if case.posture == "sitting" else "standing",
        round_output=False,
    )
    return TwoNode(
        core=float(answer.t_core),
        skin=float(answer.t_skin),
        evaporation=float(answer.e_skin),
        sensible=float(answer.q_sensible),
        respiration=float(answer.q_res),
        wettedness=float(answer.w),
    )
