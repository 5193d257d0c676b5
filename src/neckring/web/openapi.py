"""The interface in OpenAPI 3.1; kinds and their bodies come from where the desk has them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from neckring.live.bodies import FORMS, LONGEST_CODE, LONGEST_SHOWN, LONGEST_WORDS, MOST_STEPS, Form
from neckring.live.deciding import WHO
from neckring.live.entries import Kind, Role
from neckring.web.problems import MEDIA_TYPE
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
ANYBODY = "paired"


def document(version: str) -> Schema:
    """The whole document."""
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "neckring console",
            "version": "1",
            "summary": "The live run, for a team's own sensors and screens.",
            "description": f"Served by neckring {version or 'of this folder'}. SI units; run times "
            "in seconds since the run was opened. See docs/api.md.",
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/"}],
        "paths": _paths(),
        "components": {
            "securitySchemes": {
                "program": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "Token of POST /api/v1/pair with program true.",
                },
                "page": {
                    "type": "apiKey",
                    "in": "cookie",
                    "name": "neckring_session",
                    "description": "A page's cookie; a write carries x-neckring-guard as well.",
                },
                "sensor": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "Token of a source of readings, drawn on the lead's page.",
                },
            },
            "schemas": _schemas(),
        },
    }


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


def _schemas() -> Schema:
    names = {kind: "".join(word.capitalize() for word in kind.value.split()) for kind in ASKED}
    deeds = {name: _deed(kind) for kind, name in names.items()}
    return {
        **deeds,
        "Deed": {"oneOf": [{"$ref": f"#/components/schemas/{name}"} for name in deeds]},
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
            entries={"type": "array", "items": _ref("Entry")},
        ),
        "Reading": _object(
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
        ),
        "Readings": {
            "oneOf": [
                _object(
                    run_time=NUMBER,
                    monotonic=NUMBER,
                    speed=NUMBER,
                    stands={"type": "boolean"},
                    latest={"type": "array", "items": _ref("Reading")},
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
        "Taken": _object(taken={"type": "array", "items": _ref("Reading")}),
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


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _content(name: str, media: str = "application/json") -> Schema:
    return {media: {"schema": _ref(name)}}


REFUSALS = {
    "400": "It cannot be read.",
    "401": "No session, or one that does not count any more.",
    "403": "Not from here, not for this part, a wrong PIN, or without the page's guard.",
    "404": "There is none such.",
    "405": "Not in this way.",
    "409": "Not as things stand.",
    "413": "Too long.",
    "415": "Of another media type.",
    "421": "The console does not go by this name.",
    "422": "Of another shape; `field` names the member.",
    "429": "Too many wrong PINs: wait as long as Retry-After says.",
    "503": "The log book cannot be written, or too many listen: send it again.",
}


def _operation(
    summary: str,
    answers: Mapping[str, tuple[str, Schema | None]],
    who: tuple[str, ...] = ("program", "page"),
    sends: Schema | None = None,
    asks: tuple[Schema, ...] = (),
) -> Schema:
    responses: Schema = {}
    for status, (words, content) in answers.items():
        responses[status] = {"description": words} | ({"content": content} if content else {})
    for status, words in REFUSALS.items():
        responses[status] = {"description": words, "content": _content("Problem", MEDIA_TYPE)}
    made: Schema = {
        "summary": summary,
        "responses": responses,
        "security": [{name: []} for name in who],
    }
    if sends is not None:
        made["requestBody"] = {"required": True, "content": sends}
    if asks:
        made["parameters"] = list(asks)
    return made


def _query(name: str, schema: Schema, words: str, needed: bool = False) -> Schema:
    return {"name": name, "in": "query", "schema": schema, "description": words, "required": needed}


def _json(schema: Schema) -> Schema:
    return {"application/json": {"schema": schema}}


def _paths() -> Schema:
    number = {"type": "integer", "minimum": 0, "maximum": 2**53}
    after = _query("after", number, "Entries behind this number.")
    pairing = {
        "type": "object",
        "required": ["pin"],
        "additionalProperties": False,
        "properties": {
            "pin": {"type": "string", "minLength": 1, "maxLength": 20},
            "person": {
                "type": "string",
                "maxLength": 64,
                "description": "Code of the person; empty for a wall.",
            },
            "program": {
                "type": "boolean",
                "description": "True: the token is told once. Else it is a page's cookie.",
            },
        },
    }
    unpairing = {
        "type": "object",
        "additionalProperties": False,
        "properties": {"device": {"type": "string", "minLength": 1, "maxLength": 64}},
    }
    return {
        "/api/v1/openapi.json": {
            "get": _operation("This document", {"200": ("It.", _json({"type": "object"}))}, ())
        },
        "/api/v1/clock": {
            "get": _operation(
                "The desk's clocks: half the round trip tells how far one's own is off",
                {"200": ("Now.", _content("Clock"))},
                (),
            )
        },
        "/api/v1/pair": {
            "post": _operation(
                "Pair a device by the PIN of its part",
                {"201": ("Paired.", _content("Paired"))},
                (),
                _json(pairing),
            )
        },
        "/api/v1/unpair": {
            "post": _operation(
                "Take this device out, or as the lead another one",
                {"204": ("Done.", None)},
                sends=_json(unpairing),
            )
        },
        "/api/v1/deeds": {
            "post": _operation(
                "Have something recorded: answered once it is on disk",
                {"200": ("Recorded, known already, or refused and why.", _content("Answer"))},
                sends=_content("Deed"),
            )
        },
        "/api/v1/state": {
            "get": _operation("The run as it stands", {"200": ("Now.", _content("State"))})
        },
        "/api/v1/entries": {
            "get": _operation(
                "Entries of the log book",
                {"200": ("In order.", _content("Entries"))},
                asks=(after, _query("most", {"type": "integer", "minimum": 1, "maximum": 500}, "")),
            )
        },
        "/api/v1/readings": {
            "get": _operation(
                "The last reading of each channel, or the history of one",
                {"200": ("Readings.", _content("Readings"))},
                asks=(_query("history", {"type": "string"}, "Wearer and channel: A.heart"),),
            ),
            "post": _operation(
                "Take in a SenML pack (RFC 8428) of one wearer's suit",
                {"202": ("What it was taken for.", _content("Taken"))},
                ("sensor",),
                {"application/senml+json": {"schema": {"type": "array"}}},
                (_query("wearer", {"type": "string"}, "A, B or the suit's code", True),),
            ),
        },
        "/api/v1/stream": {
            "get": _operation(
                "What changes, as server-sent events: entry (id: its number), part, alarm, "
                "estimate, readings each second",
                {"200": ("Until one goes.", {"text/event-stream": {"schema": {"type": "string"}}})},
                asks=(
                    after,
                    _query("view", {"type": "string"}, "Page whose parts are sent"),
                    _query("lane", {"type": "string"}, "Lane of a tender's page"),
                ),
            )
        },
    }
