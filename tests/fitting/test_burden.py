"""What is carried, and what it takes to lift it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_fits import DEMO, wearer_with

from neckring.fitting.burden import (
    TEAM_SHARES,
    burden,
    carried_by_wearer,
    filled_pack,
    hands_for,
    team_lift,
)
from neckring.outing.scenario import Scenario
from neckring.outing.spells import carried_mass


@pytest.mark.parametrize("code", DEMO.runs)
def test_a_plan_and_a_fit_carry_the_same(code: str) -> None:
    run = DEMO.runs[code]
    suit, wearer = DEMO.suits[run.suit], DEMO.wearers[run.wearer]
    scenario = Scenario(station=DEMO.station, suit=suit, wearer=wearer, run=run)
    assert carried_by_wearer(suit) == pytest.approx(float(carried_mass(scenario)[0]))


def test_the_load_of_the_demo_by_hand() -> None:
    # Given Dipper: 15 kg suit, 9 kg pack, 0.4 kg in the garment, 2.0 kg water, 1.8 kg ice
    found = burden(wearer_with("W2"), DEMO.suits["dipper"], DEMO.limits, 15.9)
    # Then 28.2 kg on 84 kg are 33.6 %, and move the centre of gravity 28.2 x 0.18/112.2 m back
    assert found.carried == pytest.approx(28.2)
    assert found.share == pytest.approx(28.2 / 84.0)
    assert found.remark.rank == 1
    assert found.shift == pytest.approx(28.2 * 0.18 / 112.2)
    assert found.lean == pytest.approx(math.atan(found.shift / (0.57 * 1.82)))
    assert filled_pack(DEMO.suits["dipper"]) == pytest.approx(12.8)
    assert found.pack_hands == 1
    # And 112 kg are no plain lift for three who may lift 15.9 kg each
    assert found.hands is None


def test_the_signed_sheet_decides_what_is_too_heavy() -> None:
    # Given the demo's sheet, of which some limit on the load says stop
    heavy = burden(wearer_with("W3", mass=_kilograms(45)), DEMO.suits["dipper"], DEMO.limits, 15.9)
    light = burden(wearer_with("W5"), DEMO.suits["wagtail"], DEMO.limits, 15.9)
    assert heavy.stopped
    assert not light.stopped
    assert {limit.action for limit in heavy.limits} >= {"stop now"}


def _kilograms(mass: float) -> object:
    from neckring.units import parse_quantity

    return parse_quantity(f"{mass} kg", "mass")


@given(st.floats(1, 300), st.floats(5, 60))
def test_the_fewest_hands_that_may_lift_a_mass(mass: float, each: float) -> None:
    found = hands_for(mass, each)
    teams = {people: team_lift(each, people) for people in TEAM_SHARES}
    if found is None:
        assert mass > max(teams.values())
    else:
        assert teams[found] >= mass
        assert all(teams[fewer] < mass for fewer in range(1, found))


def test_nothing_is_said_of_teams_of_four() -> None:
    with pytest.raises(KeyError):
        team_lift(20.0, 4)
