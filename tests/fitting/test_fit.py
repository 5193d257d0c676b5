"""A wearer against suits: outcomes, order, and what was kept."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_fits import DEMO, LIFT, measured, wearer_with

from neckring.fitting.burden import burden
from neckring.fitting.clearance import clearance
from neckring.fitting.findings import OUTCOMES
from neckring.fitting.fit import fit_suit, fit_wearer, judged, rank
from neckring.fitting.reach import USUAL
from neckring.station.fit import Place
from neckring.units import parse_quantity


def against(code: str, suit: str):
    return fit_suit(DEMO.wearers[code], DEMO.suits[suit], DEMO.limits, LIFT)


@pytest.mark.parametrize(
    ("code", "suit", "outcome"),
    [
        ("W1", "wagtail", "try it on"),
        ("W1", "dipper", "does not fit"),
        ("W2", "dipper", "try it on"),
        ("W2", "wagtail", "does not fit"),
        ("W3", "wagtail", "measure first"),
        ("W5", "dipper", "does not fit"),
    ],
)
def test_the_demo_s_wearers(code: str, suit: str, outcome: str) -> None:
    assert against(code, suit).outcome == outcome


def test_the_shoulder_against_the_arm_opening_decides_alone() -> None:
    # Given W2, whom Dipper fits
    assert against("W2", "dipper").outcome == "try it on"
    # When only the shoulders are narrower, everything else being the same
    own = DEMO.wearers["W2"].measures
    assert own is not None
    narrow = own.model_copy(update={"biacromial_breadth": parse_quantity("350 mm", "length")})
    found = fit_suit(wearer_with("W2", measures=narrow), DEMO.suits["dipper"], DEMO.limits, LIFT)
    # Then it does not fit, and the arms are why
    assert found.outcome == "does not fit"
    assert "arms" in found.because
    assert found.clearances[0].place == "arm_openings"
    assert found.clearances[0].side == "loose"


def test_the_best_suit_stands_first_and_one_without_fit_is_only_named() -> None:
    bare = DEMO.suits["dipper"].model_copy(update={"fit": None, "code": "bare"})
    suits = [bare, *DEMO.suits.values()]
    found = fit_wearer(DEMO.station, DEMO.limits, DEMO.wearers["W1"], suits)
    assert [one.suit for one in found.suits] == ["wagtail", "dipper"]
    assert [rank(one) for one in found.suits] == sorted(rank(one) for one in found.suits)
    assert found.undescribed == ("bare",)
    assert "bare" not in found.accepted


def outcome_of(*places: tuple[str, str, float, float]) -> str:
    """Outcome of places, each with its bounds and what is likely left, all in millimetres."""
    load = burden(DEMO.wearers["W2"], DEMO.suits["wagtail"], DEMO.limits, LIFT)
    found = []
    for name, bounds, room, body in places:
        least, most = bounds.split("..")
        place = Place.model_validate(
            {"room": f"{room} mm", "least": f"{least} mm", "most": f"{most} mm"}
        )
        found.append(clearance(name, place, measured(name, body), room / 1e3, 0.0))
    return judged(found, (), load)[0]


def test_outcomes_from_best_to_worst() -> None:
    fits, sore = ("chest", "5..60", 310, 275), ("boots", "5..20", 300, 250)
    unsure, barred = ("hatch", "10..99", 370, 371), ("trunk", "0..40", 1500, 1700)
    assert outcome_of(fits) == "try it on"
    assert outcome_of(fits, sore) == "sore"
    assert outcome_of(fits, sore, unsure) == "measure first"
    assert outcome_of(fits, sore, unsure, barred) == "does not fit"


def test_a_load_that_the_sheet_forbids_is_too_heavy_whatever_fits() -> None:
    heavy = replace_mass("W1", "50 kg")
    found = fit_suit(heavy, DEMO.suits["wagtail"], DEMO.limits, LIFT)
    assert found.burden.stopped
    assert found.outcome == "too heavy"
    assert OUTCOMES.index("too heavy") > OUTCOMES.index("measure first")


def replace_mass(code: str, text: str):
    return wearer_with(code, mass=parse_quantity(text, "mass"))


def test_nothing_known_of_a_place_is_said() -> None:
    load = burden(DEMO.wearers["W2"], DEMO.suits["wagtail"], DEMO.limits, LIFT)
    outcome, because = judged([], ["vertical trunk"], load)
    assert outcome == "measure first"
    assert "vertical trunk" in because


def test_kept_settings_are_judged_as_they_were_kept() -> None:
    # Given W1 and Wagtail with the settings of the last trial: the harness at 120 mm
    found = against("W1", "wagtail")
    assert found.kept is not None
    assert found.kept.complete
    trunk = {one.place: one for one in found.kept.clearances}["trunk"]
    # Then the trunk has 120 mm more room than at the start, less 5 mm for the back pad
    fit = DEMO.suits["wagtail"].fit
    assert fit is not None
    room = fit.places["trunk"].room.nominal + 0.120 - 0.5 * 0.010
    body = 1.575
    layers = 2 * 3.14159265358979 * 0.006
    assert trunk.likely == pytest.approx(room - layers - body + 0.0125, abs=1e-9)
    # And settings of only some adjusters are shown but not judged
    settings = DEMO.wearers["W1"].settings["wagtail"]
    few = settings.model_copy(update={"positions": {"harness": settings.positions["harness"]}})
    part = fit_suit(
        wearer_with("W1", settings={"wagtail": few}), DEMO.suits["wagtail"], DEMO.limits, LIFT
    )
    assert part.kept is not None
    assert not part.kept.complete
    assert part.kept.clearances == ()


def test_a_suit_without_a_reach_list_gets_the_usual_one() -> None:
    suit = DEMO.suits["dipper"]
    assert suit.fit is not None
    bare = suit.model_copy(update={"fit": suit.fit.model_copy(update={"reach": ()})})
    assert fit_suit(DEMO.wearers["W1"], bare, DEMO.limits, LIFT).reach == USUAL
    assert against("W1", "dipper").reach == suit.fit.reach


def test_findings_are_the_same_each_time() -> None:
    one, other = against("W4", "dipper"), against("W4", "dipper")
    assert one == other
    assert replace(one, outcome="sore") != other
