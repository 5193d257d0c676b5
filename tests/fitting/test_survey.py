"""The survey as a copula: it keeps what is published, and conditions as normal curves do."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.body.anthropometry import percentiles
from neckring.fitting.population import drawn_people
from neckring.fitting.survey import (
    CORE,
    KNOWN,
    NINETY_FIFTH,
    correlations,
    deviate_of,
    expected,
    value_at,
)

SEXES = ("male", "female")


@pytest.mark.parametrize("sex", SEXES)
@pytest.mark.parametrize("measure", [m for m in KNOWN if m != "arm_length"])
def test_the_published_percentiles_are_kept_exactly(measure: str, sex: str) -> None:
    known = percentiles(measure, sex)
    found = [float(value_at(measure, sex, d)) for d in (-NINETY_FIFTH, 0.0, NINETY_FIFTH)]
    assert found == pytest.approx(list(known), rel=1e-12)


@given(st.sampled_from(KNOWN), st.sampled_from(SEXES), st.floats(-4, 4))
def test_a_value_and_its_deviate_undo_each_other(measure: str, sex: str, deviate: float) -> None:
    back = deviate_of(measure, sex, float(value_at(measure, sex, deviate)))
    assert back == pytest.approx(deviate, abs=1e-9)


@pytest.mark.parametrize("sex", SEXES)
def test_correlations_are_some_populations(sex: str) -> None:
    # Given all measures at once
    found = correlations(KNOWN, sex)
    # Then the matrix is symmetric, has ones along its middle, and no negative variance
    assert np.allclose(found, found.T)
    assert np.allclose(np.diag(found), 1.0)
    assert np.linalg.eigvalsh(found).min() > -1e-9
    assert np.abs(found).max() <= 1.0 + 1e-12


@given(
    st.sampled_from([name for name in KNOWN if name not in CORE[:2]]),
    st.sampled_from(SEXES),
    st.floats(-2, 2),
    st.floats(-2, 2),
)
def test_what_stature_and_mass_say_is_the_conditional_normal(
    measure: str, sex: str, tall: float, heavy: float
) -> None:
    # Given somebody of known stature and mass
    stature = float(value_at("stature", sex, tall))
    mass = float(value_at("body_mass", sex, heavy))
    # When the measure is conditioned by the Schur complement of all three
    matrix = correlations(("stature", "body_mass", measure), sex)
    weights = np.linalg.solve(matrix[:2, :2], matrix[:2, 2])
    centre = weights @ np.array([tall, heavy])
    left = 1.0 - weights @ matrix[:2, 2]
    # Then that is what is expected, and it is known no worse than of anybody
    found = expected(measure, sex, stature, mass)
    assert found.likely == pytest.approx(float(value_at(measure, sex, centre)), rel=1e-9)
    ends = [float(value_at(measure, sex, centre + s * np.sqrt(left))) for s in (-1, 1)]
    assert found.deviation == pytest.approx(0.5 * (ends[1] - ends[0]), rel=1e-9)
    whole = float(value_at(measure, sex, 1.0)) - float(value_at(measure, sex, -1.0))
    # The two halves of a curve differ: on the wider side little less is known than of anybody.
    assert found.deviation < 0.5 * whole * 1.35


@pytest.mark.parametrize("sex", SEXES)
def test_drawn_people_have_the_survey_s_percentiles_and_correlations(sex: str) -> None:
    people = drawn_people(sex)
    for name in KNOWN:
        if name == "arm_length":
            continue
        found = np.percentile(people[name], [5, 50, 95])
        known = percentiles(name, sex)
        spread = known.ninety_fifth - known.fifth
        assert np.abs(found - np.array(known)).max() < 0.02 * spread, name
    deviates = np.array(
        [[deviate_of(name, sex, value) for value in people[name][:2048]] for name in CORE]
    )
    assert np.abs(np.corrcoef(deviates) - correlations(CORE, sex)).max() < 0.03


def test_the_same_seed_draws_the_same_people_and_another_seed_others() -> None:
    one, same, other = (drawn_people("female", 64, seed)["stature"] for seed in (1, 1, 2))
    assert (one == same).all()
    assert (one != other).any()
