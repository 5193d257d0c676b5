"""Go or no-go of a kit: faults, checks, drying, batteries, repeats."""

from __future__ import annotations

import math
import random

import pytest
from scipy import stats
from tests.ledger.shelf import DAY, HOUR, Shelf, sheet

from neckring.ledger.battery_fade import SURE, fade, student_quantile
from neckring.ledger.going import KitState, kit_state
from neckring.ledger.records import Act, Record
from neckring.ledger.repeats import repeats, rule_words

FLOW = 100.0 / 60_000.0
"""[m3/s]; 100 L/min."""


def state(shelf: Shelf, kit: str) -> KitState:
    return kit_state(shelf.state, shelf.items, kit, shelf.now)


def said(shelf: Shelf, kit: str) -> str:
    return "; ".join(reason.words for reason in state(shelf, kit).reasons)


def ready(check_ago: float = 0.0) -> Shelf:
    shelf = Shelf()
    shelf.check("F1", "flow", FLOW, check_ago)
    return shelf


def test_a_kit_is_a_go_when_nothing_speaks_against_it() -> None:
    assert state(ready(), "KA").verdict == "go"
    assert state(ready(), "KA").reasons == ()


def test_a_fan_that_nobody_measured_grounds_the_kit() -> None:
    assert state(Shelf(), "KA").verdict == "no-go"
    assert "never measured" in said(Shelf(), "KA")


@pytest.mark.parametrize(("ago", "verdict"), [(24.0, "go"), (24.1, "no-go")])
def test_a_measurement_counts_for_its_hours(ago, verdict) -> None:
    assert state(ready(ago * HOUR), "KA").verdict == verdict


def test_a_check_that_does_not_pass_is_a_fault_until_it_is_passed() -> None:
    shelf = ready()
    shelf.check("F1", "flow", 0.94 * 95.0 / 60_000.0)
    assert state(shelf, "KA").verdict == "no-go"
    assert "measure again" in shelf.take(Act.MENDED, fault=2, words="cleaned it")
    shelf.check("F1", "flow", 95.0 / 60_000.0)
    assert state(shelf, "KA").verdict == "go"
    assert not any(fault.open for fault in shelf.state.faults.values())


@pytest.mark.parametrize(("grams", "verdict"), [(0.05, "go"), (0.3, "go"), (0.31, "lead decides")])
def test_a_few_drops_at_a_disconnect_are_normal_and_more_is_a_fault(grams, verdict) -> None:
    # Given a dry wipe weighed before and after; six drops of 0.05 g are the most
    shelf = Shelf()
    shelf.check("G1", "drops", grams / 1000.0)
    assert state(shelf, "KB").verdict == verdict
    assert len(shelf.state.faults) == (verdict != "go")


def test_a_fault_weighs_by_its_kind_and_the_lead_may_accept_the_lesser() -> None:
    shelf = ready()
    shelf.fault("F1", "noise", 3 * DAY)
    assert state(shelf, "KA").verdict == "lead decides"
    assert "told 3 days ago" in said(shelf, "KA")
    assert shelf.take(Act.ACCEPTED, fault=2, words="only a whine") == ""
    assert state(shelf, "KA").verdict == "go"
    shelf.fault("F1", "slow")
    assert "can only be mended" in shelf.take(Act.ACCEPTED, fault=4, words="please")
    assert state(shelf, "KA").verdict == "no-go"
    shelf.take(Act.MENDED, fault=4, words="new fan")
    assert state(shelf, "KA").verdict == "go"
    assert "mended already" in shelf.take(Act.MENDED, fault=4, words="again")


def test_what_is_out_or_missing_from_its_bag_grounds_the_kit() -> None:
    shelf = ready()
    shelf.take(Act.OUT, bag="red", piece="pins", count=1, run="R1")
    assert "11 of 12 pins, 1 out" in said(shelf, "KA")
    shelf.take(Act.LOST, bag="red", piece="pins", count=1, run="R1", words="in the grass")
    assert "11 of 12 pins, 1 lost" in said(shelf, "KA")
    shelf.take(Act.STOCKED, bag="red", piece="pins", count=1, words="found")
    assert state(shelf, "KA").verdict == "go"


def wet(ago: float) -> Shelf:
    shelf = Shelf()
    shelf.check("G1", "drops", 0.0)
    shelf.take(Act.OUT, ago, item="G1")
    shelf.take(Act.IN, ago, item="G1")
    return shelf


def test_a_garment_dries_then_is_cleaned_and_the_kit_says_from_when_on() -> None:
    # Given 12 h of drying and 1 h of cleaning
    shelf = wet(4 * HOUR)
    assert state(shelf, "KB").ready_at == pytest.approx(shelf.now + 9 * HOUR)
    assert state(wet(13 * HOUR), "KB").verdict == "go"
    # When somebody finds it dry now, an hour of cleaning is left
    shelf.take(Act.DRIED, item="G1")
    assert state(shelf, "KB").ready_at == pytest.approx(shelf.now + HOUR)
    shelf.take(Act.CLEANED, item="G1")
    assert state(shelf, "KB").verdict == "go"


def test_waiting_is_no_answer_when_something_else_is_wrong() -> None:
    shelf = wet(HOUR)
    shelf.fault("G1", "other", words="torn")
    assert state(shelf, "KB").ready_at is not None
    shelf.take(Act.OUT, item="G1")
    assert state(shelf, "KB").ready_at is None


def cycles(charges: list[float]) -> list[Record]:
    return [
        Record(n, 0.0, "T1", Act.CYCLE, {"item": "B1", "charge": 3600.0 * c, "voltage": 14.5})
        for n, c in enumerate(charges, 1)
    ]


