"""The close-out of a run as JSON."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

from neckring.crew.closing import CloseOut
from neckring.crew.forms import CloseOutForm


def closeout_as_json_text(found: CloseOut) -> str:
    """What a run's forms come to, in SI, and the forms themselves."""
    told = {
        "run": found.run,
        "wearer": found.wearer,
        "complete": found.complete,
        "released": found.released,
        "held_by": found.held_by,
        "overridden": found.overridden,
        "missing": found.missing,
        "entry": _plain(found.entry),
        "release": _plain(found.release),
        "task_load": found.task_load,
        "balance": _plain(found.balance),
        "limits_crossed": found.limits_crossed,
        "strain": found.strain,
        "recovery": found.recovery,
        "dues": [_plain(due) for due in found.dues],
        "forms": {group: _group(form, group) for group, form in found.latest.items()},
    }
    return json.dumps(told, indent=2, ensure_ascii=False, default=str)


def _plain(one: Any) -> Any:  # noqa: ANN401 - any frozen record
    return None if one is None else dataclasses.asdict(one)


def _group(form: CloseOutForm, group: str) -> Any:  # noqa: ANN401 - whatever a group holds
    return form.model_dump(mode="python", include={group})[group]
