"""Signal words: from the harm of the rule that would break."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.procedure.signal_words import (
    MEANING,
    RANK,
    Caution,
    SignalWord,
    caution,
    gravest_first,
    signal_word,
)
from neckring.station.conditions import read_condition
from neckring.station.kit import Rule
from neckring.units import parse_quantity

HARMS = ("death", "serious injury", "injury", "damage")


def rule(harm, longer_than=None):
    return Rule.model_construct(
        words="The helmet is locked and no air moves",
        never=read_condition("never"),
        longer_than=parse_quantity(longer_than, "time") if longer_than else None,
        clock=None,
        harm=harm,
        hazard="no air in the helmet",
        consequence="Suffocation within minutes.",
        avoid="start the fan  first",
    )


@pytest.mark.parametrize(
    ("harm", "at_once", "later"),
    [
        # ANSI Z535.4-2007, 4.14, as quoted by others: "will result in death or serious injury" is
        # DANGER, "could" is WARNING, "minor or moderate injury" CAUTION, "not related to personal
        # injury" NOTICE.
        ("death", SignalWord.DANGER, SignalWord.WARNING),
        ("serious injury", SignalWord.DANGER, SignalWord.WARNING),
        ("injury", SignalWord.CAUTION, SignalWord.CAUTION),
        ("damage", SignalWord.NOTICE, SignalWord.NOTICE),
    ],
)
def test_the_word_follows_from_the_harm(harm, at_once, later):
    # Given a rule that one slip breaks before any check, with no time allowed.
    # Then harm follows; with a check between, or with time left, it only can.
    assert signal_word(rule(harm), uncaught=True) is at_once
    assert signal_word(rule(harm), uncaught=False) is later
    assert signal_word(rule(harm, "60 s"), uncaught=True) is later


def test_a_warning_states_hazard_consequence_and_avoidance():
    # Given a rule whose words are written in several ways.
    told = caution("no_air", rule("death"), uncaught=True)
    # Then the three stand in this order, each a sentence.
    assert told.text == "No air in the helmet. Suffocation within minutes. Start the fan first."
    assert (told.word, told.rule) == (SignalWord.DANGER, "no_air")


@given(st.lists(st.tuples(st.sampled_from(SignalWord), st.integers(0, 9))))
def test_the_gravest_stands_first(drawn):
    # Given warnings in any order.
    cautions = [Caution(word, str(number), "", "", "") for word, number in drawn]
    # When they are put in order.
    ordered = gravest_first(cautions)
    # Then none is lost, graver ones come first, equal ones stay as they were.
    assert [RANK[each.word] for each in ordered] == sorted(RANK[each.word] for each in cautions)
    for word in SignalWord:
        as_before = [each for each in cautions if each.word is word]
        assert [each for each in ordered if each.word is word] == as_before


@given(
    st.sampled_from(HARMS), st.sampled_from(HARMS), st.booleans(), st.sampled_from([None, "9 s"])
)
def test_a_graver_harm_never_has_a_milder_word(one, other, uncaught, longer_than):
    # Given two harms, all else alike.
    graver, milder = sorted((one, other), key=HARMS.index)
    # Then the graver one's word ranks no lower, and more certainty never lowers a word.
    words = [signal_word(rule(harm, longer_than), uncaught=uncaught) for harm in (graver, milder)]
    assert RANK[words[0]] <= RANK[words[1]]
    sure = signal_word(rule(one, longer_than), uncaught=True)
    assert RANK[sure] <= RANK[signal_word(rule(one, longer_than), uncaught=False)]


def test_every_word_is_explained():
    # Then the legend knows each word.
    assert set(MEANING) == set(SignalWord)
