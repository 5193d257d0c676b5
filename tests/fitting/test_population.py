"""Who is accepted: drawn people judged one by one, bounds, and laws."""

from __future__ import annotations

import numpy as np
import pytest
from small_fits import DEMO, every_setting, fit_of

from neckring.fitting.clearance import bounds_of, left_over
from neckring.fitting.places import RULES
from neckring.fitting.population import (
    PEOPLE,
    Accepted,
    TooManySettingsError,
    accepted,
    drawn_people,
    linked,
)
from neckring.fitting.settings import room_at
from neckring.station.fit import Fit

GUIDES = (0.30, 0.45)
STRAP = {
    "words": "strap", "kind": "strap", "from": "0 mm", "to": "120 mm", "step": "40 mm",
    "acts_on": {"trunk": "1"},
}  # fmt: skip
PAD = {
    "words": "pad", "kind": "pad", "from": "0 mm", "to": "40 mm", "step": "20 mm",
    "acts_on": {"chest": "-1", "trunk": "-0.5"},
}  # fmt: skip
THREE = {
    "trunk": {"room": "1500 mm", "least": "0 mm", "most": "40 mm"},
    "chest": {"room": "300 mm", "least": "5 mm", "most": "45 mm"},
    "hatch": {"room": "420 mm", "least": "10 mm"},
}


def passes(fit: Fit, person: dict[str, float], at: dict[str, int], bars_only: bool) -> bool:
    """One person, one setting, place by place."""
    for name, place in fit.places.items():
        rule = RULES[name]
        body = person[rule.measure]
        left = left_over(name, room_at(fit, name, at), fit.layers.nominal, body)
        least, most = bounds_of(place)
        if left < least and (rule.tight_harm == "bars" or not bars_only):
            return False
        if left > most and (rule.loose_harm == "bars" or not bars_only):
            return False
    return True


@pytest.mark.parametrize("sex", ["female", "male"])
def test_the_share_is_that_of_people_judged_one_by_one(sex: str) -> None:
    # Given a fit with a strap and a pad that act on the same place
    fit = fit_of({"places": THREE, "adjusters": {"strap": STRAP, "pad": PAD}})
    # When everybody tries every setting
    people = drawn_people(sex)
    bodies = [{n: float(v[i]) for n, v in people.items()} for i in range(PEOPLE)]
    settings = every_setting(fit)
    barred = [any(passes(fit, body, at, True) for at in settings) for body in bodies]
    whole = [any(passes(fit, body, at, False) for at in settings) for body in bodies]
    heavy = [10.0 / body["body_mass"] <= 0.15 for body in bodies]
    # Then the shares are the counts
    found = accepted(fit, 10.0, (0.15, 0.45), sex)
    assert found.bars == pytest.approx(np.mean(barred), abs=1e-12)
    assert found.whole == pytest.approx(np.mean(whole), abs=1e-12)
    both = [one and other for one, other in zip(barred, heavy, strict=True)]
    assert found.light == pytest.approx(np.mean(both), abs=1e-12)


def shares_of_demo() -> list[Accepted]:
    return [
        accepted(suit.fit, 20.0, GUIDES, sex)
        for suit in DEMO.suits.values()
        if suit.fit
        for sex in ("female", "male")
    ]


@pytest.mark.parametrize("found", shares_of_demo(), ids=lambda one: one.sex)
def test_shares_lie_within_their_bounds_and_in_order(found: Accepted) -> None:
    assert 0.0 <= found.fewest <= found.bars <= found.most <= 1.0
    assert found.light <= found.carries <= found.bars
    assert found.whole <= found.bars
    assert all(found.whole <= share for share in found.places.values())


def test_more_room_to_set_never_accepts_fewer() -> None:
    wider = {**STRAP, "to": "200 mm"}
    for sex in ("female", "male"):
        few = accepted(fit_of({"places": THREE, "adjusters": {"s": STRAP}}), 1.0, GUIDES, sex)
        many = accepted(fit_of({"places": THREE, "adjusters": {"s": wider}}), 1.0, GUIDES, sex)
        assert many.bars >= few.bars
        assert many.whole >= few.whole
    assert many.bars > few.bars


def test_a_suit_as_wide_as_a_barn_takes_everybody_and_a_drainpipe_nobody() -> None:
    barn = fit_of({"places": {"hatch": {"room": "900 mm", "least": "0 mm"}}})
    pipe = fit_of({"places": {"hatch": {"room": "200 mm", "least": "0 mm"}}})
    for sex in ("female", "male"):
        assert accepted(barn, 0.0, GUIDES, sex).bars == 1.0
        assert accepted(pipe, 0.0, GUIDES, sex).bars == 0.0


def test_groups_share_no_adjuster_and_hold_every_place_once() -> None:
    for suit in DEMO.suits.values():
        assert suit.fit is not None
        groups = linked(suit.fit)
        places = [place for group in groups for place in group.places]
        adjusters = [name for group in groups for name in group.adjusters]
        assert sorted(places) == sorted(suit.fit.places)
        assert len(adjusters) == len(set(adjusters))
        assert set(adjusters) == set(suit.fit.adjusters)


def test_settings_without_end_are_refused_by_name() -> None:
    fine = {**STRAP, "to": "59 mm", "step": "1 mm"}
    adjusters = dict.fromkeys(("left", "right", "back"), fine)
    fit = fit_of({"places": THREE, "adjusters": adjusters})
    with pytest.raises(TooManySettingsError, match="left, right, back"):
        accepted(fit, 1.0, GUIDES, "female")
