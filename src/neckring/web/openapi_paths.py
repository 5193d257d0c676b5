"""The interface in OpenAPI 3.1: its paths."""

from __future__ import annotations

from collections.abc import Mapping

from neckring.web.openapi_schemas import Schema, reference_to
from neckring.web.problems import MEDIA_TYPE


def _content(name: str, media: str = "application/json") -> Schema:
    return {media: {"schema": reference_to(name)}}


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


PAIRING: Schema = {
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
UNPAIRING: Schema = {
    "type": "object",
    "additionalProperties": False,
    "properties": {"device": {"type": "string", "minLength": 1, "maxLength": 64}},
}
NUMBER_OF_ENTRY: Schema = {"type": "integer", "minimum": 0, "maximum": 2**53}


def paths() -> Schema:
    """Every path with what it takes and answers."""
    after = _query("after", NUMBER_OF_ENTRY, "Entries behind this number.")
    return {
        **_to_begin(),
        **_to_pair(),
        **_to_book(after),
        **_to_readings(),
        **_to_stream(after),
    }


def _to_begin() -> Schema:
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
    }


def _to_pair() -> Schema:
    return {
        "/api/v1/pair": {
            "post": _operation(
                "Pair a device by the PIN of its part",
                {"201": ("Paired.", _content("Paired"))},
                (),
                _json(PAIRING),
            )
        },
        "/api/v1/unpair": {
            "post": _operation(
                "Take this device out, or as the lead another one",
                {"204": ("Done.", None)},
                sends=_json(UNPAIRING),
            )
        },
    }


def _to_book(after: Schema) -> Schema:
    return {
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
    }


def _to_readings() -> Schema:
    return {
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
    }


def _to_stream(after: Schema) -> Schema:
    return {
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
