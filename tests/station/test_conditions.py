"""The little language of conditions: what it says, and where it stumbles."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.station.conditions import (
    ALWAYS,
    ConditionText,
    Denied,
    Is,
    Joined,
    Named,
    Phrase,
    Word,
    read_condition,
)
from neckring.station.fields import UnacceptableError
from neckring.station.lasting import Lasting, read_lasting

NAMES = st.sampled_from(["helmet", "fan", "left_glove", "air-hose", "partner.helmet", "A.fan"])
STATES = st.sampled_from(["off", "on", "half", "locked"])


def statements() -> st.SearchStrategy[str]:
    return st.one_of(
        NAMES,
        st.builds("{} is {}".format, NAMES, STATES),
        st.builds("{} is not {}".format, NAMES, STATES),
        st.builds("{} is {}|{}".format, NAMES, STATES, STATES),
    )


def conditions() -> st.SearchStrategy[str]:
    return st.recursive(
        statements(),
        lambda part: st.one_of(
            st.builds("not ({})".format, part),
            st.builds("({}) and ({})".format, part, part),
            st.builds("({}) or ({})".format, part, part),
        ),
        max_leaves=6,
    )


def written(phrase: Phrase) -> str:
    """The condition again, with every bracket."""
    match phrase:
        case Named(name):
            return name.text
        case Is(thing, states, denied):
            return f"{thing.text} is {'not ' * denied}{'|'.join(s.text for s in states)}"
        case Denied(part):
            return f"not ({written(part)})"
        case Joined(word, parts) if parts:
            return f" {word} ".join(f"({written(part)})" for part in parts)
        case Joined(word):
            return "always" if word == "and" else "never"


def without_places(text: str) -> str:
    return written(read_condition(text).phrase)


@given(conditions())
def test_a_condition_read_written_and_read_again_is_the_same(text: str) -> None:
    once = without_places(text)
    assert without_places(once) == once


@given(conditions())
def test_every_word_stands_where_it_says(text: str) -> None:
    condition = read_condition(text)
    words = [named.name for named in condition.names()]
    words += [w for said in condition.statements() for w in (said.thing, *said.states)]
    assert words
    for word in words:
        assert text[word.at : word.at + len(word.text)] == word.text


def test_a_statement_names_a_thing_and_its_states() -> None:
    assert read_condition("helmet is seated|locked").phrase == Is(
        Word("helmet", 0), (Word("seated", 10), Word("locked", 17))
    )


def test_and_binds_all_its_parts_in_one() -> None:
    phrase = read_condition("a and b and not c").phrase
    assert isinstance(phrase, Joined)
    assert phrase.word == "and"
    assert len(phrase.parts) == 3


def test_always_and_never_stand_alone() -> None:
    assert read_condition("always") == ConditionText("always", ALWAYS)
    assert read_condition("never").phrase == Joined("or", ())


# What is written, the letter at which it cannot be read, and what is said of it.
STUMBLES = [
    ("", 0, "its end"),
    ("helmet is", 9, "a state"),
    ("helmet is not", 13, "a state"),
    ("helmet is and", 10, "a state"),
    ("helmet isnt off", 7, "end of the condition"),
    ("(fan is on", 10, '")"'),
    ("fan is on)", 9, "end of the condition"),
    ("a and b or c", 8, "brackets"),
    ("a or b and c", 7, "brackets"),
    ("a and", 5, "a thing"),
    ("a & b", 2, "end of the condition"),
    ("fan is on|", 10, "a state"),
    ("fan = on", 4, "end of the condition"),
    ("A.B.fan is on", 3, "end of the condition"),
]


@pytest.mark.parametrize(("text", "at", "said"), STUMBLES, ids=[text for text, _, _ in STUMBLES])
def test_what_cannot_be_read_is_told_with_its_letter(text: str, at: int, said: str) -> None:
    with pytest.raises(UnacceptableError) as refused:
        read_condition(text)
    assert refused.value.at == at
    assert said in refused.value.read_as
    assert f"at letter {at + 1}" in refused.value.read_as


def test_brackets_may_not_go_on_for_ever() -> None:
    with pytest.raises(UnacceptableError, match="inside one another"):
        read_condition("(" * 200 + "a" + ")" * 200)
    with pytest.raises(UnacceptableError, match="inside one another"):
        read_condition("not " * 100 + "a")


@given(st.text(max_size=60))
def test_no_text_at_all_crashes_the_reader(text: str) -> None:
    try:
        read_condition(text)
    except UnacceptableError as refused:
        assert 0 <= refused.at <= len(text)  # noqa: PT017


@pytest.mark.parametrize(
    ("text", "points"),
    [
        ("6 s", (6.0, 6.0, 6.0)),
        ("4..12 s", (4.0, 8.0, 12.0)),
        ("4..6..12 s", (4.0, 6.0, 12.0)),
        ("1..2 min", (60.0, 90.0, 120.0)),
    ],
)
def test_one_two_or_three_points_of_a_time(text: str, points: tuple[float, ...]) -> None:
    assert read_lasting(text) == Lasting(*points)


@pytest.mark.parametrize("text", ["", "6", "s", "6..4 s", "1..2..3..4 s", "0.1 s", "2 h", "4..x s"])
def test_other_times_are_refused(text: str) -> None:
    with pytest.raises(UnacceptableError):
        read_lasting(text)
