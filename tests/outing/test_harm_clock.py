"""Failures and their harm clocks: what changes nothing harms nobody, and steps do not matter.

The closed forms of the harm clock are in tests/validation/test_harm_clock.py.
"""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenarios import DEMO, FloatArray, of_value, one_spell, outing_of, scenario_of, with_place

from neckring import lanes
from neckring.outing.batch import blocks_of
from neckring.outing.branch_rows import RowBook
from neckring.outing.branches import STORES, Clocks, Pace, branch
from neckring.outing.draws import dimensions, drawn, sobol_points
from neckring.outing.ensemble import MAP_PACE, everywhere, map_of
from neckring.outing.failures import FAILURES, Failure, in_the_suit
from neckring.outing.plan import station_pressure
from neckring.outing.scenario import Scenario
from neckring.outing.spells import STEP, legs, spell_rows
from neckring.outing.trunk import Trunk, instants_of, run_trunk
from neckring.outing.watching import AIR, HEAT
from neckring.station.variation import with_value

RUNS = tuple(DEMO.runs)
BY_CODE = {failure.code: failure for failure in FAILURES}
RESERVES = np.array([15.0, 300.0])
MINUTE = 60.0


@functools.cache
def trunk_of(code: str) -> Trunk:
    """A demo run with its states kept at every minute."""
    scenario = scenario_of(code)
    every = frozenset(instant.time for instant in instants_of(legs(scenario)))
    return run_trunk(scenario, DEMO.limits, every, STEP)


def whole_map(code: str, pace: Pace) -> dict[str, Clocks]:
    trunk = trunk_of(code)
    return map_of(trunk, everywhere(trunk.scenario), RESERVES, pace)


def following(trunk: Trunk, failure: Failure, times: frozenset[float]) -> Clocks:
    """Clocks of one failure, which need not be a shipped one."""
    found = branch(RowBook(trunk), [failure], {failure.code: times}, RESERVES, MAP_PACE)
    return found[failure.code]


def the_same_rows(
    _scenario: Scenario, _spell: object, rows: dict[str, FloatArray]
) -> dict[str, FloatArray]:
    """A change that changes nothing."""
    return {name: values.copy() for name, values in rows.items()}


# Nothing fails


@pytest.mark.parametrize("code", ["yard-walk", "floor-survey"])
def test_when_nothing_fails_in_a_sound_run_nothing_ever_harms(code: str) -> None:
    # Given a demo run that crosses no limit, when the wearer turns for home at any minute,
    found = whole_map(code, MAP_PACE)["nothing"]
    # then neither air nor heat does harm, and the slack is boundless.
    assert len(found.instants) > 30
    assert np.all(np.isinf(found.harm))
    assert np.all(found.margin(RESERVES) == np.inf)


@settings(max_examples=15)
@given(
    st.floats(100.0, 260.0),
    st.floats(5.0, 22.0),
    st.sampled_from(("pack", "facility")),
    st.sampled_from((0.0, 60.0, 540.0)),
)
def test_a_failure_without_effect_has_an_infinite_harm_clock(
    watts: float, outside: float, supply: str, time: float
) -> None:
    # Given light work in the bay, well cooled and aired,
    station = with_place(DEMO.station, "bay", air_temperature=f"{outside} degC")
    spell = one_spell(
        place="bay",
        metabolic_rate=of_value(watts, "power"),
        cooling=supply,
        air=supply,
        **{"for": "10 min"},
    )
    scenario = outing_of(spell, station=station)
    trunk = run_trunk(scenario, DEMO.limits, frozenset({time}), STEP)
    # when something fails that changes nothing,
    failure = Failure("idle", "nothing changes", in_the_suit, the_same_rows)
    # then no limit is ever crossed.
    assert np.all(np.isinf(following(trunk, failure, frozenset({time})).harm))


@pytest.mark.parametrize("code", RUNS)
def test_a_failure_without_effect_has_the_clocks_of_no_failure(code: str) -> None:
    # Given a demo run, even one that ends in heat,
    trunk = trunk_of(code)
    times = frozenset(i.time for i in instants_of(trunk.ready)[::7])
    # when something fails that changes nothing,
    idle = Failure("idle", "nothing changes", in_the_suit, the_same_rows)
    without = following(trunk, BY_CODE["nothing"], times)
    # then all is, to the last bit, as if nothing had failed.
    assert np.array_equal(following(trunk, idle, times).harm, without.harm)


def test_the_same_failure_with_effect_has_a_clock() -> None:
    # Given the run that no sound wearer is harmed in, then stopped fans do harm wherever they blow.
    found = whole_map("floor-survey", MAP_PACE)["fans"]
    assert np.all(np.isfinite(found.harm[AIR]))


# Steps


# Seconds by which halved steps may move any clock: the bend of carbon dioxide's rise within a step
# of 2 s. Measured: 0.5 s, at clocks of about 75 s.
MOVES = 0.5
# Skin and core approach one another so slowly that a clock on their gap says little about steps.
# What halved steps may move is the gap itself [K].
GAP_MOVES = 0.05
# How many of a run's clocks may run out in one and not in the other: a sustained limit whose last
# second falls to the step in which the wearer lies down. Measured: two of 4460.
ON_THE_EDGE = 3


