"""Measures: units, what they may have been, and what does not go together."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_fits import wearer_with

from neckring.fitting.measures import DEEPEST_BREATH, ERRORS, WORDS, measure_of
from neckring.fitting.places import RULES
from neckring.fitting.plausible import unlikely_measures
from neckring.fitting.survey import KNOWN, value_at
from neckring.station.body_measures import BodyMeasure, Measures, kind_of
from neckring.station.fields import UnacceptableError
from neckring.station.wearer import Wearer
from neckring.units import format_quantity, parse_quantity

NAMES = tuple(Measures.model_fields)
HEIGHT = next(p for p in Wearer.model_fields["height"].metadata if isinstance(p, BodyMeasure))
RIGHT = {"height": HEIGHT, **{name: kind_of(name) for name in NAMES}}


def test_every_measure_has_its_words_its_error_and_its_range() -> None:
    assert set(NAMES) <= set(WORDS)
    assert set(NAMES) == set(ERRORS)
    assert {rule.measure for rule in RULES.values()} <= set(NAMES)


@given(st.sampled_from(list(RIGHT)), st.floats(0, 1))
def test_inches_typed_as_centimetres_are_always_noticed_and_named(name: str, share: float) -> None:
    # Given any measure within its range, in inches
    kind = RIGHT[name]
    low, high = kind.bounds
    inches = round((low + share * (high - low)) / 0.0254, 2)
    if not low <= inches * 0.0254 <= high:
        return
    # When it is typed as centimetres
    with pytest.raises(UnacceptableError) as refused:
        kind.read(f"{inches} cm")
    # Then it is refused, and inches are named
    assert f'"{inches} in"' in refused.value.hint


@given(st.sampled_from(list(RIGHT)), st.floats(0, 1), st.sampled_from([("m", "mm"), ("cm", "m")]))
def test_a_slip_of_the_prefix_is_noticed_and_named(
    name: str, share: float, units: tuple[str, str]
) -> None:
    kind = RIGHT[name]
    low, high = kind.bounds
    meant, typed = units
    scale = {"m": 1.0, "cm": 0.01}[meant]
    number = f"{(low + share * (high - low)) / scale:.4f}"
    if not low <= float(number) * scale <= high:
        return
    with pytest.raises(UnacceptableError) as refused:
        kind.read(f"{number} {typed}")
    assert f'"{number} {meant}"' in refused.value.hint


@pytest.mark.parametrize(
    "text", ["tall", "", "mm 5", "-1.7 m", "1.7 kg", "1e400 m", "1,7 m", "0 m"]
)
def test_what_is_no_measure_is_refused_without_a_guess(text: str) -> None:
    with pytest.raises(UnacceptableError):
        HEIGHT.read(text)


def test_a_measure_with_a_spread_keeps_it() -> None:
    wearer = wearer_with(measures={"biacromial_breadth": "400 mm +/- 7"})
    found = measure_of(wearer, "biacromial_breadth")
    assert found is not None
    assert (found.status, found.note) == ("measured", "spread as written")
    assert found.deviation == pytest.approx(0.007)


def test_what_was_not_measured_is_estimated_and_says_so() -> None:
    found = measure_of(wearer_with(measures=None), "biacromial_breadth")
    assert found is not None
    assert found.status == "estimated"
    assert found.deviation > ERRORS["biacromial_breadth"]


def test_a_full_breath_is_measured_or_a_quiet_one_and_a_stated_more() -> None:
    quiet = wearer_with(measures={"chest_depth": "250 mm"})
    full = wearer_with(measures={"chest_depth": "250 mm", "chest_depth_full_breath": "262 mm"})
    estimated, measured = (measure_of(w, "chest_depth_full_breath") for w in (quiet, full))
    assert estimated is not None
    assert measured is not None
    assert estimated.value == pytest.approx(0.250 + DEEPEST_BREATH[0])
    assert (estimated.status, measured.status) == ("estimated", "measured")
    assert measured.value == pytest.approx(0.262)


def test_pounds_typed_as_kilograms_are_told() -> None:
    # Given somebody of 1.62 m and 128 lb, typed as kg
    found = unlikely_measures(wearer_with("W3", mass=parse_quantity("128 kg", "mass")))
    # Then mass is told first, with what it may have been
    assert found[0].keys == ("mass",)
    assert found[0].meant == "128 lb"


def test_a_measure_of_somebody_else_is_told() -> None:
    # Given a woman of 1.62 m and 58 kg with the shoulders of a tall man
    found = unlikely_measures(wearer_with("W3", measures={"biacromial_breadth": "470 mm"}))
    assert [one.keys for one in found] == [("measures", "biacromial_breadth")]
    assert found[0].deviations > 4


@pytest.mark.parametrize("sex", ["male", "female"])
def test_ordinary_people_are_not_told(sex: str) -> None:
    # Given people at the survey's 5th, 50th and 95th percentile in every measure at once
    for deviate in (-1.645, 0.0, 1.645):
        texts = {
            name: format_quantity(float(value_at(name, sex, deviate)), "length", "mm")
            for name in NAMES
            if name in KNOWN
        }
        stature = parse_quantity(f"{value_at('stature', sex, deviate):.3f} m", "length")
        mass = parse_quantity(f"{value_at('body_mass', sex, deviate):.1f} kg", "mass")
        wearer = wearer_with(sex=sex, height=stature, mass=mass, measures=texts)
        # Then none of it is unlikely
        assert unlikely_measures(wearer) == []
