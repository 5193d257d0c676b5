"""Gas exchange and breathing keep their balances, and the body measures their order."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.body import anthropometry, breath
from neckring.constants import MOLAR_VOLUME

rates = st.floats(60.0, 900.0)
quotients = st.floats(0.7, 1.0)


@given(rates, quotients)
def test_quotient_is_the_ratio_of_the_gases(rate, quotient):
    gases = breath.breathing(rate, quotient, 35.0, 1.75, False)
    assert gases.carbon_dioxide / gases.oxygen == pytest.approx(quotient)
    assert gases.ventilation == pytest.approx(gases.tidal_volume * gases.rate)


@given(rates, rates, quotients)
def test_more_work_more_gas_and_deeper_breath(one, other, quotient):
    less, more = (breath.breathing(r, quotient, 35.0, 1.75, True) for r in sorted((one, other)))
    assert less.oxygen <= more.oxygen
    assert less.tidal_volume <= more.tidal_volume
    assert less.rate <= more.rate * (1 + 1e-12)


@given(st.floats(100.0, 400.0), quotients, quotients)
def test_a_higher_quotient_gives_more_carbon_dioxide_for_the_same_watts(rate, one, other):
    less, more = sorted((one, other))
    assert breath.carbon_dioxide_output(rate, less) <= breath.carbon_dioxide_output(rate, more)


@given(rates, quotients)
def test_moles_and_volumes_are_the_same_gas(rate, quotient):
    volume = breath.carbon_dioxide_output(rate, quotient)
    moles = rate * breath.carbon_dioxide_moles_per_joule(quotient)
    assert moles * MOLAR_VOLUME == pytest.approx(volume)


def test_the_quotient_goes_from_rest_to_the_hardest_work():
    assert breath.respiratory_quotient(-0.2) == breath.RESTING_QUOTIENT
    assert breath.respiratory_quotient(0.5) == pytest.approx(0.90)
    assert breath.respiratory_quotient(1.4) == breath.HARDEST_QUOTIENT


def test_the_breath_is_never_more_than_half_the_vital_capacity():
    hard = breath.breathing(1500.0, 1.0, 30.0, 1.75, False)
    capacity = breath.vital_capacity(30.0, 1.75, False)
    assert hard.tidal_volume == pytest.approx(0.5 * capacity)
    assert breath.vital_capacity(30.0, 1.75, True) < capacity


def test_resting_breath_is_the_usual_half_litre():
    rest = breath.breathing(100.0, 0.82, 30.0, 1.75, False)
    assert 0.4e-3 < rest.tidal_volume < 0.6e-3
    assert 8 < rest.rate * 60 < 16


@given(rates)
def test_breath_of_body_temperature_and_full_of_vapour_carries_nothing_away(rate):
    assert breath.respiratory_dry_heat(rate, 34.0) == 0.0
    assert breath.respiratory_water_loss(rate, 5870.0) == 0.0
    assert (
        breath.respiratory_latent_heat(rate, 6000.0) < 0.0 < breath.respiratory_dry_heat(rate, 0.0)
    )


@pytest.mark.parametrize("sex", ["male", "female"])
@pytest.mark.parametrize("measure", anthropometry.MEASURES)
def test_percentiles_rise_and_find_their_own_share(measure, sex):
    known = anthropometry.percentiles(measure, sex)
    shares = [anthropometry.share_below(measure, sex, value) for value in known]
    assert shares == pytest.approx([0.05, 0.50, 0.95], abs=1e-3)


def test_shares_at_the_ends_are_not_pretended():
    assert anthropometry.share_below("stature", "female", 2.2) == 0.99
    assert anthropometry.share_below("stature", "female", 1.0) == 0.01
