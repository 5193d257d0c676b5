"""A calibration as JSON, in SI."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from neckring import __version__
from neckring.calibration.amending import Amended
from neckring.calibration.findings import Calibration, Correction, Place
from neckring.outing.cautions import ALWAYS


def calibration_as_json(found: Calibration, amended: Amended) -> dict[str, Any]:
    """A calibration as plain data: SI (degC for temperatures), times [s], bands of 90 %."""
    return {
        "neckring": __version__,
        "station": found.station,
        "invented": found.invented,
        "cautions": [*found.cautions, *ALWAYS],
        "runs": [asdict(one) for one in found.runs],
        "corrections": [_correction(one) for one in found.corrections],
        "steps": [_with_place(asdict(one), one.place) for one in found.steps],
        "drills": [_with_place(asdict(one), one.place) for one in found.drills],
        "not_in_the_change": list(amended.refused),
        "files": sorted(amended.texts),
        "diff": amended.diff,
    }


def _correction(one: Correction) -> dict[str, Any]:
    proposals = [_with_place({"text": each.text}, each.place) for each in one.proposals]
    return asdict(one) | {"proposals": proposals}


def _with_place(record: dict[str, Any], place: Place) -> dict[str, Any]:
    """The record with its place as kind, code and keys."""
    where = {"kind": place.kind, "code": place.code, "keys": list(place.path)}
    return record | {"place": where}


def calibration_as_json_text(found: Calibration, amended: Amended) -> str:
    """The same as text; numbers are finite."""
    data = calibration_as_json(found, amended)
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
