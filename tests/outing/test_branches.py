"""A branch is the kernel run straight through, whatever is kept, gathered or cut short."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from scenarios import (
    DEMO,
    DIPPER,
    FloatArray,
    of_value,
    one_spell,
    outing_of,
    scenario_of,
    varying,
)

from neckring.outing import breakage
from neckring.outing.branch_rows import RowBook
from neckring.outing.branches import Clocks, Pace, branch
from neckring.outing.failures import FAILURES, Failure, in_the_suit
from neckring.outing.scenario import Scenario
from neckring.outing.spells import STEP, legs
from neckring.outing.trunk import Trunk, instants_of, run_trunk
from neckring.outing.watch import NEVER
from neckring.outing.watching import AIR
from neckring.station.limits import LimitSheet
from neckring.station.variation import with_value

KNOWN = {failure.code: failure for failure in FAILURES}
WITHOUT_EFFECT = Failure("without-effect", "nothing at all happens", in_the_suit)
HOUR = 3600.0
STRUCK = 300.0
# The same longest step everywhere, as the straight runs have it.
EVEN = Pace(near=STEP, walking=STEP, waiting=STEP, beyond=HOUR, to_the_end=True)


def at_work(*spells: Mapping[str, Any], litres: float = 12.0) -> Scenario:
    """Spells of work in the bay in the demo's suit, whose wearer notices no fault for an hour."""
    suit = with_value(DIPPER, ("air", "helmet_volume"), of_value(litres * 1e-3, "volume"))
    for key in ("notice", "notice_air"):
        suit = with_value(suit, ("help", key), of_value(HOUR, "time"))
    parts = [one_spell(**{"place": "bay", "metabolic_rate": "350 W", **keys}) for keys in spells]
    return outing_of(*parts, suit=suit)


def demo_sheet() -> LimitSheet:
    assert DEMO.limits is not None
    return DEMO.limits


def only(sheet: LimitSheet, **changes: object) -> LimitSheet:
    """The sheet's stop limit for inspired carbon dioxide alone, changed."""
    kept = [
        limit
        for limit in sheet.limits
        if limit.quantity == "inspired_co2" and limit.action == "stop now"
    ]
    assert len(kept) == 1
    return sheet.model_copy(update={"limits": (kept[0].model_copy(update=changes),)})


def struck(
    scenario: Scenario, failure: Failure, pace: Pace = EVEN, sheet: LimitSheet | None = None
) -> Clocks:
    """Clocks of a failure five minutes after the start."""
    trunk = run_trunk(scenario, sheet or demo_sheet(), frozenset({STRUCK}), STEP)
    wanted = {failure.code: frozenset({STRUCK})}
    return branch(RowBook(trunk), [failure], wanted, np.zeros(2), pace)[failure.code]


def crossed_in(trunk: Trunk) -> FloatArray:
    """When each limit that counts as harm was crossed in the run itself [s], shape (limits,)."""
    places = [trunk.every.limits.index(limit) for limit in trunk.rules.limits]
    crossed = trunk.held.crossed[0, places, 0]
    return np.where(crossed < NEVER, crossed, np.inf)


# Branches against the run itself


@pytest.mark.parametrize(
    ("code", "change"),
    [("fans", {"air": "none"}), ("pump", {"cooling": "none"})],
)
def test_a_branch_is_the_straight_run_with_the_fault_in_its_plan(
    code: str, change: dict[str, str]
) -> None:
    # Given a run in which a fault strikes after five minutes, and one planned without from then on,
    supplied = {"air": "pack", "cooling": "pack", "valve": "100 %", "metabolic_rate": "650 W"}
    broken = struck(at_work({**supplied, "for": "65 min"}), KNOWN[code])
    planned = at_work({**supplied, "for": "5 min"}, {**supplied, **change, "for": "60 min"})
    straight = run_trunk(planned, demo_sheet(), frozenset(), STEP)
    # when both are computed in the same steps,
    assert broken.each is not None
    expected = crossed_in(straight) - STRUCK
    # then every limit is crossed at the same moment, some of them at all.
    assert np.isfinite(expected).any()
    np.testing.assert_allclose(broken.each[:, 0, 0], expected, rtol=1e-9)


def test_a_branch_without_effect_is_the_rest_of_the_run() -> None:
    hot = {"air": "none", "cooling": "none", "for": "65 min"}
    kept = struck(at_work(hot), WITHOUT_EFFECT)
    straight = run_trunk(at_work(hot), demo_sheet(), frozenset(), STEP)
    assert kept.each is not None
    later = np.maximum(crossed_in(straight) - STRUCK, 0.0)
    assert np.isfinite(later).any()
    np.testing.assert_allclose(kept.each[:, 0, 0], later, rtol=1e-9)


