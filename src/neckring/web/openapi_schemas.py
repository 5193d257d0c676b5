"""The interface in OpenAPI 3.1: what is sent and answered, by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from neckring.live.bodies import FORMS, LONGEST_CODE, LONGEST_SHOWN, LONGEST_WORDS, MOST_STEPS, Form
from neckring.live.deciding import WHO
from neckring.live.entries import Kind, Role
from neckring.web.request_reading import ASKED

Schema = dict[str, Any]

TEXT: Schema = {"type": "string", "minLength": 1, "maxLength": LONGEST_WORDS}
CODE: Schema = {"type": "string", "minLength": 1, "maxLength": LONGEST_CODE}
LETTER: Schema = {"enum": ["A", "B"]}
MEASURED: Schema = {
    "type": "object",
    "required": ["value", "unit"],
    "additionalProperties": False,
    "properties": {
        "value": {"type": ["number", "string"], "maxLength": 32},
        "unit": {"type": "string", "maxLength": 16},
    },
}
ANSWERS: Schema = {
    "type": "object",
    "minProperties": 1,
    "maxProperties": 12,
    "additionalProperties": TEXT,
}
MEMBERS: Mapping[str, Schema] = {
    "reason": {"type": "string", "maxLength": LONGEST_WORDS},
    "accepts": {"type": "boolean"},
    "procedure": CODE,
    "step": {"type": "integer", "minimum": 1, "maximum": MOST_STEPS},
    "before": {"type": "integer", "minimum": 1, "maximum": MOST_STEPS},
    "measured": MEASURED,
    "answer": {"type": "string", "maxLength": LONGEST_WORDS},
    "what": TEXT,
    "shown": {"type": "string", "minLength": 1, "maxLength": LONGEST_SHOWN},
    "wearer": LETTER,
    "spell": {"type": "integer", "minimum": 0, "maximum": 499},
    "call": {"type": "integer", "minimum": 0, "maximum": 1000000},
    "answers": ANSWERS,
    "words": TEXT,
    "card": CODE,
    "alarm": TEXT,
    "fault": CODE,
    "share": {"type": "number", "minimum": 0, "maximum": 1},
}
"""What each member of a body is; which of them a kind has, and which it needs, the desk says."""
NUMBER: Schema = {"type": "number"}


def body_schema(kind: Kind) -> Schema:
    """The schema of a kind's body."""
    if kind is Kind.STOP:
        # Whatever is sent with a stop, it counts.
        return {
            "type": "object",
            "description": "A stop counts whatever stands here.",
            "properties": {
                "reason": MEMBERS["reason"],
                "wearer": {"enum": ["A", "B", "both"], "default": "both"},
            },
        }
    forms = FORMS[kind]
    return {
        "type": "object",
        "additionalProperties": False,
        "required": [name for name, form in forms.items() if form.needed],
        "properties": {name: _member(name, form) for name, form in forms.items()},
    }


def _member(name: str, form: Form) -> Schema:
    schema = dict(MEMBERS[name])
    if form.needed and schema.get("type") == "string":
        schema["minLength"] = 1
    return {"description": form.words} | schema


def _deed(kind: Kind) -> Schema:
    roles = WHO.get(kind, frozenset(Role))
    parts = ", ".join(role.value for role in Role if role in roles and role is not Role.DESK)
    return {
        "title": kind.value,
        "description": f"For: {parts}.",
        "type": "object",
        "required": ["key", "kind", "body"],
        "additionalProperties": False,
        "properties": {
            "key": {
                "type": "string",
                "pattern": "^[A-Za-z0-9][A-Za-z0-9._:/-]{0,99}$",
                "description": "Made by the sender, unique for ever; sent again, it records "
                "nothing new and is answered as the first time.",
            },
            "kind": {"const": kind.value},
            "body": body_schema(kind),
            "tapped_at": {
                "type": ["number", "null"],
                "description": "The sender's clock at the tap, seconds since 1970.",
            },
            "offset": {
                "type": ["number", "null"],
                "description": "What to add to it for the desk's clock [s], as measured.",
            },
        },
    }


