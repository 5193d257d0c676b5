"""Slack falls, and never rises, with all that makes a run harder; where it does not, how far.

Slack counts as far as a look ahead computes it, 900 s beyond its reserve; more is endless. What
harms later than that may come later with harder work: in a place as hot as the skin, who lies down
an hour after five minutes' work has profited from the sweat that harder work had started.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenarios import DEMO, FloatArray, of_value, scenario_of, varying
from worlds import INSTANTS, MINUTE, clocks, slack_of, warm

from neckring.outing import breakage
from neckring.outing.ensemble import FailureMap, Question, failure_map, in_threads
from neckring.outing.gathered import Gathered
from neckring.outing.look_ahead import VERDICTS, verdict_of
from neckring.outing.scenario import Scenario
from neckring.outing.slack import findings, turn_back
from neckring.outing.watching import AIR, HEAT, RELIEFS
from neckring.station.variation import with_value
from neckring.units import Quantity

MEMBERS = 16
# Air and heat are coupled a little: warmer breath is moister, and a time step has its error [s].
SLIGHT = 0.1
AIR_STOPS = ("fans", "battery", "fall")
ANY = ("nothing", "one-fan", "pump", "weak-pump", "flattened", "leak-inside", "slow", "down")
DAYS = st.builds(
    warm,
    st.floats(220.0, 600.0),
    st.sampled_from(("16 degC", "24 degC", "30 degC", "36 degC")),
    st.sampled_from((20.0, 40.0, 400.0)),
)
FEW = settings(max_examples=10)


def worst_rise(
    scenario: Scenario,
    quantity: Quantity,
    values: FloatArray,
    codes: tuple[str, ...] = (*AIR_STOPS, *ANY),
    reliefs: tuple[int, ...] = RELIEFS,
) -> float:
    """How much slack ever rises from one value to the next harder one [s]."""
    found = clocks(varying(scenario, quantity, values), codes)
    rises = [np.diff(slack_of(c, relief), axis=1) for c in found.values() for relief in reliefs]
    return float(np.max(rises))


def spread(low: float, high: float) -> FloatArray:
    return np.linspace(low, high, MEMBERS)


# Work


@FEW
@given(DAYS)
def test_harder_work_never_brings_slack(day):
    rate = day.run.outing[1].metabolic_rate
    assert worst_rise(day, rate, spread(180.0, 700.0)) <= SLIGHT


@FEW
@given(DAYS)
def test_a_stiffer_suit_never_brings_slack(day):
    assert worst_rise(day, day.suit.bulk_factor, spread(1.0, 1.4)) <= SLIGHT


def test_hard_work_costs_slack_of_air_and_of_heat():
    day = warm(300.0, "30 degC")
    rate = day.run.outing[1].metabolic_rate
    found = clocks(varying(day, rate, np.array([200.0, 600.0])), ("fans", "pump"))
    air, heat = slack_of(found["fans"], AIR), slack_of(found["pump"], HEAT)
    assert np.all(air[:, 1] < air[:, 0] - 8.0)
    assert heat[-1, 1] < 0.0 < 900.0 < heat[-1, 0]


# Distance and speed


@FEW
@given(DAYS)
def test_a_longer_way_home_never_brings_slack(day):
    length = day.station.paths[0].length
    assert worst_rise(day, length, np.geomspace(20.0, 1500.0, MEMBERS)) <= SLIGHT


@FEW
@given(DAYS)
def test_slower_wearers_never_have_more_slack_up_to_400_m_from_home(day):
    assert worst_rise(day, day.suit.speed_factor, spread(1.0, 1.6)) <= SLIGHT


def test_the_exception_a_slow_wearer_far_out_may_stay_below_a_limit():
    # Given 1,500 m to walk home without cooling in the heat: a brisk wearer's heart is too fast
    # on the way, five minutes before cooling; 8 % slower, it never is.
    day = warm(500.0, "36 degC", 1500.0)
    slowed = varying(day, day.suit.speed_factor, spread(1.0, 1.6))
    found = clocks(slowed, ("pump",), [30.0 * MINUTE])["pump"]
    # then help is later for the slower ones all the same, and the law fails only where the harm
    # lies on the way itself: never while everybody's harm comes while working or waiting.
    assert np.all(np.diff(found.help[HEAT, 0]) > 0.0)
    slack = slack_of(found, HEAT)[0]
    assert slack[0] < slack[-1]
    on_the_way = found.harm[HEAT, 0] < found.help[HEAT, 0]
    rises = np.flatnonzero(np.diff(slack) > SLIGHT)
    assert np.all(on_the_way[rises])


@FEW
@given(DAYS, st.sampled_from(("yard", "bay")))
def test_slower_helpers_never_bring_slack(day, post):
    run = with_value(day.run, ("help", "tender"), post)
    far = replace(day, run=run)
    for quantity in (run.hands.tender_speed, far.suit.help_times.carry_speed):
        assert worst_rise(far, quantity, spread(0.1, 1.6)[::-1]) <= 0.0


# Water


@FEW
@given(DAYS)
def test_warmer_water_never_brings_slack(day):
    """No allowance for closed skin vessels is needed here: a limit is met while all are open."""
    start = day.suit.reservoir.start_temperature
    assert worst_rise(day, start, spread(0.5, 35.0)) <= SLIGHT


# Volumes


@FEW
@given(DAYS)
def test_a_smaller_helmet_never_brings_air(day):
    volume = day.suit.air.helmet_volume
    falling = 1e-3 * spread(2.0, 60.0)[::-1]
    assert worst_rise(day, volume, falling, AIR_STOPS, (AIR,)) < 0.0


@FEW
@given(DAYS)
def test_the_exception_a_smaller_suit_brings_a_little_air(day):
    """What is mixed into the helmet from the suit is moist and used: less of it is no loss.

    Bound: 5 s between the ends of what a suit may hold.
    """
    volume = day.suit.air.suit_volume
    found = clocks(varying(day, volume, 1e-3 * np.geomspace(300.0, 2.0, MEMBERS)), AIR_STOPS)
    for code in AIR_STOPS:
        slack = slack_of(found[code], AIR)
        assert np.all(np.ptp(slack, axis=1) < 5.0), code


@FEW
@given(DAYS, st.floats(0.2, 0.95))
def test_a_smaller_helmet_and_suit_together_never_bring_air(day, share):
    smaller = replace(
        day,
        suit=with_value(
            with_value(
                day.suit,
                ("air", "helmet_volume"),
                of_value(share * day.suit.air.helmet_volume.nominal, "volume"),
            ),
            ("air", "suit_volume"),
            of_value(share * day.suit.air.suit_volume.nominal, "volume"),
        ),
    )
    before, after = (clocks(s, AIR_STOPS) for s in (day, smaller))
    for code in AIR_STOPS:
        assert np.all(slack_of(after[code], AIR) < slack_of(before[code], AIR))


# Failures that change nothing


@pytest.mark.parametrize("day", [scenario_of("yard-walk"), warm(450.0, "32 degC")])
def test_a_failure_with_no_effect_is_as_when_nothing_fails(day, monkeypatch):
    # Given partial failures that leave everything,
    whole = ("WEAK_FAN_SPEED", "WEAK_PUMP_SPEED", "KINKED_MAIN_AREA", "TUBES_LEFT_BY_A_KINK")
    whole += ("TUBES_LEFT_WHEN_FLATTENED", "WATER_LEFT_BY_A_LEAK", "PUMP_SPEED_DRAWING_AIR")
    for name in (*whole, "CHARGE_LEFT_BY_COLD", "RESISTANCE_BY_COLD"):
        monkeypatch.setattr(breakage, name, 1.0)
    codes = ("weak-fans", "weak-pump", "main-kinked", "branch-kinked", "flattened")
    found = clocks(
        day, ("nothing", *codes, "leak-outside", "cold-battery"), [25.0 * MINUTE, 30.0 * MINUTE]
    )
    # then each harms when the run itself would, and never in a run without harm.
    nothing = found.pop("nothing")
    assert len(found) == 7
    for clock in found.values():
        assert np.allclose(clock.harm, nothing.harm, rtol=1e-9)
    assert np.isinf(nothing.harm).all() == (day.run.title == "First steps in the yard")


# Confidence, reserve, turn-back


@pytest.fixture(scope="module")
def found() -> FailureMap:
    """Sixty-four members on a warm day; some lose their reserve, and some do not."""
    return failure_map(Question(warm(310.0, "28 degC"), DEMO.limits, 64), in_threads(2), 2)


def judged(found: FailureMap, confidence: float, air_reserve: float, reserve: float) -> FailureMap:
    """The same members judged under another policy."""
    scenario = found.question.scenario
    policy = scenario.station.policy.model_copy(
        update={
            "confidence": of_value(confidence, "fraction"),
            "air_reserve": of_value(air_reserve, "time"),
            "reserve": of_value(reserve, "time"),
        }
    )
    station = scenario.station.model_copy(update={"policy": policy})
    question = replace(found.question, scenario=replace(scenario, station=station))
    drawn = replace(found.drawn, reserves=question.reserves, lost=np.zeros_like(found.drawn.lost))
    drawn.recount()
    return replace(found, question=question, drawn=drawn)


CONFIDENCES = st.floats(0.5, 0.9999)
AIR_RESERVES = st.floats(0.0, 60.0)
HEAT_RESERVES = st.floats(0.0, 900.0)


def concluded(found: FailureMap) -> tuple[int, float, Gathered]:
    home_by = turn_back(found)
    verdict = verdict_of(found, found.drawn.kept_until(np.inf), home_by)
    return VERDICTS.index(verdict), -1.0 if home_by is None else home_by, found.drawn


@settings(max_examples=8)
@given(CONFIDENCES, CONFIDENCES, AIR_RESERVES, HEAT_RESERVES)
def test_more_confidence_is_never_more_daring(found, one, other, air_reserve, reserve):
    less, more = sorted((one, other))
    bold, careful = (judged(found, c, air_reserve, reserve) for c in (less, more))
    # Slack at the confidence falls at every minute of every failure,
    at = {f.code: f.slack_at_confidence for f in findings(bold)}
    for failure in findings(careful):
        assert np.all(failure.slack_at_confidence <= at[failure.code])
    # the verdict never goes from no-go toward go, and home is turned to no later.
    (verdict, home_by, _), (stricter, earlier, _) = concluded(bold), concluded(careful)
    assert stricter >= verdict
    assert earlier <= home_by


@settings(max_examples=60)
@given(CONFIDENCES, AIR_RESERVES, HEAT_RESERVES, st.floats(0.0, 60.0), st.floats(0.0, 300.0))
def test_more_reserve_is_never_more_daring(found, confidence, air_reserve, reserve, a, h):
    bold = judged(found, confidence, air_reserve, reserve)
    careful = judged(found, confidence, air_reserve + a, reserve + h)
    (verdict, home_by, drawn), (stricter, earlier, kept) = concluded(bold), concluded(careful)
    assert stricter >= verdict
    assert earlier <= home_by
    # Nobody is kept longer either, and nobody comes back who was lost.
    shares = [[g.kept_until(t) for t in (0.0, *INSTANTS, np.inf)] for g in (drawn, kept)]
    assert np.all(np.diff(shares, axis=1) <= 0.0)
    assert np.all(np.array(shares[1]) <= np.array(shares[0]))


@settings(max_examples=60)
@given(CONFIDENCES, AIR_RESERVES, HEAT_RESERVES)
def test_turn_back_is_never_later_than_the_end(found, confidence, air_reserve, reserve):
    home_by = turn_back(judged(found, confidence, air_reserve, reserve))
    end = sum(leg.duration for leg in found.trunk.ready)
    assert home_by is None or 0.0 <= home_by < end


def test_the_map_that_is_judged_is_worth_judging(found: FailureMap):
    policies = {"go": (0.5, 0.0, 0.0), "shorten": (0.9, 15.0, 300.0), "no-go": (0.999, 60.0, 900.0)}
    reached = {code: VERDICTS[concluded(judged(found, *p))[0]] for code, p in policies.items()}
    assert reached == {code: code for code in policies}
    homes = {concluded(judged(found, c, 15.0, 300.0))[1] for c in (0.5, 0.8, 0.9, 0.99)}
    assert len(homes) >= 3
