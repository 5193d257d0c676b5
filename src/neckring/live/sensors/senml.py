"""Sensor Measurement Lists in JSON: a pack as it came over the wire, to resolved records.

Base fields hold from the record in which they stand until they are stated anew, and are cleared by
nothing; a name is base name and name together. A time below 2**28 tells how long ago, or in how
long, seen from now. A field that is not known is passed over, unless its label ends in "_": then
the pack means something that this reader does not understand, and is refused whole.

Source: Jennings et al. 2018, RFC 8428, sections 4 (structure, resolution) and 5 (JSON).
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NoReturn

from neckring.live.sensors.record import MessageError, Record

LONGEST_PACK = 256 * 1024
"""Bytes; some 8,000 records. Larger ones are refused unread."""

MOST_RECORDS = 5000
VERSION = 10
"""Section 4.4: the version that a pack has when it states none; newer ones are not understood."""

RELATIVE_BELOW = 2.0**28
"""Section 4.5.3: a time below it is seen from now; seconds."""

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")

_TEXTS = ("bn", "bu", "n", "u", "vs", "vd")
_NUMBERS = ("bt", "bv", "bs", "v", "s", "t", "ut", "bver")
_VALUES = ("v", "vs", "vb", "vd")
_Field = dict[str, Any]


@dataclass(frozen=True)
class Pack:
    """What a pack says.

    Attributes:
        records: Resolved, those with a number.
        without_number: Names of records that hold a text, a truth, bytes or a sum alone.
    """

    records: tuple[Record, ...]
    without_number: tuple[str, ...] = ()


@dataclass
class _Base:
    """The base fields in force."""

    fields: dict[str, Any] = field(default_factory=dict)

    def take(self, fields: Mapping[str, Any]) -> None:
        for label in ("bn", "bt", "bu", "bv", "bs", "bver"):
            if label in fields:
                self.fields[label] = fields[label]

    @property
    def version(self) -> int:
        return int(self.fields.get("bver", VERSION))

    def number(self, label: str) -> float:
        return float(self.fields.get(label, 0.0))

    def text(self, label: str) -> str:
        return str(self.fields.get(label, ""))


def parse_pack(pack: bytes | str, now: float) -> Pack:
    """Read a pack and resolve its records.

    Args:
        pack: JSON text.
        now: Seconds since 1970, from which relative times are seen.

    Raises:
        MessageError: It is no pack, or one that is not understood; nothing of it counts.
    """
    records = _list_of(_decoded(pack))
    base = _Base()
    numbered: list[Record] = []
    others: list[str] = []
    for place, fields in enumerate(records, start=1):
        known = _checked(fields, place)
        _check_version(known, base, place)
        base.take(known)
        resolved = _resolved(known, base, now, place)
        if isinstance(resolved, Record):
            numbered.append(resolved)
        elif resolved:
            others.append(resolved)
    return Pack(tuple(numbered), tuple(others))


def _decoded(pack: bytes | str) -> object:
    if len(pack) > LONGEST_PACK:
        raise MessageError(f"a pack of {len(pack)} bytes; at most {LONGEST_PACK} are read")
    try:
        text = pack.decode("utf-8") if isinstance(pack, bytes) else pack
        decoded: object = json.loads(
            text, parse_constant=_refuse_constant, object_pairs_hook=_without_twins
        )
    except UnicodeDecodeError as wrong:
        raise MessageError(f"byte {wrong.start + 1} is not UTF-8") from None
    except json.JSONDecodeError as wrong:
        place = f"line {wrong.lineno}, column {wrong.colno}"
        raise MessageError(f"not JSON at {place}: {wrong.msg.lower()}") from None
    except RecursionError:
        raise MessageError("lists nested without end; a pack is a list of records") from None
    return decoded


def _refuse_constant(name: str) -> NoReturn:
    raise MessageError(f"{name} is no number that can be measured")


def _without_twins(pairs: list[tuple[str, Any]]) -> _Field:
    fields = dict(pairs)
    if len(fields) < len(pairs):
        labels = [label for label, _ in pairs]
        twin = next(label for label in labels if labels.count(label) > 1)
        raise MessageError(f'the label "{twin}" twice in one record')
    return fields


def _list_of(decoded: object) -> list[object]:
    if not isinstance(decoded, list):
        raise MessageError(f"{_kind(decoded)}; a pack is a list of records")
    if not decoded:
        raise MessageError("an empty list; a pack has at least one record")
    if len(decoded) > MOST_RECORDS:
        raise MessageError(f"{len(decoded)} records; at most {MOST_RECORDS} are read")
    return decoded


def _checked(fields: object, place: int) -> _Field:
    if not isinstance(fields, dict):
        raise MessageError(f"record {place} is {_kind(fields)}; a record is a group of fields")
    for label, value in fields.items():
        _check_field(label, value, place)
    if sum(label in fields for label in _VALUES) > 1:
        found = ", ".join(label for label in _VALUES if label in fields)
        raise MessageError(f"record {place} has more than one value: {found}")
    return fields


def _check_version(fields: _Field, base: _Base, place: int) -> None:
    """Section 4.4: all records of a pack have the same version; base.fields holds the first's."""
    if place > 1 and fields.get("bver", base.version) != base.version:
        raise MessageError(f"record {place}: another bver than before; a pack has one version")


