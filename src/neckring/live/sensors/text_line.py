"""One reading as a line of text: `name value unit`, the unit perhaps left out.

A byte lost on a serial line makes 18 of 184. A line may therefore end in `*` and two hexadecimal
figures: all bytes before the `*` exclusive-ored, as ships' instruments do.

Source of the sum: NMEA 0183, sentence checksum, from memory; units are UCUM codes.
"""

from __future__ import annotations

import math
import re
from functools import reduce

from neckring.live.sensors.record import MessageError, Record

LONGEST_LINE = 64 * 1024
"""Bytes; a SenML pack may stand on one line."""

_NAME_PART = r"(?P<name>[A-Za-z][A-Za-z0-9:._/-]{0,199})[ \t=]+"
_VALUE_PART = (
    r"(?P<value>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
    r"(?:[ \t]+(?P<unit>\S{1,40}))?"
)
_LINE = re.compile(_NAME_PART + _VALUE_PART)
_VALUE = re.compile(_VALUE_PART)
_SUM = re.compile(r"(?P<text>.*)\*(?P<sum>[0-9A-Fa-f]{2})")


def parse_line(line: str) -> Record:
    """Read one line.

    Raises:
        MessageError: It is none, or its sum does not fit.
    """
    text = _summed(line.strip())
    found = _LINE.fullmatch(text)
    if found is None:
        raise MessageError(f'"{_shown(line)}" is no line such as "heart 84 /min"')
    return Record(found["name"], _finite(found["value"], line), found["unit"])


def parse_value(name: str, text: str) -> Record:
    """Read a bare value, with its unit or without, whose name is known otherwise.

    Raises:
        MessageError: It is none.
    """
    found = _VALUE.fullmatch(text.strip())
    if found is None:
        raise MessageError(f'"{_shown(text)}" is neither a pack nor a value such as "84 /min"')
    return Record(name, _finite(found["value"], text), found["unit"])


def line_sum(text: str) -> str:
    """The sum of a line: two hexadecimal figures."""
    return f"{reduce(lambda total, byte: total ^ byte, text.encode(), 0):02X}"


def _summed(text: str) -> str:
    found = _SUM.fullmatch(text)
    if found is None:
        return text
    if found["sum"].upper() != line_sum(found["text"]):
        raise MessageError(f'"{_shown(text)}": the sum does not fit, something was lost')
    return found["text"].strip()


def _finite(number: str, line: str) -> float:
    value = float(number)
    if not math.isfinite(value):
        raise MessageError(f'"{_shown(line)}": the number is too large')
    return value


def _shown(text: str) -> str:
    printable = "".join(letter if letter.isprintable() else "?" for letter in text.strip())
    return printable if len(printable) <= 60 else f"{printable[:59]}…"
