"""Until when a near miss has to be with a panel, and how long that still is."""

from __future__ import annotations

import datetime
from collections.abc import Collection
from dataclasses import dataclass

from neckring.station.panels import Within

SATURDAY = 5


@dataclass(frozen=True)
class Deadline:
    """When a report is due.

    Attributes:
        due: Its last moment, in the time zone in which it became known.
        assumed: What was taken for granted, in words; empty for nothing.
    """

    due: datetime.datetime
    assumed: str


HOLIDAYS_UNKNOWN = "holidays are not known: every Monday to Friday was counted"


def deadline(
    known_at: datetime.datetime, within: Within, closed_on: Collection[datetime.date] | None
) -> Deadline:
    """When a report is due.

    Hours run from the very moment. Days and business days begin on the day after the one on which
    it became known, and end with the end of the last of them.

    Args:
        known_at: When it became known, with its time zone.
        within: The panel's rule.
        closed_on: Holidays; None when nobody has listed them.

    Source: day of the event not counted, last day counted to its end: Regulation (EEC, Euratom)
        1182/71, article 3, from memory. A panel's own rule may count otherwise: ask.
    """
    if within.counted == "hours":
        # On the line of time, not on the wall's clock, which may jump for summer.
        passed = known_at.astimezone(datetime.UTC) + datetime.timedelta(hours=within.number)
        return Deadline(passed.astimezone(known_at.tzinfo), "")
    if within.counted == "days":
        last = known_at.date() + datetime.timedelta(days=within.number)
        return Deadline(_end_of(last, known_at), "")
    last = business_day(known_at.date(), within.number, closed_on or ())
    return Deadline(_end_of(last, known_at), HOLIDAYS_UNKNOWN if closed_on is None else "")


def business_day(
    start: datetime.date, number: int, closed_on: Collection[datetime.date]
) -> datetime.date:
    """The so-manieth business day after a day: Monday to Friday, no holiday.

    Args:
        start: Not counted itself.
        number: From 1.
        closed_on: Holidays.
    """
    closed, day, left = set(closed_on), start, number
    while left:
        day += datetime.timedelta(days=1)
        left -= day.weekday() < SATURDAY and day not in closed
    return day


def _end_of(day: datetime.date, known_at: datetime.datetime) -> datetime.datetime:
    return datetime.datetime.combine(day, datetime.time(23, 59, 59), known_at.tzinfo)


def left_until(due: datetime.datetime, now: datetime.datetime) -> float:
    """Time left [s]; negative when it is over.

    Args:
        due: With its time zone.
        now: With its time zone.
    """
    return (due.astimezone(datetime.UTC) - now.astimezone(datetime.UTC)).total_seconds()
