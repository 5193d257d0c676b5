"""Forms that were filled in beside a run, if there are any: `forms/*.json` in its kept folder.

Whatever a form is, it is shown as what was asked and what was answered. A form is one JSON object;
`form` names it and `wearer` is A, B or left out. Groups inside are shown with their names joined.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from neckring.records.report_records import FormFact

FOLDER = "forms"
LARGEST = 1_000_000
"""Bytes of one form; far more than any has."""
NAMES = ("form", "wearer")


class FormError(Exception):
    """A form cannot be read; says where and why in words."""


def read_forms(kept: Path) -> tuple[FormFact, ...]:
    """Every form of a run, in the order of the files' names.

    Args:
        kept: Folder of the run.

    Raises:
        FormError: One of them is no form.
    """
    folder = kept / FOLDER
    return tuple(_read(path) for path in sorted(folder.glob("*.json")))


def _read(path: Path) -> FormFact:
    accepted = "accepted: one JSON object, questions to answers"
    try:
        if path.stat().st_size > LARGEST:
            raise FormError(f"{path}: larger than {LARGEST} bytes; {accepted}")
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as problem:
        raise FormError(f"{path}: it cannot be read: {problem.strerror}") from None
    except (ValueError, RecursionError) as problem:
        raise FormError(f"{path}: it is no JSON ({problem}); {accepted}") from None
    if not isinstance(data, dict):
        raise FormError(f"{path}: read a {type(data).__name__}; {accepted}")
    name, wearer = (data.get(key, "") for key in NAMES)
    lines = tuple(_lines({key: value for key, value in data.items() if key not in NAMES}))
    return FormFact(str(name) or path.stem, str(wearer or ""), lines)


def _lines(value: object, asked: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _lines(inner, f"{asked}, {key}" if asked else str(key))
    elif isinstance(value, list) and any(isinstance(each, dict | list) for each in value):
        for number, inner in enumerate(value, 1):
            yield from _lines(inner, f"{asked} {number}".strip())
    elif isinstance(value, list):
        yield asked, ", ".join(_word(each) for each in value)
    else:
        yield asked, _word(value)


def _word(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)
