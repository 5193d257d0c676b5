"""Suggested settings against every setting there is."""

from __future__ import annotations

import os

import pytest
from hypothesis import given, settings
from small_fits import every_setting, fit_of, margins, measured, problems

from neckring.fitting.measures import Measure
from neckring.fitting.settings import ENOUGH, room_at, suggested
from neckring.station.fit import Fit

FEW = settings(max_examples=1000 if os.environ.get("NECKRING_SOAK") == "1" else 80, deadline=None)
ROUNDING = 1e-4


def worst(found: list[float]) -> float:
    return min([*found, ENOUGH])


@FEW
@given(problems())
def test_no_setting_serves_the_places_that_bar_or_then_those_that_hurt_better(
    problem: tuple[Fit, dict[str, Measure]],
) -> None:
    # Given a fit and a body
    fit, body = problem
    # When settings are suggested, and every other setting is looked at one by one
    ours = margins(fit, body, suggested(fit, body))
    all_of_them = [margins(fit, body, at) for at in every_setting(fit)]
    # Then none keeps the worst place that bars further inside its bounds
    best = max(worst(each["bars"]) for each in all_of_them)
    assert worst(ours["bars"]) == pytest.approx(best, abs=ROUNDING)
    # And of those that do as well, none serves the worst place that hurts better
    as_good = [each for each in all_of_them if worst(each["bars"]) >= best - ROUNDING]
    best = max(worst(each["hurts"]) for each in as_good)
    assert worst(ours["hurts"]) == pytest.approx(best, abs=ROUNDING)


@FEW
@given(problems())
def test_every_position_is_one_of_the_adjuster(problem: tuple[Fit, dict[str, Measure]]) -> None:
    fit, body = problem
    for name, position in suggested(fit, body).items():
        assert 0 <= position <= fit.adjusters[name].last
        setting = fit.adjusters[name].setting(position)
        assert fit.adjusters[name].position(setting) == position


def test_a_pad_that_wins_nothing_stays_out() -> None:
    # Given a chest that fits without the pad just as well as with it
    fit = fit_of(
        {
            "places": {"chest": {"room": "400 mm", "least": "0 mm"}},
            "adjusters": {
                "back_pad": {
                    "words": "back pad", "kind": "pad", "from": "0 mm", "to": "30 mm",
                    "step": "10 mm", "acts_on": {"chest": "-1"},
                }
            },
        }
    )  # fmt: skip
    # Then no pad is suggested
    assert suggested(fit, {"chest": measured("chest", 250)}) == {"back_pad": 0}


def test_one_place_that_can_never_fit_does_not_spoil_the_others() -> None:
    # Given arm openings that nothing can mend and a strap for the trunk
    fit = fit_of(
        {
            "places": {
                "arm_openings": {"room": "500 mm", "least": "-10 mm", "most": "10 mm"},
                "trunk": {"room": "1500 mm", "least": "0 mm", "most": "40 mm"},
            },
            "adjusters": {
                "harness": {
                    "words": "harness strap", "kind": "strap", "from": "0 mm", "to": "200 mm",
                    "step": "10 mm", "acts_on": {"trunk": "1"},
                }
            },
        }
    )  # fmt: skip
    body = {"arm_openings": measured("arm_openings", 360), "trunk": measured("trunk", 1550)}
    # Then the trunk still gets its middle, 20 mm
    at = suggested(fit, body)
    room = room_at(fit, "trunk", at)
    left = 1e3 * room - 1550 - 2 * 3.14159265 * 6 + 12.5
    assert left == pytest.approx(20.0, abs=5.01)


def test_without_adjusters_there_is_nothing_to_set() -> None:
    fit = fit_of({"places": {"hatch": {"room": "400 mm", "least": "10 mm"}}})
    assert suggested(fit, {"hatch": measured("hatch", 350)}) == {}


def test_a_place_of_which_nothing_is_known_plays_no_part() -> None:
    fit = fit_of(
        {
            "places": {
                "hatch": {"room": "400 mm", "least": "10 mm"},
                "trunk": {"room": "1500 mm", "least": "0 mm", "most": "40 mm"},
            },
            "adjusters": {
                "harness": {
                    "words": "harness strap", "kind": "strap", "from": "0 mm", "to": "40 mm",
                    "step": "10 mm", "acts_on": {"trunk": "1"},
                }
            },
        }
    )  # fmt: skip
    assert suggested(fit, {"hatch": measured("hatch", 350)})["harness"] in range(5)
