"""JSON in one form only, so that equal content has equal bytes and equal digests.

The whole of the JSON Canonicalization Scheme (RFC 8785): keys in the order of their UTF-16 code
units, no white space, numbers as ECMAScript writes them, letters escaped only where they must be.
As that scheme demands (I-JSON, RFC 7493) a whole number beyond 2^53 - 1 is refused, and so are NaN,
infinities and halves of surrogate pairs. `1.0` is written `1` and so read back as a whole number,
equal to what it was; `-0.0` as `0`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal
from math import isfinite
from typing import NoReturn

from neckring.live.entries import Json

LARGEST_WHOLE = 2**53 - 1
"""RFC 7493, 2.2: whole numbers that every reader holds exactly."""
DEEPEST = 32
"""Groups inside groups that are accepted: far more than any body has."""
_POSITIONAL = (1e-4, 1e16)
"""Between these Python writes a number as ECMAScript does, but for ".0" after a whole one."""
_LONGEST_POSITIONAL, _SMALLEST_POSITIONAL = 21, -6
"""ECMA-262, Number::toString: from which places on an exponent is written."""


def canonical(value: Json | Mapping[str, Json], depth: int = DEEPEST) -> str:
    """A value as JSON in its one form.

    Raises:
        ValueError: When it has none; says why in words.

    Source: RFC 8785 (2020), section 3.2.
    """
    if isinstance(value, str):
        return _letters(value)
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, int):
        return _whole(value)
    if isinstance(value, float):
        return number(value)
    if depth == 0:
        raise ValueError(f"groups stand more than {DEEPEST} deep")
    if isinstance(value, Mapping):
        parts = (f"{_letters(key)}:{canonical(value[key], depth - 1)}" for key in _ordered(value))
        return "{" + ",".join(parts) + "}"
    if isinstance(value, list | tuple):
        return "[" + ",".join(canonical(each, depth - 1) for each in value) + "]"
    raise ValueError(f"a {type(value).__name__} cannot be written as JSON")


def number(value: float) -> str:
    """A number as ECMAScript writes it, with the fewest figures that read back as itself.

    Raises:
        ValueError: When it is not finite.

    Source: ECMA-262, Number::toString; RFC 8785, section 3.2.2.3.
    """
    if not isfinite(value):
        raise ValueError(f"the number {value} cannot be written as JSON")
    if value == 0.0:
        return "0"
    if _POSITIONAL[0] <= abs(value) < _POSITIONAL[1]:
        return repr(value).removesuffix(".0")
    return ("-" if value < 0.0 else "") + _placed(abs(value))


def parsed(text: str) -> Json:
    """Read JSON; whole numbers beyond 2^53 - 1 become floats, as they were when written.

    Raises:
        ValueError: When it is none.
    """
    try:
        value: Json = json.loads(text, parse_int=_read_whole, parse_constant=_refuse)
    except RecursionError:
        raise ValueError(f"groups stand more than {DEEPEST} deep") from None
    return value


def _placed(value: float) -> str:
    """Digits of a very large or very small number, with point or exponent in its place."""
    _, figures, exponent = Decimal(repr(value)).as_tuple()
    assert isinstance(exponent, int)
    digits = "".join(map(str, figures)).rstrip("0")
    point = len(figures) + exponent
    if 0 < point <= _LONGEST_POSITIONAL:
        return digits.ljust(point, "0")
    if _SMALLEST_POSITIONAL < point <= 0:
        return "0." + "0" * -point + digits
    broken = digits[0] + ("." + digits[1:] if len(digits) > 1 else "")
    return f"{broken}e{point - 1:+d}"


def _whole(value: int) -> str:
    if abs(value) > LARGEST_WHOLE:
        raise ValueError(f"the whole number {value} is beyond 2^53 - 1")
    return str(value)


def _letters(text: str) -> str:
    if not isinstance(text, str):
        raise ValueError(f"a key must be text, not {text!r}")  # noqa: TRY004 - one error for all
    if any("\ud800" <= letter <= "\udfff" for letter in text) if not text.isascii() else False:
        raise ValueError("half of a surrogate pair stands alone in a text")
    return json.dumps(text, ensure_ascii=False)


def _ordered(group: Mapping[str, Json]) -> list[str]:
    """Keys by UTF-16 code units; by bytes they are the same order when big-endian."""
    return sorted(group, key=lambda key: str(key).encode("utf-16-be", "surrogatepass"))


def _read_whole(text: str) -> int | float:
    value = int(text) if len(text) < len(str(LARGEST_WHOLE)) + 2 else float(text)
    return value if abs(value) <= LARGEST_WHOLE else float(text)


def _refuse(word: str) -> NoReturn:
    raise ValueError(f"{word} is not JSON")
