"""The matrix of sign-offs, and who may act in which part on a day."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass

from neckring.crew.standing import SOON, Standing, clearance_on, consent_on
from neckring.station.people import HowWell, PeopleSheet, Person, Role, SignOff, Skill

RANK: dict[HowWell, int] = {"observed": 1, "supervised": 2, "alone": 3}
"""How much each is worth; the better counts for the lesser."""
SAID: dict[HowWell, str] = {
    "observed": "having watched it",
    "supervised": "under supervision",
    "alone": "alone",
}


@dataclass(frozen=True)
class Current:
    """How well somebody is signed off for a skill on a day.

    Attributes:
        how: The best that has not lapsed; None for nothing.
        on: Of that sign-off.
        lapses_on: First day on which it no longer counts; None for never.
        lapsed: The best that has lapsed and was better than `how`; None for none.
    """

    how: HowWell | None
    on: datetime.date | None = None
    lapses_on: datetime.date | None = None
    lapsed: SignOff | None = None


@dataclass(frozen=True)
class Fitness:
    """Whether somebody may act in a part on a day.

    Attributes:
        person: Code.
        role: Code.
        may: Whether.
        reasons: Why not, each in words; empty when they may.
        soon: What stands but ends within `SOON` days, in words.
    """

    person: str
    role: str
    may: bool
    reasons: tuple[str, ...]
    soon: tuple[str, ...]


def current(person: Person, code: str, skill: Skill, day: datetime.date) -> Current:
    """How well somebody is signed off for a skill.

    A sign-off counts on its day and on `lapses_after` days after it.

    Args:
        person: Whose.
        code: Of the skill.
        skill: After how many days it lapses.
        day: The day of the run; later sign-offs are not known yet.
    """
    known = [each for each in person.signed_off if each.skill == code and each.on <= day]
    fresh = [each for each in known if not _lapsed(each, skill, day)]
    stale = [each for each in known if _lapsed(each, skill, day)]
    best = max(fresh, key=_worth, default=None)
    better = max(stale, key=_worth, default=None)
    if better is not None and best is not None and RANK[better.how] <= RANK[best.how]:
        better = None
    if best is None:
        return Current(None, lapsed=better)
    return Current(best.how, best.on, _lapses_on(best, skill), better)


def _worth(each: SignOff) -> tuple[int, datetime.date]:
    return RANK[each.how], each.on


def _lapses_on(each: SignOff, skill: Skill) -> datetime.date | None:
    if skill.lapses_after is None:
        return None
    return each.on + datetime.timedelta(days=skill.lapses_after + 1)


def _lapsed(each: SignOff, skill: Skill, day: datetime.date) -> bool:
    ends = _lapses_on(each, skill)
    return ends is not None and day >= ends


def fitness(sheet: PeopleSheet, person: str, role: str, day: datetime.date) -> Fitness:
    """Whether somebody may act in a part.

    Args:
        sheet: The people of the station.
        person: Code of somebody in it.
        role: Code of a role in it.
        day: The day.
    """
    who, wanted = sheet.people[person], sheet.roles[role]
    standings = list(_standings(sheet, who, wanted, day))
    reasons = [f"{one.what}: {one.words}" for one in standings if not one.good]
    soon = [f"{one.what}: {one.words}" for one in standings if one.good and _near(one.days_left)]
    for code, least in wanted.skills.items():
        has = current(who, code, sheet.skills[code], day)
        words = sheet.skills[code].words
        if has.how is None or RANK[has.how] < RANK[least]:
            reasons.append(f"{words}: {_short(has, least, sheet.skills[code])}")
        elif has.lapses_on is not None and _near((has.lapses_on - day).days - 1):
            last = has.lapses_on - datetime.timedelta(days=1)
            soon.append(f"{words}: counts until {last.isoformat()}")
    return Fitness(person, role, not reasons, tuple(reasons), tuple(soon))


def _standings(
    sheet: PeopleSheet, who: Person, wanted: Role, day: datetime.date
) -> Iterator[Standing]:
    for kind in wanted.clearances:
        yield clearance_on(who, kind, sheet.clearances[kind], day)
    if wanted.consent:
        yield consent_on(who, sheet.consent_version, day)


def _near(days_left: int | None) -> bool:
    return days_left is not None and days_left < SOON


def _short(has: Current, least: HowWell, skill: Skill) -> str:
    """Why a sign-off is not enough."""
    needed = f"needed: {SAID[least]}"
    if has.lapsed is not None and RANK[has.lapsed.how] >= RANK[least]:
        ended = _lapses_on(has.lapsed, skill)
        last = "" if ended is None else (ended - datetime.timedelta(days=1)).isoformat()
        return f"lapsed: signed off {SAID[has.lapsed.how]} {has.lapsed.on.isoformat()}, " + (
            f"which counted until {last}"
        )
    if has.how is None:
        return f"never signed off; {needed}"
    return f"signed off only {SAID[has.how]}; {needed}"


def matrix(sheet: PeopleSheet, day: datetime.date) -> dict[str, dict[str, Current]]:
    """Person to skill to how well each is signed off on a day."""
    return {
        person: {code: current(who, code, skill, day) for code, skill in sheet.skills.items()}
        for person, who in sheet.people.items()
    }


def who_may(sheet: PeopleSheet, role: str, day: datetime.date) -> tuple[Fitness, ...]:
    """Everybody's fitness for a role, those who may first, then by code."""
    found = [fitness(sheet, person, role, day) for person in sheet.people]
    return tuple(sorted(found, key=lambda one: (not one.may, one.person)))
