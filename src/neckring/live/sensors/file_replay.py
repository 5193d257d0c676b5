"""Readings of a past run from a file, at any speed.

JSON Lines, an object a line, or CSV with a first line of names. Both have `time` [s, from
anywhere, never back], `wearer`, `name`, `value` and perhaps `unit`, a UCUM code. JSON may say
that a gas flow is `actual`; other keys are passed over, so that what `neckring listen --json`
prints can be played again. Values are judged anew. The whole file is checked beforehand.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from neckring.live.sensors.intake import Intake
from neckring.live.sensors.record import Record
from neckring.live.sensors.source import Clock, Deliver, Source, SourceError

LARGEST_FILE = 500 * 1024 * 1024
"""Bytes."""

NEEDED = ("time", "wearer", "name", "value")


@dataclass(frozen=True)
class Played:
    """One value of a file.

    Attributes:
        time: [s]
        wearer: A or B, or the code of a suit.
        record: The value.
    """

    time: float
    wearer: str
    record: Record


def read_past(path: Path) -> list[Played]:
    """Read and check a file.

    Raises:
        SourceError: It cannot be read, or a line of it is wrong; with its place.
    """
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise SourceError(f"{path}: larger than {LARGEST_FILE // 1024**2} MB")
        text = path.read_text(encoding="utf-8-sig")
    except OSError as problem:
        raise SourceError(f"{path}: cannot be read: {problem.strerror}") from None
    except UnicodeDecodeError as wrong:
        raise SourceError(f"{path}: byte {wrong.start + 1} is not UTF-8") from None
    found = parse_past(text, str(path))
    if not found:
        raise SourceError(f"{path}: no reading in it")
    return found


def parse_past(text: str, file: str) -> list[Played]:
    """Read what a file holds.

    Args:
        text: Of the file.
        file: Its name, for messages.

    Raises:
        SourceError: A line is wrong.
    """
    is_json = text.lstrip()[:1] == "{"
    found: list[Played] = []
    for line, row in _objects(text, file) if is_json else _rows(text, file):
        played = _played(row, f"{file}:{line}")
        if found and played.time < found[-1].time:
            raise SourceError(f"{file}:{line}: time: read {played.time:g}; it may not go back")
        found.append(played)
    return found


def _objects(text: str, file: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    for line, each in enumerate(text.splitlines(), start=1):
        if not each.strip():
            continue
        try:
            row = json.loads(each)
        except (json.JSONDecodeError, RecursionError) as wrong:
            raise SourceError(f"{file}:{line}: not JSON: {wrong}") from None
        if not isinstance(row, dict):
            raise SourceError(f"{file}:{line}: each line holds one object")
        if "untaken" not in row:
            yield line, row


def _rows(text: str, file: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    try:
        names = reader.fieldnames or ()
        missing = [key for key in NEEDED if key not in names]
        if missing:
            raise SourceError(
                f"{file}:1: read {', '.join(names)[:80] or 'nothing'}; accepted: a line of names "
                f"with {', '.join(NEEDED)} and perhaps unit"
            )
        for row in reader:
            yield reader.line_num, row
    except csv.Error as wrong:
        raise SourceError(f"{file}:{reader.line_num}: {wrong}") from None


def _played(row: Mapping[str, Any], place: str) -> Played:
    wearer, name = (_text(row, key, place) for key in ("wearer", "name"))
    unit = row.get("unit") or None
    if unit is not None and not isinstance(unit, str):
        raise SourceError(f"{place}: unit: read {unit!r}; accepted: a UCUM code")
    time, value = (_number(row, key, place) for key in ("time", "value"))
    is_actual = row.get("actual") is True
    return Played(time, wearer, Record(name, value, unit, is_actual=is_actual))


def _text(row: Mapping[str, Any], key: str, place: str) -> str:
    value = row.get(key)
    if not isinstance(value, str) or not value.strip():
        raise SourceError(f"{place}: {key}: read {_shown(value)}; accepted: a text")
    return value.strip()


def _number(row: Mapping[str, Any], key: str, place: str) -> float:
    value = row.get(key)
    try:
        number = math.nan if isinstance(value, bool) or value is None else float(value)
    except (TypeError, ValueError, OverflowError):
        number = math.nan
    if not math.isfinite(number):
        raise SourceError(f"{place}: {key}: read {_shown(value)}; accepted: a number")
    return number


def _shown(value: object) -> str:
    return "nothing" if value in (None, "") else repr(value)[:60]


class ReplaySource(Source):
    """Plays a past run once, then ends."""

    def __init__(
        self,
        path: Path,
        intake: Intake,
        deliver: Deliver,
        clock: Clock,
        speed: float = 1.0,
    ) -> None:
        """Read the file.

        Args:
            path: Of the file.
            intake: Where records are placed.
            deliver: Gets the readings.
            clock: Stamps of now.
            speed: Seconds of the file in one second; infinite for all at once.

        Raises:
            SourceError: The file cannot be used.
        """
        super().__init__(f"file {path.name}", intake, deliver, clock)
        self._played = read_past(path)
        self._speed = speed
        self.finished = False

    def run(self) -> None:
        """Play it."""
        self.connected()
        begun = self.clock().monotonic
        first = self._played[0].time
        for (time, wearer), group in groupby(self._played, lambda each: (each.time, each.wearer)):
            due = begun + (time - first) / self._speed
            if self.ending.wait(max(0.0, due - self.clock().monotonic)):
                return
            self.take_records(wearer, [each.record for each in group])
        self.finished = True
        self.disconnected("played to its end")
