"""When a limit is crossed, which one binds, and what the plan says then."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scenarios import DEMO, one_spell, outing_of, scenario_of

from neckring.outing.findings import LimitFinding
from neckring.outing.limits import binding, first_crossing, hold, judged, verdict
from neckring.outing.plan import Plan, make_plan
from neckring.station.limits import Limit, LimitSheet

TIME = np.arange(0.0, 601.0, 10.0)


def ramp(slope: float) -> np.ndarray:
    """A straight line from 0 [1/s]."""
    return slope * TIME


def test_a_crossing_between_samples_is_found_on_the_straight_line() -> None:
    # 0.1 a second reaches 12.34 after 123.4 s, between samples at 120 s and 130 s.
    assert first_crossing(TIME, ramp(0.1), 12.34, True, 0.0) == pytest.approx(123.4)
    assert first_crossing(TIME, -ramp(0.1), -12.34, False, 0.0) == pytest.approx(123.4)


def test_a_limit_must_hold_for_its_time() -> None:
    assert first_crossing(TIME, ramp(0.1), 12.34, True, 60.0) == pytest.approx(183.4)
    # Crossed at 573.4 s, so that a minute has not passed by the end.
    assert first_crossing(TIME, ramp(0.1), 57.34, True, 60.0) is None


def test_a_dip_starts_the_clock_anew() -> None:
    # Given a trace above the limit from 100 s, below it around 130 s, and above again for good,
    values = np.where(TIME >= 100.0, 1.0, -1.0)
    values[13] = -1.0
    # then a minute above is reached a minute after the second crossing at 135 s.
    assert first_crossing(TIME, values, 0.0, True, 60.0) == pytest.approx(195.0)
    assert first_crossing(TIME, values, 0.0, True, 20.0) == pytest.approx(115.0)


def test_touching_is_not_crossing() -> None:
    assert first_crossing(TIME, np.full_like(TIME, 5.0), 5.0, True, 0.0) is None
    assert first_crossing(TIME, np.full_like(TIME, 5.0), 5.0, False, 0.0) is None


def test_above_from_the_start_counts_from_the_start() -> None:
    assert first_crossing(TIME, np.full_like(TIME, 9.0), 5.0, True, 30.0) == pytest.approx(30.0)


@given(st.floats(0.01, 1.0), st.floats(0.1, 50.0), st.floats(0.0, 300.0))
def test_a_straight_line_crosses_where_algebra_says(
    slope: float, limit: float, sustained: float
) -> None:
    expected = limit / slope + sustained
    found = first_crossing(TIME, ramp(slope), limit, True, sustained)
    if expected > TIME[-1]:
        assert found is None
    else:
        assert found == pytest.approx(expected, rel=1e-9)


@given(st.lists(st.floats(-5.0, 5.0), min_size=61, max_size=61), st.floats(0.0, 100.0))
def test_a_higher_limit_is_never_crossed_sooner(values: list[float], sustained: float) -> None:
    trace = np.array(values)
    sooner = first_crossing(TIME, trace, 0.0, True, sustained)
    later = first_crossing(TIME, trace, 1.0, True, sustained)
    assert later is None or (sooner is not None and later >= sooner)


def limit(quantity: str, value: str, action: str, **keys: object) -> Limit:
    """A limit as a sheet would hold it; the example is the limit's own value, not crossed."""
    written = {
        "quantity": quantity,
        "stop_if": "above",
        "value": value,
        "action": action,
        "source": "Invented for this test.",
        "verified": "no",
        "signed_by": "M1",
        "signed_on": "2026-11-20",
        "example": {"reading": value, "crossed": "no"},
        **keys,
    }
    return Limit.model_validate(written)


def trace_of(**columns: np.ndarray) -> dict[str, np.ndarray]:
    return {"time": TIME, **columns}


TRACE = trace_of(core_temperature=37.0 + ramp(0.002), heart_rate=1.0 + ramp(0.001))
# The core is 38.0 degC after 500 s; the heart beats 60 + 36 = 96 a minute at the end.
CORE = limit("core_temperature", "38 degC", "turn back")
HEART = limit("heart_rate", "90 bpm", "stop now")
MILD = limit("core_temperature", "37.2 degC", "caution")
FAR = limit("heart_rate", "180 bpm", "stop now")


def found(*limits: Limit) -> tuple[LimitFinding, ...]:
    return tuple(hold(one, 30.0, TRACE) for one in limits)


def test_the_first_that_ends_the_run_binds() -> None:
    findings = found(MILD, CORE, HEART)
    assert [one.reached for one in findings] == pytest.approx([100.0, 500.0, 500.0])
    bound = binding(findings, TRACE)
    # At the same moment the graver action decides.
    assert bound is not None
    assert bound.quantity == "heart_rate"


