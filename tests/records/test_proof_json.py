"""A proof as JSON: it matches the shipped schema, keeps everything, and never holds NaN."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path

import jsonschema
import pytest
from examined import EXAMINATIONS, examination

from neckring.procedure.examination import Examination
from neckring.records.proof_json import as_json, as_json_text, proof_schema

DOCUMENT = Path(__file__).parents[2] / "docs" / "proof_json.md"
TOLD_ELSEWHERE = {"listed", "states", "starts"}


def validated(found: Examination) -> dict:
    document = json.loads(as_json_text(found, "Tarn Quarry", invented=True))
    jsonschema.Draft202012Validator(proof_schema()).validate(document)
    return document


@pytest.mark.parametrize("name", EXAMINATIONS)
def test_it_matches_the_shipped_schema(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(proof_schema())
    found = EXAMINATIONS[name]()
    document = validated(found)
    assert document["verdict"] == found.verdict.value
    assert document["invented"] is True


def test_it_is_plain_data() -> None:
    # Given an examination full of enumerations and tuples
    document = as_json(examination())

    # Then nothing but the types of JSON is left
    def types(value: object) -> set[type]:
        if isinstance(value, dict):
            return {type(value)}.union(*map(types, value), *map(types, value.values()))
        if isinstance(value, list):
            return {type(value)}.union(*map(types, value))
        return {type(value)}

    assert types(document) <= {dict, list, str, int, float, bool, type(None)}


@pytest.mark.parametrize(
    ("key", "wrong"),
    [
        ("verdict", "maybe"),
        ("singles", {"total": 1}),
        ("stories", [{}]),
        ("cautions", []),
        ("cannot_see", []),
        ("timing", None),
    ],
)
def test_the_schema_refuses_what_is_wrong(key: str, wrong: object) -> None:
    document = as_json(examination()) | {key: wrong}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(proof_schema()).validate(document)


def test_the_schema_refuses_a_missing_and_an_unknown_key() -> None:
    document = as_json(examination())
    validator = jsonschema.Draft202012Validator(proof_schema())
    assert not validator.is_valid({k: v for k, v in document.items() if k != "ways"})
    assert not validator.is_valid(document | {"surprise": 1})


def test_nothing_of_an_examination_is_left_out() -> None:
    found = examination()
    document = validated(found)
    assert {field.name for field in fields(Examination)} - TOLD_ELSEWHERE <= set(document)
    # what stands elsewhere: the procedure as its steps, the states before each and at the end, the
    # latest starts under timing
    assert [step["number"] for step in document["steps"]] == list(range(1, 9))
    assert document["steps"][0]["state_before"]["A.helmet"] == "off"
    assert document["steps"][6]["state_before"]["A.helmet"] == "seated"
    assert document["end_state"]["A.helmet"] == "locked"
    assert document["steps"][6]["caution"]["word"] == "DANGER"
    assert len(document["stories"]) == len(found.stories)
    assert document["stories"][1]["accepted_by"] == "lead"
    assert document["stories"][1]["accepted_on"] == "2030-05-01"
    assert document["stories"][0]["accepted_by"] is None
    tables = {row["table"] for row in document["error_rows"]}
    assert set(document["stories"][0]["risk"]["rows"]) <= tables


def test_lanes_and_steps_are_told_by_name_and_number() -> None:
    # Given step 4, a meeting that the tender waits at for the wearer
    timing = validated(examination())["timing"]
    assert timing["chain"] == [1, 3, 4, 5, 6, 7]
    (meeting,) = timing["meetings"]
    assert (meeting["step"], meeting["late"]) == (4, "A")
    waited = {wait["who"]: wait["time"]["likely"] for wait in meeting["waits"]}
    assert waited == {"A": 0.0, "tender": pytest.approx(38.0)}


def test_what_is_not_a_number_becomes_null() -> None:
    found = examination()
    claims = (replace(found.claims[0], seconds=float("inf")),)
    text = as_json_text(replace(found, claims=claims))
    assert "Infinity" not in text
    assert json.loads(text)["claims"][0]["seconds"] is None


def test_the_same_examination_gives_the_same_text() -> None:
    assert as_json_text(examination()) == as_json_text(examination())


def test_the_mark_changes_with_a_word_of_the_procedure() -> None:
    from examined import ALONE

    first = validated(examination())["procedure"]["mark"]
    again = validated(examination())["procedure"]["mark"]
    other = validated(examination(ALONE.replace("one click", "two clicks")))["procedure"]["mark"]
    assert first == again != other


def test_every_key_of_the_schema_is_documented() -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    schema = proof_schema()

    def keys(part: object) -> set[str]:
        if isinstance(part, list):
            return set().union(*map(keys, part))
        if not isinstance(part, dict):
            return set()
        own = part.get("properties", {})
        inside = [v for k, v in part.items() if k not in ("properties", "$defs")]
        return set(own) | keys(list(own.values())) | keys(inside)

    every = keys(schema) | keys(list(schema["$defs"].values()))
    assert {"stories", "waited_for", "error_factor"} <= every
    assert {key for key in every if f"`{key}`" not in text} == set()
