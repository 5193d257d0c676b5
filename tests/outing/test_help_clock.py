"""The help clock, worked by hand: who comes how far, how fast, and what they do then."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenarios import DEMO, DIPPER, exactly, of_value, one_spell, revalidated, scenario_of
from test_way_home import LINE, station_of, walk, way

from neckring.outing.failures import FAILURES, Failure
from neckring.outing.help_clock import (
    Spot,
    can_carry,
    ends_in_cooling,
    help_clock,
    people_to_carry,
    tender_comes,
)
from neckring.outing.scenario import Scenario
from neckring.outing.watching import AIR, HEAT
from neckring.station.help import Hands, Help
from neckring.station.run import Spell
from neckring.station.site import Station

BY_CODE = {failure.code: failure for failure in FAILURES}
# Round figures, so that every sum below can be done in the head.
TIMES = {
    "notice_air": "10 s",
    "notice": "60 s",
    "open_helmet_by_other": "5 s",
    "free_helmet": "100 s",
    "connect": "40 s",
    "free_umbilical": "30 s",
    "undress": "200 s",
    "undress_lying": "300 s",
}
FLOOR = one_spell("rest", place="floor", cooling="pack", air="pack", valve="50 %")
BAY = one_spell("rest", place="bay", cooling="facility", air="facility")


def help_of(**texts: str) -> Help:
    """A suit's times; TIMES where nothing else is said."""
    written: dict[str, Any] = {
        key: exactly(text, "time") for key, text in (TIMES | texts).items() if key != "carry_speed"
    }
    return Help(**written, carry_speed=exactly(texts.get("carry_speed", "0.5 m/s"), "speed"))


def hands_of(tender: str = "bay", tenders: int = 2, partner: str | None = None) -> Hands:
    return Hands(
        tender=tender,
        tenders=tenders,
        tender_speed=exactly("1 m/s", "speed"),
        call_every=exactly("120 s", "time"),
        partner=partner,
    )


def scenario(
    station: Station | None = None, times: Help | None = None, hands: Hands | None = None
) -> Scenario:
    """Floor-survey's wearer, who walks at 0.5 m/s, 490 m from the bay when on the floor."""
    own = scenario_of("floor-survey")
    outing = (BAY, walk("bay", "yard", "0.5 m/s"), FLOOR)
    run = own.run.model_copy(update={"outing": outing, "help": hands or hands_of()})
    suit = own.suit.model_copy(update={"help": times or help_of()})
    return replace(own, station=station or station_of(*LINE), suit=suit, run=run)


def clock(scenario: Scenario, code: str, spell: Spell = FLOOR, share: float = 0.5) -> list[float]:
    """Seconds until fresh air, and until cooling or out of the suit."""
    return help_clock(scenario, BY_CODE[code], Spot(spell, share))[:, 0].tolist()


# Air


def test_air_comes_by_whoever_is_there_first():
    # The tender runs 490 m at 1 m/s; the wearer walks them at 0.5 m/s.
    assert clock(scenario(), "fans")[AIR] == pytest.approx(10 + 490 + 5)
    # Beside the wearer, a tender only opens the helmet; so does a partner.
    assert clock(scenario(hands=hands_of("along")), "fans")[AIR] == pytest.approx(10 + 5)
    assert clock(scenario(hands=hands_of(partner="W2")), "fans")[AIR] == pytest.approx(10 + 5)
    # A tender in the yard is 450 m away.
    assert clock(scenario(hands=hands_of("yard")), "fans")[AIR] == pytest.approx(10 + 450 + 5)


def test_own_hands_open_the_helmet_unless_it_is_jammed_or_the_wearer_lies():
    able = scenario(times=help_of(open_helmet="20 s"))
    assert clock(able, "fans")[AIR] == pytest.approx(10 + 20)
    assert clock(able, "fall")[AIR] == pytest.approx(10 + 490 + 5)
    assert clock(able, "helmet")[AIR] == pytest.approx(60 + 490 + 100 + 5)


def test_a_partner_in_the_same_case_is_helped_first():
    both = scenario(hands=hands_of("along", partner="W2"))
    assert clock(both, "fans")[AIR] == pytest.approx(10 + 5)
    assert clock(both, "both-fans")[AIR] == pytest.approx(10 + 5 + 5)