def schemas() -> Schema:
    """The schemas that the paths refer to, by name."""
    names = {kind: "".join(word.capitalize() for word in kind.value.split()) for kind in ASKED}
    deeds = {name: _deed(kind) for kind, name in names.items()}
    return {
        **deeds,
        "Deed": {"oneOf": [{"$ref": f"#/components/schemas/{name}"} for name in deeds]},
        **_of_sessions(),
        **_of_book(),
        **_of_readings(),
        **_of_state(),
    }


def _of_sessions() -> Schema:
    return {
        "Answer": _object(
            status={"enum": ["recorded", "known", "refused"]},
            number={"type": "integer", "description": "Of the entry; 0 when its key was no key."},
            why={"type": "string", "description": "Why it was refused; else empty."},
        ),
        "Clock": _object(
            wall=NUMBER, monotonic=NUMBER, run_time=NUMBER, speed=NUMBER, stands={"type": "boolean"}
        ),
        "Paired": _object(
            ("token",),
            device={"type": "string"},
            role={"type": "string"},
            person={"type": "string"},
            guard={"type": "string"},
            token={"type": "string"},
        ),
    }


def _of_book() -> Schema:
    return {
        "Entry": _object(
            number={"type": "integer"},
            kind={"enum": [kind.value for kind in Kind]},
            actor={"type": "string"},
            role={"enum": [role.value for role in Role]},
            device={"type": "string"},
            key={"type": "string"},
            body={"type": "object"},
            tapped_at={"type": ["number", "null"]},
            offset={"type": ["number", "null"]},
            wall=NUMBER,
            run_time=NUMBER,
            digest={"type": "string"},
        ),
        "Entries": _object(
            last={"type": "integer", "description": "Number of the book's last entry."},
            entries={"type": "array", "items": reference_to("Entry")},
        ),
    }


def _of_readings() -> Schema:
    return {
        "Reading": _reading(),
        "Readings": {
            "oneOf": [
                _object(
                    run_time=NUMBER,
                    monotonic=NUMBER,
                    speed=NUMBER,
                    stands={"type": "boolean"},
                    latest={"type": "array", "items": reference_to("Reading")},
                ),
                _object(
                    channel={"type": "string"},
                    quantity={"type": "string"},
                    unit={"type": "string"},
                    points={
                        "type": "array",
                        "description": "Run time [s] and value in `unit`; null at a gap.",
                        "items": {"type": "array", "minItems": 2, "maxItems": 2},
                    },
                ),
            ]
        },
        "Taken": _object(taken={"type": "array", "items": reference_to("Reading")}),
    }


def _reading() -> Schema:
    return _object(
        channel={"type": "string", "examples": ["A.heart"]},
        quantity={"type": "string"},
        value={"type": "number", "description": "In SI; temperatures in degC."},
        figure={"type": "number", "description": "In `unit`."},
        shown={"type": "string"},
        unit={"type": "string"},
        received={"type": "number", "description": "On the desk's monotonic clock [s]."},
        run_time=NUMBER,
        source_time={"type": ["number", "null"]},
        flaws={"type": "array", "items": {"type": "string"}},
        stale={"type": "boolean"},
    )


def _of_state() -> Schema:
    return {
        "State": {
            "type": "object",
            "required": ["number", "run_time", "standing", "lanes", "wearers", "alarms"],
        },
        "Problem": {
            "type": "object",
            "description": "RFC 9457.",
            "required": ["type", "title", "status", "detail"],
            "properties": {
                "type": {"type": "string"},
                "title": {"type": "string"},
                "status": {"type": "integer"},
                "detail": {"type": "string"},
                "field": {"type": "string"},
            },
        },
    }


def _object(optional: tuple[str, ...] = (), **members: Schema) -> Schema:
    return {
        "type": "object",
        "required": [name for name in members if name not in optional],
        "properties": members,
    }


def reference_to(name: str) -> Schema:
    """Where a schema stands in the document."""
    return {"$ref": f"#/components/schemas/{name}"}
