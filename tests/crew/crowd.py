"""People and gates for tests, made of the same texts that a file holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from neckring.crew.forms import CloseOutForm
from neckring.station.fault import Fault
from neckring.station.gates import Gate
from neckring.station.people import PeopleSheet
from neckring.station.validation import validate
from neckring.station.written import Written
from neckring.station.yaml_reading import read_yaml

RULES = [
    {"quantity": "heart_rate", "stop_if": "above", "value": "100 bpm", "source": "test",
     "verified": "no", "example": {"reading": "101 bpm", "stops": "yes"}},
    {"quantity": "temperature", "stop_if": "above", "value": "37.2 degC", "source": "test",
     "verified": "no", "example": {"reading": "37.2 degC", "stops": "no"}},
]  # fmt: skip
GATE: dict[str, Any] = {
    "rules": RULES,
    "rest": "5 min",
    "repeats": "2",
    "signed_by": "M1",
    "signed_on": "2026-11-20",
}


def gate(**changes: Any) -> Gate:
    """A signed gate."""
    return Gate.model_validate(GATE | changes)


def people(**persons: Any) -> PeopleSheet:
    """A sheet with two skills and two roles."""
    return PeopleSheet.model_validate(
        {
            "consent_version": "v2",
            "clearances": {"medical": "medical clearance"},
            "skills": {
                "dressing": {"words": "dressing", "lapses_after": "30"},
                "leading": {"words": "leading"},
            },
            "roles": {
                "tender": {"words": "tends", "skills": {"dressing": "supervised"}},
                "wearer": {"words": "wears", "clearances": ["medical"], "consent": "yes"},
            },
            "people": persons or {"T1": {}},
        }
    )


def told(model: type[Written], text: str, file: str = "people.yaml") -> list[Fault]:
    """The faults of a file's text."""
    tree, own = read_yaml(text, file)
    return [*own, *validate(model, tree)[1]]


def form(text: str) -> CloseOutForm:
    """A form of a text."""
    tree, own = read_yaml(text, "form.yaml")
    made, faults = validate(CloseOutForm, tree)
    assert made is not None, [str(one) for one in (*own, *faults)]
    return made


HEAD = "run: yard-walk\nwearer: W3\nfilled_on: 2026-11-27\nfilled_by: W3\n"


def write(folder: Path, name: str, text: str) -> Path:
    """Write a file."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path
