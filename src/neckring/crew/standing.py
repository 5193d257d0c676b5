"""Whether a clearance or a consent stands on a day, and if not why not."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from neckring.station.people import Consent, Given, Person

SOON = 14
"""Days before an end from which on it is told."""


@dataclass(frozen=True)
class Standing:
    """How something stands on a day.

    Attributes:
        what: Of what this is told, in words.
        good: Whether it counts on that day.
        words: Why, or until when.
        days_left: Whole days after that one on which it still counts; None where nothing ends it.
    """

    what: str
    good: bool
    words: str
    days_left: int | None = None


def clearance_on(person: Person, kind: str, words: str, day: datetime.date) -> Standing:
    """How a clearance stands.

    Args:
        person: Whose.
        kind: Code of the clearance.
        words: What it is called.
        day: The day of the run; the last day of a clearance still counts.
    """
    given = person.clearances.get(kind)
    if given is None:
        return Standing(words, False, "never given")
    return _held(words, given, day, "given")


def consent_on(person: Person, version: str | None, day: datetime.date) -> Standing:
    """How consent stands.

    Args:
        person: Whose.
        version: Of the protocol in force; consent to another one does not count.
        day: The day of the run. Consent that was taken back on it no longer counts.
    """
    consent = person.consent
    if consent is None:
        return Standing("consent", False, "never given")
    if consent.withdrawn is not None and consent.withdrawn <= day:
        return Standing("consent", False, f"taken back on {consent.withdrawn.isoformat()}")
    if version is not None and consent.version != version:
        words = f"given to version {consent.version}; in force is {version}"
        return Standing("consent", False, words)
    return _held("consent", consent, day, "given")


def _held(what: str, held: Given | Consent, day: datetime.date, verb: str) -> Standing:
    if day < held.on:
        return Standing(what, False, f"{verb} only from {held.on.isoformat()}")
    if held.until is None:
        return Standing(what, True, "stands, with no end")
    left = (held.until - day).days
    if left < 0:
        return Standing(what, False, f"ran out on {held.until.isoformat()}", left)
    return Standing(what, True, f"stands until {held.until.isoformat()}", left)
