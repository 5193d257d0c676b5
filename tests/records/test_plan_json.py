"""The JSON: it matches the shipped schema, speaks SI, and never holds NaN."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from neckring.outing.findings import LimitFinding, Plan
from neckring.records.plan_json import plan_as_json, plan_as_json_text, plan_schema

DOCUMENT = Path(__file__).parents[2] / "docs" / "plan_json.md"


def validated(plan: Plan) -> dict:
    document = json.loads(plan_as_json_text(plan))
    jsonschema.Draft202012Validator(plan_schema()).validate(document)
    return document


def test_it_matches_the_shipped_schema(plan: Plan) -> None:
    jsonschema.Draft202012Validator.check_schema(plan_schema())
    assert validated(plan)["verdict"] == plan.verdict


@pytest.mark.parametrize(
    ("key", "wrong"),
    [
        ("verdict", "maybe"),
        ("duration", "75 min"),
        ("residuals", {"energy": 0.0}),
        ("trace", {}),
        ("cautions", []),
    ],
)
def test_the_schema_refuses_what_is_wrong(shorten: Plan, key: str, wrong: object) -> None:
    document = plan_as_json(shorten) | {key: wrong}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(plan_schema()).validate(document)


def test_the_schema_refuses_a_missing_and_an_unknown_key(shorten: Plan) -> None:
    document = plan_as_json(shorten)
    validator = jsonschema.Draft202012Validator(plan_schema())
    assert not validator.is_valid({k: v for k, v in document.items() if k != "longest"})
    assert not validator.is_valid(document | {"surprise": 1})


def test_nothing_a_finding_holds_is_left_out(shorten: Plan) -> None:
    document = plan_as_json(shorten)
    assert {field.name for field in fields(Plan)} <= set(document)
    assert {field.name for field in fields(LimitFinding)} <= set(document["limits"][0])
    assert len(document["limits"]) == len(shorten.limits)
    assert len(document["assumptions"]) == len(shorten.assumptions)


def test_it_speaks_si(shorten: Plan) -> None:
    document = validated(shorten)
    heart = document["binding_limit"]
    assert heart["quantity"] == "heart_rate"
    assert heart["unit"] == "1/s"
    assert heart["value"] == pytest.approx(152 / 60)
    assert heart["reached"] == shorten.longest
    assert document["trace"]["heart_rate"]["unit"] == "1/s"
    assert document["trace"]["battery_charge"]["values"][0] == 1.0


def test_the_trace_has_one_sample_a_minute_and_the_last(shorten: Plan) -> None:
    time = np.append(np.arange(0.0, 185.0, 10.0), 187.0)
    trace = {name: np.resize(values, time.shape) for name, values in shorten.trace.items()}
    document = validated(replace(shorten, trace=trace | {"time": time}))
    assert document["trace"]["time"]["values"] == [0, 60, 120, 180, 187]
    lengths = {len(column["values"]) for column in document["trace"].values()}
    assert lengths == {5}


def test_what_is_not_a_number_becomes_null(shorten: Plan) -> None:
    trace = dict(shorten.trace)
    trace["battery_voltage"] = np.full_like(trace["time"], np.nan)
    trace["fog_margin"] = np.full_like(trace["time"], np.inf)
    plan = replace(
        shorten,
        trace=trace,
        residuals=replace(shorten.residuals, o2=float("nan")),
        limits=(replace(shorten.limits[0], worst=float("inf")),),
        binding_limit=None,
    )
    text = plan_as_json_text(plan)
    assert "NaN" not in text
    assert "Infinity" not in text
    document = validated(plan)
    assert set(document["trace"]["battery_voltage"]["values"]) == {None}
    assert document["residuals"]["o2"] is None
    assert document["limits"][0]["worst"] is None
    assert document["limits"][0]["way_used"] is None


def test_the_same_plan_gives_the_same_text(shorten: Plan) -> None:
    assert plan_as_json_text(shorten) == plan_as_json_text(replace(shorten))


def test_every_key_of_the_schema_is_documented() -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    schema = plan_schema()

    def keys(part: dict) -> set[str]:
        found = set(part.get("properties", {}))
        for inner in [*part.get("properties", {}).values(), *filter(None, [part.get("items")])]:
            found |= keys(inner)
        return found

    every = keys(schema).union(*map(keys, schema["$defs"].values()))
    missing = {k for k in every if f"`{k}`" not in text}
    assert missing <= {"unit", "values"}  # of a trace column: told in a sentence
    assert '"unit"' in text
    assert '"values"' in text
