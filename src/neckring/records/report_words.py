"""Times, people and amounts of a report in words: the same on the page and in print."""

from __future__ import annotations

from collections.abc import Iterable

from neckring.live.entry_reading import lasting_words
from neckring.records.presentation import GAP, presentation_of
from neckring.records.report_course_records import SensorFact
from neckring.records.report_records import RunReport
from neckring.station.fault import listed

DASH = "–"
RANKS = {1: "to know", 2: "act soon", 3: "act at once"}
PEOPLE = {"A": "wearer A", "B": "wearer B"}


def moment(report: RunReport, run_time: float | None) -> str:
    """A time from first dressing as hours, minutes and seconds; a dash for never."""
    return DASH if run_time is None else clocklike(report.since(run_time))


def clocklike(seconds: float) -> str:
    """Hours, minutes and seconds, as in 1:02:03."""
    whole = round(abs(seconds))
    sign = "\N{MINUS SIGN}" if seconds < 0 and whole else ""
    return f"{sign}{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def lasting(seconds: float | None) -> str:
    """How long something took, in words; a dash for what is not known."""
    return DASH if seconds is None else lasting_words(seconds).replace(" ", GAP)


def signed(seconds: float) -> str:
    """A difference of two times: "3 min later", "20 s earlier", "at the same time"."""
    if abs(seconds) < 1.0:
        return "at the same time"
    return f"{lasting(abs(seconds))} {'later' if seconds > 0 else 'earlier'}"


def person(lane: str) -> str:
    """A lane of a procedure, in words."""
    return PEOPLE.get(lane, lane)


def capital(text: str) -> str:
    """A text as a sentence begins."""
    return text[:1].upper() + text[1:]


def whom(letters: Iterable[str]) -> str:
    """Wearers, in words."""
    return listed([person(letter) for letter in letters], "and") or "everybody"


def count(number: int, one: str, many: str = "") -> str:
    """A number with its word: "1 stop", "2 stops"."""
    return f"{number:,}{GAP}{one if number == 1 else many or one + 's'}".replace(",", "\u202f")


def share(part: float, whole: float) -> str:
    """A share as per cent, never rounded up to all or down to nothing."""
    if whole <= 0:
        return DASH
    per_cent = 100.0 * part / whole
    if 99.9 < per_cent < 100.0:
        return f"> 99.9{GAP}%"
    if 0.0 < per_cent < 0.1:
        return f"< 0.1{GAP}%"
    return f"{per_cent:.1f}{GAP}%"


def read_words(sensor: SensorFact, value: float) -> str:
    """A value of a channel with its unit."""
    if not sensor.quantity:
        return f"{value:.4g}"
    shown = presentation_of(sensor.quantity)
    return shown.text(value) if shown.unit else f"{value:.4g}{GAP}SI"
