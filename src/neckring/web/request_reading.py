"""Reading what was sent: JSON and forms, bounded and never trusted."""

from __future__ import annotations

import json
import math
import re
from http import HTTPStatus
from typing import NoReturn
from urllib.parse import parse_qsl

from starlette.requests import Request

from neckring.live.entries import Deed, Json, Kind
from neckring.web.pairing import Session
from neckring.web.problems import Problem

MOST_FIELDS = 64
DESK_ALONE = frozenset(
    {
        Kind.RUN_OPENED,
        Kind.CALL_MISSED,
        Kind.ALARM_RAISED,
        Kind.ALARM_ENDED,
        Kind.ESTIMATE,
        Kind.PAIRED,
        Kind.UNPAIRED,
        Kind.RESTARTED,
        Kind.REFUSED,
    }
)
"""Kinds that no device asks for: the desk writes them, or the console when a device is paired."""
ASKED = tuple(kind for kind in Kind if kind not in DESK_ALONE)


async def read_object(request: Request) -> dict[str, Json]:
    """The JSON object that was sent.

    Raises:
        Problem: It is none.
    """
    media = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media != "application/json":
        raise Problem(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Send application/json.")
    raw = await request.body()
    try:
        read = json.loads(raw.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise Problem(HTTPStatus.BAD_REQUEST, "This is not JSON in UTF-8.") from None
    if not isinstance(read, dict):
        raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, "Send one JSON object.")
    if not _is_sound(read):
        raise Problem(
            HTTPStatus.UNPROCESSABLE_ENTITY, "A text holds half a letter, or a number is endless."
        )
    return read


def _no_number(word: str) -> NoReturn:
    raise ValueError(word)


def _is_sound(value: object, depth: int = 0) -> bool:
    """Whether it can be written again: no halves of surrogate pairs, no endless numbers."""
    if depth > 32:
        return False
    if isinstance(value, str):
        return not any("\ud800" <= letter <= "\udfff" for letter in value)
    if isinstance(value, dict):
        return all(_is_sound(key) and _is_sound(part, depth + 1) for key, part in value.items())
    if isinstance(value, list):
        return all(_is_sound(part, depth + 1) for part in value)
    if isinstance(value, int) and not isinstance(value, bool):
        return abs(value) < 2**53
    return not isinstance(value, float) or math.isfinite(value)


def only(sent: dict[str, Json], *known: str) -> None:
    """Refuse members that are not known.

    Raises:
        Problem: There is one.
    """
    unknown = [name for name in sent if name not in known]
    if unknown:
        accepted = ", ".join(known) or "none"
        raise Problem(
            HTTPStatus.UNPROCESSABLE_ENTITY,
            f"Unknown member; known are {accepted}.",
            unknown[0][:60],
        )


def text_of(sent: dict[str, Json], name: str, most: int = 100, needed: bool = True) -> str:
    """A member that is a text.

    Raises:
        Problem: It is missing, too long, or none.
    """
    value = sent.get(name, None if needed else "")
    if not isinstance(value, str) or len(value) > most or (needed and not value):
        accepted = f"{name}: a text of at most {most} letters."
        raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, accepted, name)
    return value


def time_of(sent: dict[str, Json], name: str) -> float | None:
    """A member that is a time [s], or nothing.

    Raises:
        Problem: It is something else.
    """
    value = sent.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, f"{name}: seconds, or nothing.", name)
    return float(value)


def kind_of(text: str) -> Kind:
    """A kind that a device may ask for.

    Raises:
        Problem: It is none.
    """
    for kind in ASKED:
        if kind.value == text:
            return kind
    accepted = ", ".join(kind.value for kind in ASKED)
    raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, f"kind: one of {accepted}.", "kind")


def deed_of(sent: dict[str, Json], session: Session) -> Deed:
    """The deed that a device asks for: who it is comes from the session, never from what was sent.

    Whether its body fits is for the desk to say, which lets no stop fail for a slip of the pen.

    Raises:
        Problem: It is no deed.
    """
    only(sent, "key", "kind", "body", "tapped_at", "offset")
    body = sent.get("body", {})
    if not isinstance(body, dict):
        raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, "body: an object.", "body")
    return Deed(
        text_of(sent, "key"),
        kind_of(text_of(sent, "kind")),
        session.person,
        session.role,
        session.device,
        body,
        time_of(sent, "tapped_at"),
        time_of(sent, "offset"),
    )


async def read_form(request: Request) -> dict[str, str]:
    """The fields of a form; of several with one name the last.

    Raises:
        Problem: It is none, or has too many.
    """
    media = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media != "application/x-www-form-urlencoded":
        raise Problem(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Send a form.")
    raw = await request.body()
    try:
        text = raw.decode("ascii")
        return dict(
            parse_qsl(text, keep_blank_values=True, errors="strict", max_num_fields=MOST_FIELDS)
        )
    except ValueError:
        raise Problem(HTTPStatus.BAD_REQUEST, "This form cannot be read.") from None


WHOLE = frozenset({"body.step", "body.before", "body.spell", "body.call"})
SHARES = frozenset({"body.share"})
FLAGS = frozenset({"body.accepts"})
"""Members that are no text, by the names of their fields."""


def body_of_form(fields: dict[str, str]) -> dict[str, Json]:
    """The body that a form's fields make up: `body.measured.value` is a member of a member."""
    made: dict[str, Json] = {}
    for name, text in fields.items():
        path = name.split(".")
        if path[0] != "body" or len(path) not in (2, 3) or text == "":
            continue
        value = _member(name, text)
        if len(path) == 2:
            made[path[1]] = value
            continue
        group = made.setdefault(path[1], {})
        if isinstance(group, dict):
            group[path[2]] = value
    return made


def _member(name: str, text: str) -> Json:
    """A field's value as its member wants it; what does not fit stays a text for the desk."""
    if name in WHOLE and text.isascii() and text.isdigit() and len(text) < 10:
        return int(text)
    if name in FLAGS and text == "true":
        return True
    if name in SHARES and re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,6})?", text):
        return float(text)
    return text.replace("\r", "")