def test_the_line_and_its_band_are_those_of_a_public_library() -> None:
    # Given twenty noisy cycles
    draw = random.Random(4)
    charges = [10.0 - 0.05 * n + draw.gauss(0.0, 0.1) for n in range(20)]
    found = fade(cycles(charges))
    # When scipy fits the same line
    fit = stats.linregress(range(20), [3600.0 * c for c in charges])
    end = fit.intercept + 19 * fit.slope
    # Its error at the end: variance of the intercept, of the slope, and their covariance
    variance = fit.intercept_stderr**2 + (19**2 - 2 * 19 * 9.5) * fit.stderr**2
    reach = stats.t.ppf(0.5 + SURE / 2, 18) * math.sqrt(variance)
    # Then both agree
    assert found is not None
    assert found.charge == pytest.approx(end)
    assert found.per_cycle == pytest.approx(fit.slope)
    assert (found.low, found.high) == pytest.approx((end - reach, end + reach))
    assert found.energy == pytest.approx(3600.0 * charges[-1] * 14.5)


def test_the_truth_lies_in_the_band_as_often_as_it_says() -> None:
    draw, inside = random.Random(7), 0
    for _ in range(600):
        found = fade(cycles([10.0 - 0.02 * n + draw.gauss(0.0, 0.15) for n in range(12)]))
        assert found is not None
        assert found.low is not None
        assert found.high is not None
        inside += found.low <= 3600.0 * (10.0 - 0.02 * 11) <= found.high
    # Given 600 draws, a share of 90 % has a standard deviation of 1.2 %
    assert 0.86 <= inside / 600 <= 0.94


@pytest.mark.parametrize(
    ("charges", "verdict"),
    [
        ([], "lead decides"),
        ([9.5], "go"),
        ([7.9], "no-go"),
        ([9.6, 9.5, 9.5, 9.4, 9.4], "go"),
        ([8.6, 7.9, 8.7, 7.9, 8.5], "lead decides"),
    ],
)
def test_a_battery_that_has_faded_grounds_the_kit(charges, verdict) -> None:
    shelf = Shelf()
    for charge in charges:
        shelf.take(Act.CYCLE, item="B1", charge=3600.0 * charge)
    assert state(shelf, "KC").verdict == verdict, said(shelf, "KC")


def test_the_same_fault_again_on_one_serial_and_over_serials_of_one_part() -> None:
    # Given one fan that rattles twice, and two others once, one of them long ago
    shelf = ready()
    shelf.fault("F1", "noise", 40 * DAY)
    shelf.take(Act.MENDED, fault=2, words="tightened")
    shelf.fault("F1", "noise", 2 * DAY)
    shelf.fault("F2", "noise", DAY)
    shelf.fault("F3", "noise", 400 * DAY)
    # Then the serial is told; the part is not, for one of three lies too far back
    (one,) = repeats(shelf.state, shelf.items, shelf.now)
    assert (one.over, one.items, one.count, one.numbers) == ("item", ("F1",), 2, (2, 4))
    shelf.fault("F3", "noise")
    both = repeats(shelf.state, shelf.items, shelf.now)
    assert [(found.over, found.count) for found in both] == [("part", 4), ("item", 2)]
    assert both[0].items == ("F1", "F2", "F3")
    # And the kit tells it to the lead, though each time it was mended, until it is accepted
    shelf.take(Act.MENDED, fault=4, words="tightened again")
    assert "noise 2 times on this serial" in said(shelf, "KA")
    assert state(shelf, "KA").verdict == "lead decides"
    shelf.take(Act.ACCEPTED, fault=4, words="seen by the technician")
    assert state(shelf, "KA").verdict == "go"
    assert "2 times on one serial, or on 3 serials" in rule_words(shelf.items)


def test_failed_checks_are_compared_and_other_faults_are_not() -> None:
    shelf = Shelf()
    for _ in range(2):
        shelf.check("F1", "flow", 0.001)
        shelf.fault("F2", "other", words="odd")
    (one,) = repeats(shelf.state, shelf.items, shelf.now)
    assert (one.fault, one.items) == ("flow", ("F1",))


def test_days_and_cycles_run_out() -> None:
    items = {"X1": {"part": "fan", "kit": "KA", "until": "2026-01-01"}}
    parts = {"fan": {"words": "fan", "most_cycles": "1"}}
    few = sheet(items=items, parts=parts, checks={}, bags={})
    shelf = Shelf(few)
    shelf.take(Act.OUT, item="X1")
    shelf.take(Act.IN, item="X1")
    assert "only until 2026-01-01" in said(shelf, "KA")
    assert "used 1 times, at most 1" in said(shelf, "KA")


def test_a_kit_without_items_is_no_go() -> None:
    assert state(Shelf(sheet(items={})), "KC").verdict == "no-go"


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 7, 30, 299])
@pytest.mark.parametrize("share", [0.6, 0.95, 0.999])
def test_students_quantile_is_that_of_the_reference_library(share, freedom) -> None:
    assert student_quantile(share, freedom) == pytest.approx(stats.t.ppf(share, freedom), rel=1e-10)


@pytest.mark.parametrize(
    ("freedom", "value"), [(1, 6.313751515), (2, 2.919985580), (5, 2.015048373)]
)
def test_students_quantile_at_95_percent_of_the_printed_tables(freedom, value) -> None:
    # from memory: the 5 % column of any table of Student's t
    assert student_quantile(0.95, freedom) == pytest.approx(value, rel=1e-8)