def test_unheard_waits_for_a_missed_call_unless_a_tender_walks_along():
    far, beside = scenario(), scenario(hands=hands_of("along"))
    assert clock(far, "down-unheard")[AIR] == pytest.approx(60 + 120 + 490 + 5)
    assert clock(beside, "down-unheard")[AIR] == pytest.approx(60 + 5)
    assert clock(far, "down")[AIR] == pytest.approx(60 + 490 + 5)
    # A partner who hears nothing either does not know.
    deaf = scenario(hands=hands_of(partner="W2"))
    assert clock(deaf, "down-unheard")[AIR] == pytest.approx(60 + 120 + 490 + 5)


def test_at_the_bay_those_who_dress_are_there():
    posted = scenario(hands=hands_of("floor"))
    assert clock(posted, "facility", BAY)[AIR] == pytest.approx(10 + 5)
    assert clock(posted, "fans", FLOOR)[AIR] == pytest.approx(10 + 5)


# Cooling, or out of the suit


def test_heat_is_relieved_by_walking_home_to_the_facility():
    # 490 m at 0.5 m/s, then the umbilical: quicker than undressing.
    assert clock(scenario(), "pump")[HEAT] == pytest.approx(60 + 980 + 40)
    bare = station_of(*LINE).model_copy(update={"facility": None})
    assert clock(scenario(bare), "pump")[HEAT] == pytest.approx(60 + 980 + 200)
    assert ends_in_cooling(scenario(), BY_CODE["pump"])
    assert not ends_in_cooling(scenario(bare), BY_CODE["pump"])


def test_a_slow_wearer_takes_twice_as_long():
    assert clock(scenario(), "slow")[HEAT] == pytest.approx(60 + 1960 + 40)


def test_on_the_way_only_the_rest_is_walked():
    out = walk("yard", "floor", "0.5 m/s")
    assert clock(scenario(), "pump", out, 0.2)[HEAT] == pytest.approx(60 + (90 + 40) / 0.5 + 40)
    # The tender, too, only has to come so far.
    assert clock(scenario(), "fall", out, 0.2)[AIR] == pytest.approx(10 + 130 + 5)


def test_what_the_facility_cannot_end_ends_out_of_the_suit():
    assert clock(scenario(), "facility", BAY)[HEAT] == pytest.approx(10 + 200)
    assert clock(scenario(), "facility-warm", BAY)[HEAT] == pytest.approx(60 + 200)
    assert clock(scenario(), "umbilical", BAY)[HEAT] == pytest.approx(60 + 30 + 200)
    assert clock(scenario(), "helmet", BAY)[HEAT] == pytest.approx(60 + 100 + 200)


def test_where_nobody_can_come_help_never_comes():
    cut_off = station_of(way("bay", "yard", "40 m"))
    assert clock(scenario(cut_off), "fans") == [np.inf, np.inf]
    assert clock(scenario(cut_off), "down") == [np.inf, np.inf]
    # A tender beside the wearer still opens the helmet, and undresses who lies there.
    beside = scenario(cut_off, hands=hands_of("along"))
    assert clock(beside, "fans") == [pytest.approx(10 + 5), np.inf]
    assert clock(beside, "down") == pytest.approx([60 + 5, 60 + 300])


# Carrying


def with_people(mass: float, tenders: int, lift: str = "20 kg") -> Scenario:
    """A wearer who weighs so much with the suit on, and so many tenders beside them."""
    own = scenario(hands=hands_of("along", tenders), times=help_of(undress_lying="1900 s"))
    worn = own.suit.mass.nominal + own.suit.garment.water.nominal
    wearer = own.wearer.model_copy(update={"mass": of_value(mass - worn, "mass")})
    policy = own.station.policy.model_copy(update={"lift_limit": exactly(lift, "mass")})
    return replace(own, wearer=wearer, station=own.station.model_copy(update={"policy": policy}))


