"""The way home: the shortest one, the shorter side of a path, at the speed of this wearer."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scenarios import DEMO, exactly, of_value, one_spell, outing_of, scenario_of, varying

from neckring.outing.scenario import Scenario
from neckring.outing.way_home import (
    USUAL_SPEED,
    home_of,
    home_speed,
    path_length,
    paths_between,
    route_from,
    staying,
    stretch_lengths,
    walking_home,
)
from neckring.station.run import Spell
from neckring.station.site import Path, Station

PLACES = ("bay", "yard", "floor", "bench")


def way(start: str, end: str, length: str, rise: str = "0 m") -> Path:
    return Path.model_validate(
        {
            "from": start,
            "to": end,
            "length": exactly(length, "length"),
            "rise": exactly(rise, "length"),
            "terrain": "dirt_road",
        }
    )


def station_of(*paths: Path) -> Station:
    """The demo's places, joined otherwise."""
    return DEMO.station.model_copy(update={"paths": paths})


LINE = (way("bay", "yard", "40 m"), way("yard", "floor", "450 m"), way("floor", "bench", "300 m"))


def walk(start: str, end: str, speed: str = "0.6 m/s") -> Spell:
    return Spell.model_validate(
        {"spell": "walk", "from": start, "to": end, "speed": exactly(speed, "speed")}
    )


# The shortest way


def test_the_shortest_of_several_ways_is_taken():
    # Given a straight path of 800 m to the bench and three that make 790 m,
    straight = way("bench", "bay", "800 m")
    around = paths_between(station_of(straight, *LINE), "bench", "bay")
    assert around == (("bench", "floor"), ("floor", "yard"), ("yard", "bay"))
    # when the straight one is 11 m shorter, it is the way.
    shorter = way("bench", "bay", "789 m")
    assert paths_between(station_of(*LINE, shorter), "bench", "bay") == (("bench", "bay"),)


def test_the_way_from_a_place_to_itself_is_none_at_all():
    assert paths_between(station_of(*LINE), "yard", "yard") == ()


def test_without_paths_no_way_leads_home():
    station = station_of(way("floor", "bench", "300 m"))
    assert paths_between(station, "bench", "bay") is None
    assert route_from(station, one_spell("rest", place="bench"), 0.5, "bay") is None
    assert route_from(station, walk("floor", "bench"), 0.5, "bay") is None


PAIRS = tuple(itertools.combinations(PLACES, 2))


@given(st.dictionaries(st.sampled_from(PAIRS), st.integers(1, 900), max_size=6))
def test_no_other_way_is_shorter(lengths):
    station = station_of(*(way(a, b, f"{long} m") for (a, b), long in lengths.items()))
    both = lengths | {(b, a): long for (a, b), long in lengths.items()}
    for start, end in itertools.permutations(PLACES, 2):
        # All ways that touch no place twice, walked through one by one.
        between = [p for p in PLACES if p not in (start, end)]
        chains = [
            (start, *inside, end)
            for count in range(len(between) + 1)
            for inside in itertools.permutations(between, count)
        ]
        walked = [
            sum(both[leg] for leg in itertools.pairwise(chain))
            for chain in chains
            if all(leg in both for leg in itertools.pairwise(chain))
        ]
        found = paths_between(station, start, end)
        if not walked:
            assert found is None
        else:
            assert found is not None
            assert path_length(station, found) == pytest.approx(min(walked))
            assert [found[0][0], found[-1][1]] == [start, end]
            assert all(a[1] == b[0] for a, b in itertools.pairwise(found))


# From the middle of a path

RING = station_of(*LINE, way("floor", "bay", "300 m"))
"""From the yard to the floor: 40 m home behind, 300 m home ahead."""


def left(station: Station, spell: Spell, share: float, place: str = "bay") -> float:
    """Metres from a point of a spell to a place."""
    scenario = outing_of(one_spell("rest", place="bay"), spell, station=station)
    route = route_from(station, spell, share, place)
    return math.inf if route is None else float(stretch_lengths(scenario, route, share).sum())


