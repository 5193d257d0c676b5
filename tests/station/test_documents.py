"""The reference page and the JSON Schemas keep up with what is accepted."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from ruamel.yaml import YAML

from neckring.station.loading import MODELS
from neckring.station.schema import FILES, json_schema
from neckring.units import DIMENSIONS

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "station.md").read_text(encoding="utf-8")
SPANS = re.findall("`([^`]+)`", re.sub("```.*?```", "", PAGE, flags=re.DOTALL))
SHIPPED = ROOT / "src" / "neckring" / "station"


def keys_of(schema: Any) -> Iterator[str]:
    """Every key that a schema names, at any depth, with the words of its choices."""
    if isinstance(schema, dict):
        yield from schema.get("properties", {})
        yield from (word for word in schema.get("enum", []) if isinstance(word, str))
    parts = schema.values() if isinstance(schema, dict) else schema
    for part in parts:
        if isinstance(part, (dict, list)):
            yield from keys_of(part)


@pytest.mark.parametrize("kind", FILES)
def test_every_key_and_word_of_the_schemas_is_on_the_page(kind: str) -> None:
    missing = set(keys_of(json_schema(kind))) - set(SPANS) - {"true", "false"}
    assert not missing


def test_every_accepted_unit_is_on_the_page() -> None:
    words = {*SPANS, *" ".join(SPANS).split()}
    units = {unit for dimension in DIMENSIONS.values() for unit in dimension.units if unit}
    assert units - words == set()


def plain(value: Any) -> Any:
    """What an editor sees: dates as text."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def files_of(which: str, kind: str) -> list[Path]:
    return sorted((SHIPPED / which).glob(FILES[kind]))


@pytest.mark.parametrize("which", ["demo", "starter"])
@pytest.mark.parametrize("kind", FILES)
def test_the_schemas_accept_the_shipped_files(which: str, kind: str) -> None:
    validator = jsonschema.Draft202012Validator(json_schema(kind))
    found = files_of(which, kind)
    assert found
    for file in found:
        written = plain(YAML(typ="safe", pure=True).load(file.read_text(encoding="utf-8")))
        assert [error.message for error in validator.iter_errors(written)] == []


@pytest.mark.parametrize("kind", FILES)
def test_the_schemas_refuse_an_unknown_and_a_missing_key(kind: str) -> None:
    schema = json_schema(kind)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    file = files_of("starter", kind)[0]
    written = plain(YAML(typ="safe", pure=True).load(file.read_text(encoding="utf-8")))
    assert not validator.is_valid(written | {"shoe_size": "39"})
    required = next(
        field.alias or name
        for name, field in MODELS[kind].model_fields.items()
        if field.is_required()
    )
    assert not validator.is_valid({key: part for key, part in written.items() if key != required})
