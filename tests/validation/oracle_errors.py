"""How far the oracles themselves are from people: writes data/oracle_rmse.json.

Run it as a program after a change of the oracles or the data.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
from body_cases import BodyCase
from human_series import DATA, SERIES, mean_course, measured, rmse_series
from oracles import BodyTrace, run_jos3, run_pythermalcomfort

# Measured quantity, and what of a body stands for it.
COMPARED = {"rectal": "pelvis_core", "tympanic": "head_core", "mean_skin": "mean_skin"}
ORACLES: dict[str, Callable[[BodyCase], BodyTrace]] = {
    "jos3 0.5.0": run_jos3,
    "pythermalcomfort 4.8.1": run_pythermalcomfort,
}
STEP_STARTS, STEP_ENDS = 3600.0, 10800.0


def series_errors(run: Callable[[BodyCase], BodyTrace], series: str) -> dict[str, float]:
    """RMSE [K] over 49 times, and rise over the step [K], measured and simulated."""
    errors = {}
    for quantity, stand_in in COMPARED.items():
        known = measured(series, quantity)
        time, simulated = mean_course(series, lambda case, of=stand_in: _course(run, case, of))
        real = np.interp(time, known.time, known.value)
        span = np.searchsorted(time, [STEP_STARTS, STEP_ENDS])
        errors[f"{quantity} rmse"] = rmse_series(simulated, real)
        errors[f"{quantity} rise measured"] = float(np.diff(real[span])[0])
        errors[f"{quantity} rise simulated"] = float(np.diff(simulated[span])[0])
    return errors


def _course(run: Callable[[BodyCase], BodyTrace], case: BodyCase, stand_in: str):
    trace = run(case)
    return trace.time, getattr(trace, stand_in)


def all_errors() -> dict[str, dict[str, dict[str, float]]]:
    """By oracle, series and figure; rounded to 0.001 K."""
    return {
        name: {
            series: {key: round(value, 3) for key, value in series_errors(run, series).items()}
            for series in SERIES
        }
        for name, run in ORACLES.items()
    }


def recorded_errors(
    path: Path = DATA / "oracle_rmse.json",
) -> dict[str, dict[str, dict[str, float]]]:
    """What was written last."""
    return json.loads(path.read_text(encoding="utf-8"))


if __name__ == "__main__":
    page = json.dumps(all_errors(), indent=1) + "\n"
    (DATA / "oracle_rmse.json").write_text(page, encoding="utf-8")
