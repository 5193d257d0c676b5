"""Ways out: how fast relief is, from every state that may be met."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from small_kit import DRESS, KIT, dress, listed_from, two

from neckring.procedure.listing import end_of
from neckring.procedure.model import holds
from neckring.procedure.reference import quickest
from neckring.procedure.way_out import Company, Goal, WaysOut


def test_a_wearer_with_gloves_on_waits_for_a_tender() -> None:
    ways = WaysOut(dress().ground)
    state = list(end_of(dress().procedure))
    state[dress().ground.numbers["A.gloves"]] = 1
    # Given gloves, which let nobody lift their own helmet,
    (alone,) = ways.fastest(Goal.OUT, Company.ALONE, [tuple(state)])
    (helped,) = ways.fastest(Goal.OUT, Company.TENDER, [tuple(state)])
    # then only a tender helps, in as long as lifting takes.
    assert alone is None
    assert helped is not None
    assert helped.acts == ("lift_helmet on A by tender",)
    assert (helped.duration.low, helped.duration.likely, helped.duration.high) == (3, 5, 9)


def test_the_fastest_way_is_that_of_a_search_for_the_quickest() -> None:
    # Given every state on the way to being dressed,
    ways = WaysOut(two().ground)
    model = ways.model
    for goal in (Goal.FRESH_AIR, Goal.OUT):
        for company in Company:
            acts = ways.acts(company)
            alone = type(model)(model.name, model.variables, acts)
            relief = ways.ground.kit.relief
            text = relief.out if goal is Goal.OUT else relief.fresh_air
            wanted = ways.ground.condition(text, "A")
            for state in list(ways.diagrams.states(ways.met & ways.inside))[::97]:
                (way,) = ways.fastest(goal, company, [state])
                # then Dijkstra in plain Python finds none that is faster.
                variables = tuple(
                    type(v)(v.name, v.states, at)
                    for v, at in zip(model.variables, state, strict=True)
                )
                found = quickest(
                    type(model)(model.name, variables, acts),
                    wanted,
                    lambda act: act.duration.likely,
                )
                assert (way is None) == (found is None)
                if way is not None and found is not None:
                    assert way.duration.likely == found[0]
                    assert holds(wanted, state) == (not way.acts)
        assert alone.actions


def test_more_company_is_never_slower_and_leaves_nobody_more() -> None:
    ways = WaysOut(two().ground)
    alone, partner = (ways.way_out(Goal.OUT, c) for c in (Company.ALONE, Company.PARTNER))
    tender = ways.way_out(Goal.OUT, Company.TENDER)
    assert alone is not None
    assert partner is not None
    assert tender is not None
    for helped in (partner, tender):
        assert helped.without <= alone.without
        for seconds in range(40):
            assert helped.share_within(seconds) >= alone.share_within(seconds)


def test_shares_and_counts_add_up() -> None:
    ways = WaysOut(dress().ground)
    way = ways.way_out(Goal.OUT, Company.TENDER)
    assert way is not None
    for counted in (way.steps, way.likely_seconds, way.longest_seconds):
        assert sum(count for _, count in counted) + way.without == way.states
    assert way.without == 0
    assert way.share_within(9.0) == 1.0
    assert way.quantile(1.0) == 9.0
    assert way.worst is not None
    assert [act.split(" ")[0] for act in way.worst[1]] == ["lift_helmet"]


def test_states_without_a_way_out_are_told_with_an_example() -> None:
    # Given a helmet that only the wearer lifts, and gloves,
    kit = KIT.replace("lift the helmet off, by: [self, tender]", "lift the helmet off, by: [self]")
    way = WaysOut(listed_from(DRESS, kit).ground).way_out(Goal.OUT, Company.TENDER)
    # then whoever wears gloves inside has no way out at all.
    assert way is not None
    assert way.without > 0
    assert way.example is not None
    assert way.quantile(1.0) == float("inf")
    numbers = listed_from(DRESS, kit).ground.numbers
    assert way.example[numbers["A.gloves"]] == 1


def test_a_kit_that_says_nothing_of_cooling_has_no_way_to_it() -> None:
    assert WaysOut(dress().ground).way_out(Goal.COOLING, Company.TENDER) is None
