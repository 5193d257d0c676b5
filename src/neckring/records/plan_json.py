"""The plan as JSON for other programs; `plan.schema.json` and `docs/plan_json.md` describe it."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from importlib.resources import files
from typing import Any

import numpy as np

from neckring import __version__
from neckring.outing.findings import LimitFinding, Plan
from neckring.outing.outlook import QUANTILES, Outlook
from neckring.records import reading
from neckring.records.presentation import presentation_of

FORMAT_VERSION = 1
TRACE_STEP = 60.0  # s
SIGNIFICANT_FIGURES = 7

Json = Any  # dict, list, str, int, float, bool or None, as the json module writes them


def plan_as_json(plan: Plan) -> dict[str, Json]:
    """Turn a plan into what the json module can write, in SI units.

    Args:
        plan: The computed run.

    Returns:
        A dictionary that matches the shipped schema; a value that is not a finite number is None.
    """
    document = {
        "format_version": FORMAT_VERSION,
        "neckring_version": __version__,
        **_particulars(plan),
        "verdict": plan.verdict,
        "sentence": plan.sentence,
        "binding_limit": None if plan.binding_limit is None else _limit(plan, plan.binding_limit),
        "longest": plan.longest,
        "limits": [_limit(plan, limit) for limit in plan.limits],
        "spells": [asdict(spell) for spell in plan.spells],
        "remaining": asdict(plan.remaining),
        "advice": asdict(plan.advice),
        "load": asdict(plan.load),
        "residuals": asdict(plan.residuals),
        "assumptions": [asdict(assumption) for assumption in plan.assumptions],
        "cautions": list(plan.cautions),
        "outlook": None if plan.outlook is None else _outlook(plan.outlook),
        "trace": _trace(plan),
    }
    cleaned: dict[str, Json] = _clean(document)
    return cleaned


def plan_as_json_text(plan: Plan) -> str:
    """Write a plan as JSON text, the same plan always as the same text."""
    return json.dumps(plan_as_json(plan), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def plan_schema() -> dict[str, Json]:
    """Read the JSON Schema that every plan written as JSON matches."""
    text = files("neckring.records").joinpath("plan.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Json] = json.loads(text)
    return schema


def _particulars(plan: Plan) -> dict[str, Json]:
    return {
        "station": plan.station,
        "invented": plan.invented,
        "run": plan.run,
        "title": plan.title,
        "wearer": plan.wearer,
        "suit": plan.suit,
        "starts": plan.starts.isoformat(),
        "duration": plan.duration,
    }


def _limit(plan: Plan, limit: LimitFinding) -> dict[str, Json]:
    return {
        **asdict(limit),
        "unit": presentation_of(limit.quantity).si_unit,
        "way_used": reading.way_used(plan, limit),
    }


def _outlook(outlook: Outlook) -> dict[str, Json]:
    return {"quantiles": list(QUANTILES), **asdict(outlook)}


def _trace(plan: Plan) -> dict[str, Json]:
    """Pick the samples nearest to each whole minute, and the last one."""
    time = plan.trace["time"]
    wanted = np.append(np.arange(time[0], time[-1], TRACE_STEP), time[-1])
    index = np.unique([int(np.abs(time - moment).argmin()) for moment in wanted])
    return {
        name: {
            "unit": presentation_of(name).si_unit,
            "values": [_rounded(float(value)) for value in values[index]],
        }
        for name, values in sorted(plan.trace.items())
    }


def _rounded(value: float) -> float:
    """Cut a value to the figures that mean something, so that files stay small."""
    return float(f"{value:.{SIGNIFICANT_FIGURES}g}") if math.isfinite(value) else value


def _clean(value: Json) -> Json:
    """Turn arrays and tuples into lists, numbers into plain ones; what is not finite into None."""
    if isinstance(value, np.ndarray):
        return [_clean(_rounded(x) if isinstance(x, float) else x) for x in value.tolist()]
    if isinstance(value, dict):
        return {name: _clean(inside) for name, inside in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(inside) for inside in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return int(value) if isinstance(value, np.integer) else value
