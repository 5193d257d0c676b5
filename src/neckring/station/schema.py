"""JSON Schemas of the files, for editors that complete and underline while people write."""

from __future__ import annotations

import copy
import json
from typing import Any

from neckring.station.loading import MODELS

FILES = {
    "station": "station.yaml",
    "limits": "limits.yaml",
    "suit": "suits/*.yaml",
    "wearer": "wearers/*.yaml",
    "run": "runs/*.yaml",
    "kit": "kits/*.yaml",
    "procedure": "procedures/*.yaml",
    "people": "people.yaml",
    "kit_items": "kit_items.yaml",
    "panels": "panels.yaml",
    "drills": "drills.yaml",
}
"""Kind of file to where it stands."""

DIALECT = "https://json-schema.org/draft/2020-12/schema"
PARTIAL = "Part"


def json_schema(kind: str) -> dict[str, Any]:
    """Make the schema of one kind of file.

    Args:
        kind: A key of `FILES`.

    Raises:
        KeyError: No such kind.
    """
    schema = MODELS[kind].model_json_schema(by_alias=True)
    _forget_defaults(schema)
    if kind == "suit":
        schema = _extensible(schema)
    return {"$schema": DIALECT, **schema, "title": FILES[kind]}


def schema_text(kind: str) -> str:
    """The schema of one kind of file as text."""
    return json.dumps(json_schema(kind), indent=2, ensure_ascii=False)


def _forget_defaults(schema: Any) -> None:  # noqa: ANN401 - any part of a schema
    """Drop what pydantic writes for keys that may be left out: it is no value to write."""
    parts = schema.values() if isinstance(schema, dict) else schema
    if isinstance(schema, dict) and schema.get("default", "") is None:
        del schema["default"]
    for part in list(parts):
        if isinstance(part, (dict, list)):
            _forget_defaults(part)


def _extensible(schema: dict[str, Any]) -> dict[str, Any]:
    """Let a suit that extends another leave out whatever it takes from there."""
    whole = {key: part for key, part in schema.items() if key not in ("$defs", "title")}
    own = [key for key in whole["required"] if key in ("code", "name")]
    partial = {**_partial(whole), "required": own}
    definitions = {
        **schema["$defs"],
        **{f"{name}{PARTIAL}": _partial(part) for name, part in schema["$defs"].items()},
    }
    return {
        "$defs": definitions,
        "if": {"required": ["extends"]},
        "then": partial,
        "else": whole,
    }


def _partial(part: Any) -> Any:  # noqa: ANN401 - any part of a schema
    if isinstance(part, list):
        return [_partial(item) for item in part]
    if not isinstance(part, dict):
        return part
    made = {key: _partial(copy.deepcopy(inner)) for key, inner in part.items()}
    if isinstance(made.get("required"), list):
        del made["required"]
    if isinstance(made.get("$ref"), str):
        made["$ref"] += PARTIAL
    return made