def test_the_wearer_turns_round_or_goes_on_whichever_is_shorter():
    out = walk("yard", "floor")
    # By hand: back 450 s + 40, ahead 450 (1 - s) + 300; alike at s = 710/900.
    assert left(RING, out, 0.2) == pytest.approx(90.0 + 40.0)
    assert left(RING, out, 0.9) == pytest.approx(45.0 + 300.0)
    before, after = (route_from(RING, out, 710.0 / 900.0 + d, "bay") for d in (-1e-6, 1e-6))
    assert before is not None
    assert after is not None
    assert (before.ahead, before.begun, before.rest) == (
        False,
        ("floor", "yard"),
        (("yard", "bay"),),
    )
    assert (after.ahead, after.begun, after.rest) == (True, ("yard", "floor"), (("floor", "bay"),))


def test_a_path_whose_one_end_is_cut_off_is_walked_to_the_other():
    only_back = station_of(way("bay", "yard", "40 m"), way("yard", "floor", "450 m"))
    assert left(only_back, walk("yard", "floor"), 1.0) == pytest.approx(490.0)


@given(
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.sampled_from((("yard", "floor"), ("floor", "bench"))),
)
def test_a_step_along_a_path_changes_the_way_by_no_more_than_a_step(one, other, ends):
    for start, end in (ends, ends[::-1]):
        spell = walk(start, end)
        long = next(p.length.nominal for p in LINE if {p.from_place, p.to_place} == {start, end})
        moved = abs(left(RING, spell, one) - left(RING, spell, other))
        assert moved <= long * abs(one - other) + 1e-9
        # Both ends agree with somebody who stays there.
        for share, place in ((0.0, start), (1.0, end)):
            rest = one_spell("rest", place=place)
            assert left(RING, spell, share) == pytest.approx(left(RING, rest, 0.5))


# How fast


def test_the_way_home_is_walked_as_slowly_as_the_slowest_planned_walk():
    # Given walks at 0.8 and 0.5 m/s and a ride at 5 m/s,
    ride = walk("bay", "yard", "5 m/s").model_copy(update={"spell": "ride"})
    carry = walk("floor", "yard", "0.5 m/s").model_copy(
        update={"spell": "carry", "load": of_value(5.0, "mass")}
    )
    scenario = outing_of(ride, walk("yard", "floor", "0.8 m/s"), carry)
    assert home_speed(scenario) == pytest.approx([0.5])
    # when nobody walks, the usual speed counts.
    assert home_speed(outing_of(ride)) == pytest.approx([USUAL_SPEED])


def test_a_suit_that_slows_more_is_walked_home_in_more_slowly():
    # The suit's factor is 1.10..1.30, its middle 1.2; planned at 0.6 m/s.
    scenario = scenario_of("yard-walk")
    slowed = varying(scenario, scenario.suit.speed_factor, np.array([1.1, 1.2, 1.3]))
    assert home_speed(slowed) == pytest.approx([0.6 * 1.2 / 1.1, 0.6, 0.6 * 1.2 / 1.3])


def test_uphill_is_uphill_on_the_way_home_too():
    scenario = outing_of(
        one_spell("rest", place="bay"), station=station_of(way("floor", "bench", "300 m", "38 m"))
    )
    before = one_spell("rest", place="bench", cooling="pack", air="pack", valve="30 %")
    down, up = (
        walking_home(scenario, before, ends, np.array([0.5]))
        for ends in (("bench", "floor"), ("floor", "bench"))
    )
    assert up.rate.likely[0] > down.rate.likely[0] + 50.0
    # Water, air and helmet stay as they were.
    kept = (down.spell.cooling, down.spell.air, down.spell.helmet, down.spell.valve)
    assert kept == (before.cooling, before.air, before.helmet, before.valve)
    assert down.spell.ends_at == "floor"


def test_no_way_is_made_up_where_no_path_leads():
    with pytest.raises(ValueError, match="no path leads from bay to bench"):
        walking_home(scenario_of("yard-walk"), one_spell(), ("bay", "bench"), np.array([0.5]))


def test_who_stays_stays_where_they_are_or_at_the_bay():
    scenario: Scenario = scenario_of("floor-survey")
    before = walk("yard", "floor").model_copy(update={"helmet": "on", "air": "pack"})
    lying, waiting = staying(scenario, before, "rest"), staying(scenario, before, "stand", "bay")
    assert lying.spell.places == ("yard", "floor")
    assert waiting.spell.places == (home_of(scenario),)
    assert (waiting.spell.air, waiting.spell.helmet_on) == ("pack", True)
    assert lying.rate.likely[0] < 200.0