@pytest.mark.parametrize("code", RUNS)
def test_half_the_steps_give_the_same_clocks(code: str) -> None:
    # Given the map of failures in the usual steps, and in half of them with the limit on the gap
    # between skin and core as signed, a little sooner and a little later,
    usual = harms(trunk_of(code), MAP_PACE)
    half, sooner, later = (
        harms(trunk_with_gap(code, gap), halved(MAP_PACE)) for gap in (0.0, GAP_MOVES, -GAP_MOVES)
    )
    # then the clocks of air are the same to seconds, those of heat to 1 % or to that little,
    for relief, early, late in ((AIR, half, half), (HEAT, sooner, later)):
        told = np.isfinite(usual[relief])
        assert np.sum(usual[relief][told] < 0.99 * early[relief][told] - MOVES) <= ON_THE_EDGE
        assert np.sum(usual[relief][told] > 1.01 * late[relief][told] + MOVES) <= ON_THE_EDGE
    # and nearly all to 1 % as they stand.
    both = np.isfinite(usual) & np.isfinite(half)
    assert np.sum(np.isfinite(usual) != np.isfinite(half)) <= ON_THE_EDGE
    assert np.mean(np.abs(usual[both] - half[both]) <= 0.01 * half[both]) > 0.99


def trunk_with_gap(code: str, wider: float) -> Trunk:
    """A demo run whose limit on the gap between skin and core is wider by so much [K]."""
    limits = tuple(
        limit.model_copy(
            update={"value": of_value(limit.value.nominal + wider, "temperature_difference")}
        )
        if limit.quantity == "skin_core_gap"
        else limit
        for limit in DEMO.limits.limits
    )
    sheet = DEMO.limits.model_copy(update={"limits": limits})
    kept = frozenset(trunk_of(code).kept)
    return run_trunk(scenario_of(code), sheet, kept, STEP)


def harms(trunk: Trunk, pace: Pace) -> FloatArray:
    """Harm clocks of all failures at all minutes [s], shape (reliefs, clocks)."""
    found = map_of(trunk, everywhere(trunk.scenario), RESERVES, pace)
    return np.concatenate([clocks.harm[..., 0] for clocks in found.values()], axis=1)


def halved(pace: Pace) -> Pace:
    return replace(pace, near=pace.near / 2, walking=pace.walking / 2, waiting=pace.waiting / 2)


# What failures change


@functools.cache
def rows_of_spells() -> frozenset[str]:
    """Names of all rows that any sound spell of the demo has."""
    names: set[str] = set()
    for code in RUNS:
        scenario = scenario_of(code)
        for leg in legs(scenario):
            names |= set(spell_rows(scenario, leg, station_pressure(scenario)))
    return frozenset(names)


@functools.cache
def drawn_scenario(code: str) -> Scenario:
    scenario = scenario_of(code)
    return drawn(scenario, sobol_points(len(dimensions(scenario)), 0, 3, 5))


def beside_a_partner(scenario: Scenario) -> Scenario:
    """The same run with another wearer at work beside this one."""
    other = next(code for code in DEMO.wearers if code != scenario.run.wearer)
    return replace(scenario, run=with_value(scenario.run, ("help", "partner"), other))


@pytest.mark.parametrize("failure", FAILURES, ids=list(BY_CODE))
def test_every_failure_can_happen_somewhere_in_a_demo_run(failure: Failure) -> None:
    # Given the demo's runs, alone and (no run as written has one) beside a partner,
    runs = [scenario_of(code) for code in RUNS]
    runs += [beside_a_partner(scenario) for scenario in runs]
    # then each failure has a spell in which it can happen, and one in which it cannot.
    can = [
        failure.possible(scenario, spell, before)
        for scenario in runs
        for before, spell in zip([None, *scenario.run.outing], scenario.run.outing, strict=False)
    ]
    assert any(can)
    assert not all(can)


@pytest.mark.parametrize("failure", FAILURES, ids=list(BY_CODE))
def test_a_change_names_known_rows_with_a_value_for_each_member(failure: Failure) -> None:
    # Given three drawn members in every spell of the demo in which the failure can happen,
    for code in RUNS:
        scenario = beside_a_partner(drawn_scenario(code))
        pressure = station_pressure(scenario)
        ready = legs(scenario)
        for before, leg in zip([None, *ready], ready, strict=False):
            if not failure.possible(scenario, leg.spell, before.spell if before else None):
                continue
            rows = spell_rows(scenario, leg, pressure)
            changed = failure.change(scenario, leg.spell, dict(rows))
            # then what it changes are rows of a spell, one finite value a member.
            for name, values in changed.items():
                assert name in rows_of_spells(), name
                assert np.shape(values) == (scenario.members,), name
                assert np.all(np.isfinite(values)), name


STRIKING = [failure for failure in FAILURES if failure.strike is not None]


@pytest.mark.parametrize("failure", STRIKING, ids=[failure.code for failure in STRIKING])
def test_a_strike_takes_from_what_is_held(failure: Failure) -> None:
    assert failure.strike is not None
    shape = (blocks_of(3), lanes.LANES)
    held = {name: np.full(shape, 0.8) for name in STORES}
    outside = {"OUTSIDE_TEMPERATURE": np.full(shape, 19.0)}
    struck = failure.strike(drawn_scenario("floor-survey"), held | outside)
    assert struck
    for name, values in struck.items():
        assert name in (*STORES, "LIQUID")
        assert np.broadcast_shapes(np.shape(values), shape) == shape
        # A store may lose and warm up, and water get where it does not belong: nothing is won.
        if name in ("ICE", "RESERVOIR_WATER", "CHARGE"):
            assert np.all(values < held[name])
        else:
            assert np.all(values > 0.0)