def test_a_caution_never_ends_a_run() -> None:
    findings = found(MILD, FAR)
    assert verdict(findings, 0.0) == "go"
    bound = binding(findings, TRACE)
    assert bound is not None
    assert bound.quantity == "heart_rate"
    assert bound.reached is None


def test_nearest_binds_when_nothing_is_reached() -> None:
    nearer = limit("core_temperature", "38.3 degC", "stop now")
    bound = binding(found(FAR, nearer), TRACE)
    assert bound is not None
    assert bound.quantity == "core_temperature"


def test_only_cautions_still_name_one() -> None:
    bound = binding(found(MILD), TRACE)
    assert bound is not None
    assert bound.action == "caution"
    assert binding((), TRACE) is None


@pytest.mark.parametrize(
    ("begins", "decided"),
    [(600.0, "no-go"), (500.0, "no-go"), (499.0, "shorten"), (0.0, "shorten")],
)
def test_before_the_outing_no_shortening_helps(begins: float, decided: str) -> None:
    assert verdict(found(CORE), begins) == decided


def test_a_limit_that_falls_with_age() -> None:
    ageing = limit(
        "heart_rate",
        "180 bpm",
        "stop now",
        per_year_of_age="-1 bpm",
        example={"age": "30 yr", "reading": "150 bpm", "crossed": "no"},
    )
    assert hold(ageing, 30.0, TRACE).value == pytest.approx(150.0 / 60.0)
    assert hold(ageing, 90.0, TRACE).reached == pytest.approx(500.0)
    assert hold(ageing, 30.0, TRACE).reached is None


def planned(*limits: Limit, code: str = "yard-walk") -> Plan:
    return make_plan(scenario_of(code), LimitSheet(limits=limits))


def test_sentence_when_nothing_is_reached() -> None:
    plan = planned(limit("core_temperature", "41 degC", "stop now"), MILD)
    assert plan.verdict == "go"
    promised = "If nothing fails, nothing that ends the run is reached in the whole 56 min"
    assert plan.sentence.startswith(promised)
    assert "core temperature" in plan.sentence
    assert plan.longest == pytest.approx(plan.duration)


def test_sentence_counts_cautions() -> None:
    plan = planned(
        limit("core_temperature", "41 degC", "stop now"),
        limit("load_fraction", "10 %", "caution"),
        limit("heart_rate", "50 bpm", "caution"),
    )
    assert plan.verdict == "go"
    assert plan.sentence.endswith("2 cautions are met.")


def test_sentence_when_no_shorter_outing_helps() -> None:
    plan = planned(limit("load_fraction", "10 %", "stop now"))
    assert plan.verdict == "no-go"
    assert "before the outing begins" in plan.sentence


def test_sentence_when_it_must_be_shortened() -> None:
    plan = planned(limit("heart_rate", "120 bpm", "stop now"), code="bench-climb")
    assert plan.verdict == "shorten"
    assert plan.binding_limit is not None
    assert plan.binding_limit.reached == plan.longest
    minutes = int(plan.longest // 60)
    assert f"{minutes} min after first dressing" in plan.sentence
    assert "shorten the run" in plan.sentence


@pytest.mark.parametrize(
    ("quantity", "low", "high"),
    [("heart_rate", "60 bpm", "150 bpm"), ("core_rise", "0.01 K", "2 K")],
)
def test_a_laxer_sheet_never_gives_less_time(quantity: str, low: str, high: str) -> None:
    strict, lax = (
        planned(limit(quantity, value, "stop now"), code="bench-climb").longest
        for value in (low, high)
    )
    assert strict < lax


def test_the_demo_says_what_its_files_promise() -> None:
    # The easy run may go; the climb must be shortened (comments in the demo's run files).
    easy, hard = (
        make_plan(scenario_of(code), DEMO.limits) for code in ("yard-walk", "bench-climb")
    )
    assert easy.verdict == "go"
    assert hard.verdict == "shorten"
    assert hard.longest < hard.duration


def test_limits_read_the_trace_they_name() -> None:
    plan = make_plan(outing_of(one_spell(**{"for": "10 min"})), DEMO.limits)
    for one in plan.limits:
        column = plan.trace[one.quantity]
        finite = column[np.isfinite(column)]
        assert one.worst == (finite.max() if one.direction == "above" else finite.min())


def test_water_counts_only_while_it_flows() -> None:
    # Given a reservoir that is warm before its pump runs and cold afterwards
    trace = {
        "time": np.array([0.0, 60.0, 120.0]),
        "water_flow": np.array([0.0, 2e-5, 2e-5]),
        "water_inlet_temperature": np.array([30.0, 10.0, 12.0]),
    }

    # Then only the samples with flow are held against the inlet's limit
    assert judged("water_inlet_temperature", trace).tolist() == [False, True, True]
    assert judged("core_temperature", trace).all()

    # And a garment that never had water is held over the whole run rather than not at all
    assert judged("water_inlet_temperature", trace | {"water_flow": np.zeros(3)}).all()