@pytest.mark.parametrize(
    ("mass", "people"), [(59.9, 3), (60.1, 4), (79.9, 4), (80.1, 5), (100.1, 6)]
)
def test_so_many_must_lift(mass, people):
    assert people_to_carry(with_people(mass, 2)) == people
    # Never more than four lift together, however many there are.
    assert can_carry(with_people(mass, people)) == (people <= 4)
    assert not can_carry(with_people(mass, people - 1))
    assert can_carry(with_people(mass, 20)) == (people <= 4)


def test_who_lies_is_carried_home_only_by_enough_people():
    # Carried 490 m at 0.5 m/s and undressed there, or undressed on the spot in 1900 s.
    assert clock(with_people(75.0, 4), "down")[HEAT] == pytest.approx(60 + 980 + 200)
    assert clock(with_people(75.0, 3), "down")[HEAT] == pytest.approx(60 + 1900)
    assert clock(with_people(85.0, 20), "down")[HEAT] == pytest.approx(60 + 1900)


def test_who_lies_does_not_walk():
    assert clock(scenario(hands=hands_of("along")), "down")[HEAT] == pytest.approx(60 + 300)
    assert tender_comes(scenario(), Spot(FLOOR, 0.5)) == pytest.approx([490.0])


# Laws

KEYS = tuple(TIMES)
SECONDS = st.fixed_dictionaries({key: st.integers(10, 600) for key in KEYS})
SPOTS = st.tuples(st.sampled_from((FLOOR, BAY, walk("yard", "floor"))), st.floats(0.0, 1.0))
HELPERS = st.builds(
    hands_of,
    st.sampled_from(("bay", "yard", "floor", "bench", "along")),
    st.integers(1, 6),
    st.sampled_from((None, "W2")),
)
FAILED = st.sampled_from(FAILURES)


def both(scenario: Scenario, failure: Failure, spot: tuple[Spell, float]) -> np.ndarray:
    return help_clock(scenario, failure, Spot(*spot))[:, 0]


@settings(max_examples=150)
@given(SECONDS, st.booleans(), st.sampled_from(KEYS), st.integers(1, 600), HELPERS, SPOTS, FAILED)
def test_longer_acts_never_shorten_help(seconds, own, key, more, hands, spot, failure):
    texts = {name: f"{value} s" for name, value in seconds.items()}
    texts |= {"open_helmet": "25 s"} if own else {}
    longer = texts | {key: f"{seconds[key] + more} s"}
    before, after = (
        both(scenario(times=help_of(**t), hands=hands), failure, spot) for t in (texts, longer)
    )
    assert np.all(after >= before)


@given(HELPERS, SPOTS, FAILED, st.integers(1, 20))
def test_more_hands_never_make_help_slower(hands, spot, failure, more):
    lifted = with_people(75.0, 2)
    for base in (scenario(), lifted):
        changed = [
            hands,
            hands.model_copy(update={"tenders": min(20, hands.tenders + more)}),
            hands.model_copy(update={"partner": "W2"}),
            hands.model_copy(update={"tender": "along"}),
        ]
        before, *after = (
            both(replace(base, run=base.run.model_copy(update={"help": h})), failure, spot)
            for h in changed
        )
        assert all(np.all(clocks <= before) for clocks in after)


@given(HELPERS, SPOTS, FAILED, st.floats(0.1, 1.0))
def test_slower_helpers_are_never_quicker(hands, spot, failure, share):
    slower = hands.model_copy(update={"tender_speed": of_value(share, "speed")})
    before, after = (both(scenario(hands=h), failure, spot) for h in (hands, slower))
    assert np.all(after >= before)


def test_the_demos_times_are_drawn_within_their_spread():
    # Given a suit whose helmet the wearer opens in 10 to 30 s, noticed in 5 to 20 s,
    assert revalidated(DIPPER.help_times) == DIPPER.help_times
    own = scenario_of("bench-climb")
    spell = next(s for s in own.run.outing if s.air == "pack")
    found = help_clock(own, BY_CODE["fans"], Spot(spell, 0.0))
    # then as written a tender beside the wearer is quicker: 12.5 + 10 s against 12.5 + 20 s.
    assert found[AIR, 0] == pytest.approx(22.5)
    assert DEMO.runs["bench-climb"].hands.tender == "along"