_KINDS: tuple[tuple[tuple[str, ...], str, Callable[[object], bool]], ...] = (
    (_TEXTS, "a text", lambda value: isinstance(value, str)),
    (_NUMBERS, "a number", lambda value: _is_number(value)),
    (("vb",), "true or false", lambda value: isinstance(value, bool)),
)


def _check_field(label: str, value: object, place: int) -> None:
    if label.endswith("_"):
        raise MessageError(f'record {place}: "{label}" must be understood and is not')
    for labels, wanted, fits in _KINDS:
        if label in labels and not fits(value):
            raise MessageError(f"record {place}: {label} is {_kind(value)}; it should be {wanted}")
    if label == "bver" and value != VERSION and not _is_older(value):
        raise MessageError(f"record {place}: bver {value}; versions up to {VERSION} are understood")


def _is_older(version: object) -> bool:
    # The RFC's own examples state version 5, that of its drafts.
    return isinstance(version, int) and 1 <= version < VERSION


def _is_number(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(float(value))
    except OverflowError:
        return False


def _resolved(fields: _Field, base: _Base, now: float, place: int) -> Record | str:
    name = base.text("bn") + str(fields.get("n", ""))
    if "v" not in fields and not ("bv" in base.fields and not _has_value(fields)):
        return name if _has_value(fields) else ""
    if not _NAME.fullmatch(name):
        read = f'the name "{name[:60]}"' if name else "no name"
        raise MessageError(
            f"record {place} has {read}; names begin with a letter or a figure and hold only "
            "those and - : . / _"
        )
    value = base.number("bv") + float(fields.get("v", 0.0))
    time = base.number("bt") + float(fields.get("t", 0.0))
    if not (math.isfinite(value) and math.isfinite(time)):
        raise MessageError(f"record {place}: base and value together are too large")
    unit = str(fields["u"]) if "u" in fields else base.text("bu")
    relative = time < RELATIVE_BELOW
    stated = "bt" in base.fields or "t" in fields
    when = now + time if relative else time
    return Record(name, value, unit or None, when if stated else None, relative and stated)


def _has_value(fields: _Field) -> bool:
    return any(label in fields for label in (*_VALUES, "s"))


def _kind(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'the text "{value[:40]}"'
    if isinstance(value, int | float):
        return "a number that is too large" if not _is_number(value) else f"the number {value:g}"
    if isinstance(value, list):
        return "a list"
    return "a group of fields" if isinstance(value, dict) else "null"