def test_keeping_states_changes_nothing_in_the_run() -> None:
    scenario = scenario_of("floor-survey")
    ready = instants_of(legs(scenario))
    # Marks only where a spell is cut into whole steps anyway.
    plain = run_trunk(scenario, demo_sheet(), frozenset(), STEP)
    marked = run_trunk(scenario, demo_sheet(), frozenset({0.0, 60.0, 120.0}), STEP)
    assert len(ready) > 60
    np.testing.assert_array_equal(plain.batch.state, marked.batch.state)
    np.testing.assert_array_equal(plain.held.crossed, marked.held.crossed)


def test_each_member_has_the_clock_it_would_have_alone() -> None:
    # Given seven members who work differently hard,
    spell = {"air": "pack", "cooling": "pack", "valve": "100 %", "for": "65 min"}
    watts = np.linspace(150.0, 550.0, 7)
    scenario = at_work(spell)
    rate = scenario.run.outing[0].metabolic_rate
    assert rate is not None
    together = struck(varying(scenario, rate, watts), KNOWN["fans"]).harm[:, 0]
    # then each is computed as though it were the only one,
    for member, value in enumerate(watts):
        alone = struck(at_work({**spell, "metabolic_rate": f"{value} W"}), KNOWN["fans"])
        np.testing.assert_allclose(together[:, member], alone.harm[:, 0, 0], rtol=1e-9)
    # and the harder the work, the sooner the air harms.
    assert np.all(np.diff(together[AIR]) < 0.0)


def test_instants_side_by_side_have_the_clocks_they_would_have_one_by_one() -> None:
    scenario = at_work({"air": "pack", "cooling": "pack", "valve": "100 %", "for": "30 min"})
    minutes = [60.0 * minute for minute in range(0, 30, 3)]
    trunk = run_trunk(scenario, demo_sheet(), frozenset(minutes), STEP)
    book, fans = RowBook(trunk), KNOWN["fans"]
    together = branch(book, [fans], {"fans": frozenset(minutes)}, np.zeros(2), EVEN)["fans"]
    for place, time in enumerate(minutes):
        alone = branch(book, [fans], {"fans": frozenset({time})}, np.zeros(2), EVEN)["fans"]
        np.testing.assert_allclose(together.harm[:, place], alone.harm[:, 0], rtol=1e-12)


# Limits


def test_a_limit_that_must_hold_is_crossed_that_much_later() -> None:
    # Given carbon dioxide that only rises, then one that must last a minute harms a minute later.
    scenario = at_work({"air": "pack", "cooling": "none", "for": "20 min"}, litres=40.0)
    at_once, after_a_minute = (
        struck(scenario, KNOWN["fans"], sheet=only(demo_sheet(), sustained=lasting)).harm[AIR, 0, 0]
        for lasting in (None, of_value(60.0, "time"))
    )
    assert after_a_minute == pytest.approx(at_once + 60.0, rel=1e-9)


def test_a_limit_already_crossed_harms_at_once() -> None:
    scenario = at_work({"air": "none", "cooling": "none", "for": "20 min"}, litres=4.0)
    sheet = only(demo_sheet(), sustained=None)
    assert struck(scenario, WITHOUT_EFFECT, sheet=sheet).harm[AIR, 0, 0] == 0.0


def test_ending_early_never_changes_a_slack_that_counts() -> None:
    # Given clocks computed to the end, and only as far as the slack needs them,
    scenario = at_work({"air": "pack", "cooling": "pack", "valve": "100 %", "for": "30 min"})
    reserves = np.array([15.0, 300.0])
    trunk = run_trunk(scenario, demo_sheet(), frozenset({STRUCK}), STEP)
    for failure in (KNOWN["fans"], KNOWN["pump"], KNOWN["battery"]):
        wanted = {failure.code: frozenset({STRUCK})}
        whole, short = (
            branch(RowBook(trunk), [failure], wanted, reserves, Pace(to_the_end=end))[failure.code]
            for end in (True, False)
        )
        # then the least slack over both kinds of relief is the same.
        least = [clocks.margin(reserves).min() for clocks in (whole, short)]
        assert least[1] == pytest.approx(least[0], rel=1e-12)


def test_changes_of_the_rows_reach_the_kernel() -> None:
    # A failure that changes nothing but says it stops the air is the same as none.
    mute = Failure("mute", "nothing, at once", in_the_suit, breakage.nothing, stops_air=True)
    scenario = at_work({"air": "none", "cooling": "none", "for": "65 min"})
    one, other = (struck(scenario, failure).each for failure in (mute, WITHOUT_EFFECT))
    assert one is not None
    assert other is not None
    np.testing.assert_allclose(one, other, rtol=1e-12)
