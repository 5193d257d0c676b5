"""people.yaml: who is cleared, has consented and is signed off; codes only, never names."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from neckring.station.fault import listed
from neckring.station.fields import DAY, Code, Plain, Text, Word, YesNo, did_you_mean
from neckring.station.gates import Gates
from neckring.station.vitals import Vitals
from neckring.station.written import Complaint, Written, alike

Name = Annotated[str, Code()]
Day = Annotated[datetime.date, DAY]
HowWell = Literal["observed", "supervised", "alone"]

NAMING = frozenset(
    {
        "name",
        "names",
        "fullname",
        "firstname",
        "lastname",
        "surname",
        "forename",
        "familyname",
        "givenname",
        "nickname",
        "email",
        "mail",
        "emailaddress",
        "phone",
        "telephone",
        "mobile",
        "address",
        "street",
        "birthday",
        "birthdate",
        "dateofbirth",
        "born",
        "dob",
        "initials",
        "photo",
        "picture",
        "passport",
    }
)
"""Keys that say who somebody is, without spaces, dashes and capitals."""


def naming(key: str) -> bool:
    """Whether a key would hold what says who somebody is."""
    return re.sub(r"[^a-z]", "", key.lower()) in NAMING


class Coded(Written):
    """A group of keys about people, in which nothing may say who they are."""

    @model_validator(mode="before")
    @classmethod
    def _no_names(cls, written: Any) -> Any:  # noqa: ANN401 - not yet validated
        """Refuse keys for names before anything else is said."""
        keys = [key for key in written if naming(str(key))] if isinstance(written, dict) else []
        if keys:
            told = tuple(
                Complaint(
                    (key,),
                    "codes only: names and addresses stay out of a station",
                    "a key that says who somebody is",
                    "keep the list of codes and names elsewhere, apart; it is never needed here",
                )
                for key in keys
            )
            raise PydanticCustomError("disagreement", "disagrees", {"complaints": told})
        return written


class Given(Coded):
    """A clearance that somebody was given.

    Attributes:
        on: From this day.
        until: To this day, itself included; None for no end.
        by: Code of who gave it.
    """

    on: Day
    until: Day | None = None
    by: Name

    def disagreements(self) -> Iterator[Complaint]:
        """An end before the beginning."""
        yield from _backwards(self.on, self.until)


class Consent(Coded):
    """What a wearer agreed to.

    Attributes:
        version: Of the protocol that was read.
        on: The day.
        until: To this day, itself included; None for no end.
        withdrawn: The day on which it was taken back; None when it stands.
    """

    version: Name
    on: Day
    until: Day | None = None
    withdrawn: Day | None = None

    def disagreements(self) -> Iterator[Complaint]:
        """An end, or a taking back, before the beginning."""
        yield from _backwards(self.on, self.until)
        if self.withdrawn is not None and self.withdrawn < self.on:
            yield Complaint(("withdrawn",), f"a day not before {self.on.isoformat()}")


def _backwards(start: datetime.date, end: datetime.date | None) -> Iterator[Complaint]:
    if end is not None and end < start:
        yield Complaint(("until",), f"a day not before {start.isoformat()}")


class SignOff(Coded):
    """That somebody did something, and how well.

    Attributes:
        skill: Code of what.
        how: Only watched it; did it while somebody stood by; did it alone.
        on: The day.
        by: Code of who saw it.
    """

    skill: Name
    how: Annotated[HowWell, Word()]
    on: Day
    by: Name


class CardReading(Vitals):
    """One reading of a person's own card, taken at rest on an ordinary day."""

    on: Day

    def disagreements(self) -> Iterator[Complaint]:
        """Two pressures that were exchanged."""
        upper, lower = self.systolic, self.diastolic
        if upper is not None and lower is not None and upper.nominal <= lower.nominal:
            accepted = f"a pressure above the diastolic one, {lower.text}"
            yield Complaint(("systolic",), accepted, hint="the higher one is the systolic")


class Person(Coded):
    """One person; the code stands for the name.

    Attributes:
        clearances: By code of the kind.
        consent: None for whoever wears no suit.
        signed_off: In any order.
        card: Own readings at rest.
    """

    clearances: dict[Name, Given] = Field(default_factory=dict)
    consent: Consent | None = None
    signed_off: tuple[SignOff, ...] = Field(default=(), max_length=2000)
    card: tuple[CardReading, ...] = Field(default=(), max_length=500)


class Skill(Written):
    """Something that can be learnt and forgotten.

    Attributes:
        words: What it is called.
        lapses_after: Days after which a sign-off no longer counts; None for never.
    """

    words: Annotated[str, Text(80)]
    lapses_after: Annotated[int | None, Plain(1, 3660, whole=True)] = None


class Role(Written):
    """What somebody must show to act in a part.

    Attributes:
        words: What it is called.
        skills: Code of each skill to how well, at least.
        clearances: Codes of the clearances.
        consent: Whether consent to the present version is needed.
    """

    words: Annotated[str, Text(80)]
    skills: dict[Name, Annotated[HowWell, Word()]] = Field(default_factory=dict)
    clearances: tuple[Name, ...] = ()
    consent: Annotated[bool, YesNo()] = False


class PeopleSheet(Coded):
    """The file.

    Attributes:
        consent_version: Of the protocol in force; consent to another one does not count.
        clearances: Kinds of clearance, with their words.
        skills: By code.
        roles: By code: `wearer`, `tender`, `lead`, `medic` and whatever else there is.
        people: By code.
        gates: Before and after a run.
    """

    about: Annotated[str | None, Text()] = None
    consent_version: Name | None = None
    clearances: dict[Name, Annotated[str, Text(80)]] = Field(default_factory=dict)
    skills: dict[Name, Skill] = Field(default_factory=dict)
    roles: dict[Name, Role] = Field(default_factory=dict)
    people: dict[Name, Person] = Field(min_length=1, max_length=500)
    gates: Gates | None = None

    def disagreements(self) -> Iterable[Complaint]:
        """Codes that look alike, words that are nowhere explained, people who sign themselves."""
        yield from alike("people", self.people)
        for code, role in self.roles.items():
            for skill in role.skills:
                yield from _unknown(("roles", code, "skills", skill), skill, self.skills, "skills")
            for place, kind in enumerate(role.clearances):
                at = ("roles", code, "clearances", place)
                if kind in role.clearances[:place]:
                    yield Complaint(at, "each clearance once")
                yield from _unknown(at, kind, self.clearances, "clearances")
            if role.consent and self.consent_version is None:
                accepted = "no, or a consent_version at the top of the file"
                yield Complaint(("roles", code, "consent"), accepted)
        for code, person in self.people.items():
            yield from self._person(code, person)

    def _person(self, code: str, person: Person) -> Iterator[Complaint]:
        for kind in person.clearances:
            at = ("people", code, "clearances", kind)
            yield from _unknown(at, kind, self.clearances, "clearances")
        for place, each in enumerate(person.signed_off):
            spot = ("people", code, "signed_off", place)
            yield from _unknown((*spot, "skill"), each.skill, self.skills, "skills")
            if each.by == code:
                yield Complaint((*spot, "by"), "somebody else: nobody signs off themselves")


def _unknown(
    at: tuple[str | int, ...], code: str, among: Iterable[str], key: str
) -> Iterator[Complaint]:
    known = sorted(among)
    if code not in known:
        said = listed(known) or "there are none yet"
        near = did_you_mean(code, tuple(known))
        yield Complaint(at, f"one of the {key} of this file: {said}", f'"{code}"', near)
