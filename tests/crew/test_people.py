"""Clearance, consent and sign-offs on a day; what a people file refuses."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.crew.crowd import people, told

from neckring.crew.sign_offs import RANK, fitness, matrix, who_may
from neckring.crew.standing import clearance_on, consent_on
from neckring.station.people import PeopleSheet

DAY = datetime.date(2026, 11, 27)
ONE = datetime.timedelta(days=1)
DAYS = st.dates(datetime.date(2026, 1, 1), datetime.date(2027, 12, 31))


def cleared(start: str, end: str) -> PeopleSheet:
    return people(W1={"clearances": {"medical": {"on": start, "until": end, "by": "M1"}}})


@pytest.mark.parametrize(
    ("day", "good"),
    [
        (datetime.date(2026, 5, 31), False),
        (datetime.date(2026, 6, 1), True),
        (datetime.date(2026, 11, 27), True),
        (datetime.date(2026, 11, 28), False),
    ],
)
def test_a_clearance_counts_from_its_first_to_its_last_day(day, good) -> None:
    person = cleared("2026-06-01", "2026-11-27").people["W1"]
    assert clearance_on(person, "medical", "medical clearance", day).good is good


@given(start=DAYS, length=st.integers(0, 400), day=DAYS)
def test_a_clearance_is_good_exactly_between_its_ends(start, length, day) -> None:
    end = start + length * ONE
    person = cleared(start.isoformat(), end.isoformat()).people["W1"]
    found = clearance_on(person, "medical", "medical clearance", day)
    assert found.good is (start <= day <= end)
    assert not found.good or found.days_left == (end - day).days


@pytest.mark.parametrize(
    ("consent", "words"),
    [
        ({"version": "v2", "on": "2026-10-01"}, "stands"),
        ({"version": "v1", "on": "2026-10-01"}, "version v1"),
        ({"version": "v2", "on": "2026-11-28"}, "only from"),
        ({"version": "v2", "on": "2026-10-01", "until": "2026-11-26"}, "ran out"),
        ({"version": "v2", "on": "2026-10-01", "withdrawn": "2026-11-27"}, "taken back"),
    ],
)
def test_consent_to_the_version_in_force_until_it_is_taken_back(consent, words) -> None:
    found = consent_on(people(W1={"consent": consent}).people["W1"], "v2", DAY)
    assert words in found.words
    assert found.good is (words == "stands")


def signed(how: str, on: datetime.date) -> PeopleSheet:
    off = {"skill": "dressing", "how": how, "on": on.isoformat(), "by": "R1"}
    return people(T1={"signed_off": [off]})


@pytest.mark.parametrize("how", RANK)
@pytest.mark.parametrize("ago", [0, 30, 31])
def test_a_sign_off_counts_for_its_days_and_for_what_is_less(how, ago) -> None:
    # Given dressing, needed under supervision, lapsing after 30 days
    sheet = signed(how, DAY - ago * ONE)
    # When the role is asked for
    found = fitness(sheet, "T1", "tender", DAY)
    # Then only a fresh sign-off that is good enough counts, and the reason says which it lacks
    assert found.may is (ago <= 30 and how != "observed")
    if how == "observed":
        assert "needed: under supervision" in found.reasons[0]
    elif ago == 31:
        assert "lapsed" in found.reasons[0]
        assert (DAY - ONE).isoformat() in found.reasons[0]


@given(
    offs=st.lists(st.tuples(st.sampled_from(tuple(RANK)), DAYS), max_size=8),
    day=DAYS,
)
def test_the_matrix_holds_the_best_of_the_fresh_ones(offs, day) -> None:
    signed_off = [
        {"skill": "dressing", "how": how, "on": on.isoformat(), "by": "R1"} for how, on in offs
    ]
    sheet = people(T1={"signed_off": signed_off})
    fresh = [RANK[how] for how, on in offs if on <= day <= on + 30 * ONE]
    has = matrix(sheet, day)["T1"]["dressing"]
    assert (RANK[has.how] if has.how else 0) == max(fresh, default=0)
    assert fitness(sheet, "T1", "tender", day).may is (max(fresh, default=0) >= 2)


def test_who_may_stands_first() -> None:
    off = {"skill": "dressing", "how": "alone", "on": DAY.isoformat(), "by": "R1"}
    found = who_may(people(T1={}, T2={"signed_off": [off]}), "tender", DAY)
    assert [(one.person, one.may) for one in found] == [("T2", True), ("T1", False)]


TEXT = """people:
  T1:
    signed_off:
      - {skill: dressing, how: alone, on: 2026-11-01, by: T1}
skills: {dressing: {words: dressing}}
"""


def test_nobody_signs_off_themselves() -> None:
    (fault,) = told(PeopleSheet, TEXT)
    assert str(fault).startswith("people.yaml:4:59: people.T1.signed_off[1].by: ")
    assert "nobody signs off themselves" in fault.accepted


@pytest.mark.parametrize(
    "key", ["name", "First Name", "surname", "e-mail", "date_of_birth", "Phone", "initials"]
)
def test_a_key_for_a_name_is_refused_with_its_place_and_without_the_name(key) -> None:
    # Given a person with such a key
    text = f"people:\n  W1:\n    {key}: Somebody Real\n"
    # When it is read
    (fault,) = told(PeopleSheet, text)
    # Then the place is told, the rule too, and what stood there is not repeated
    assert (fault.line, fault.field) == (3, f"people.W1.{key}")
    assert "codes only" in fault.accepted
    assert "Somebody" not in str(fault)


def test_two_people_with_one_code_are_told() -> None:
    faults = told(PeopleSheet, "people:\n  W1: {}\n  W2: {}\n  W1: {}\n")
    assert any(fault.line == 4 and "W1" in str(fault) for fault in faults)
    (alike,) = told(PeopleSheet, "people:\n  W1: {}\n  w1: {}\n")
    assert "more than capital letters" in alike.accepted


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("skill: dressing", "skill: dresing", "people.T1.signed_off[1].skill"),
        ("how: alone", "how: well", "people.T1.signed_off[1].how"),
        ("on: 2026-11-01", "on: 1.11.2026", "people.T1.signed_off[1].on"),
    ],
)
def test_what_is_nowhere_explained_is_told_with_its_place(old, new, field) -> None:
    text = TEXT.replace("by: T1", "by: R1")
    assert told(PeopleSheet, text) == []
    assert field in [fault.field for fault in told(PeopleSheet, text.replace(old, new))]
