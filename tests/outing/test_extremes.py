"""Things a station may say that once upset the model, each as small as it could be made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scenarios import (
    DEMO,
    DIPPER,
    exactly,
    of_value,
    one_spell,
    outing_of,
    revalidated,
    with_place,
)

from neckring.outing.plan import simulate
from neckring.outing.scenario import Scenario
from neckring.station.suit import Suit


def with_air(suit: Suit, **texts: str) -> Suit:
    """The suit with some figures of its air path written anew."""
    kinds = {
        "face_share": "fraction",
        "helmet_share": "fraction",
        "internal_mixing": "volume_flow",
        "helmet_volume": "volume",
        "suit_volume": "volume",
        "leak": "volume_flow",
        "dead_space": "volume",
    }
    read = {name: exactly(text, kinds[name]) for name, text in texts.items()}
    return suit.model_copy(update={"air": revalidated(suit.air.model_copy(update=read))})


def in_chains(*chains: tuple[str, ...]) -> Suit:
    """The demo suit with its garment's regions behind one another."""
    garment = revalidated(DIPPER.garment.model_copy(update={"circuits": chains}))
    return DIPPER.model_copy(update={"garment": garment})


def worked(suit: Suit = DIPPER, **keys: str) -> Scenario:
    """An hour's work in the yard, water and air from the pack."""
    written = {"cooling": "pack", "air": "pack", "for": "1 h", **keys}
    return outing_of(one_spell(**written), suit=suit)


@pytest.mark.parametrize("minutes", ["10 min", "4 h"])
def test_one_long_chain_stays_between_inlet_and_skin(minutes: str) -> None:
    # Given seven regions in one chain, through paired limbs and single trunk,
    chain = ("forearms", "back", "chest", "lower_legs", "upper_arms", "thighs", "pelvis")
    trace = simulate(worked(in_chains(chain), **{"for": minutes})).trace
    # then water is never warmer than the skin nor colder than what enters.
    assert trace["water_outlet_temperature"].max() < 40.0
    assert trace["water_outlet_temperature"].min() > 0.0
    assert trace["mean_skin_temperature"].min() > 20.0


def test_chain_through_head_and_hands_is_stable() -> None:
    names = ("forearms", "neck", "back", "head", "feet", "hands", "chest", "lower_legs")
    even = {name: of_value(1.0 / 8.0, "fraction") for name in names}
    shares = type(DIPPER.garment.shares)(**even)
    garment = DIPPER.garment.model_copy(update={"shares": shares, "circuits": (names,)})
    suit = DIPPER.model_copy(update={"garment": revalidated(garment)})
    trace = simulate(worked(suit)).trace
    assert trace["water_outlet_temperature"].max() < 40.0
    assert np.ptp(trace["core_temperature"]) < 3.0


@pytest.mark.parametrize("mixing", ["0 L/min", "150 L/min"])
@pytest.mark.parametrize("share", ["0 %", "70 %"])
@pytest.mark.parametrize("part", ["face_share", "helmet_share"])
def test_air_that_misses_the_face_is_a_number_no_greater_than_the_air(
    part: str, share: str, mixing: str
) -> None:
    suit = with_air(DIPPER, internal_mixing=mixing, **{part: share})
    trace = simulate(worked(suit, **{"for": "10 min"})).trace
    assert np.isfinite(trace["inspired_co2"]).all()
    assert trace["inspired_co2"].min() > 0.0
    assert trace["inspired_co2"].max() < 101_325.0


@pytest.mark.parametrize("volume", ["0.3 L", "1 L", "3 L"])
def test_a_large_dead_space_never_makes_the_breath_fresher(volume: str) -> None:
    # Given more dead space than a breath of quiet standing,
    small, large = (
        simulate(outing_of(one_spell("stand", air="pack", **{"for": "20 min"}), suit=suit)).trace
        for suit in (with_air(DIPPER, dead_space="0.1 L"), with_air(DIPPER, dead_space=volume))
    )
    # then the wearer breathes more carbon dioxide, not less.
    assert large["inspired_co2"][-1] > small["inspired_co2"][-1]


def test_a_small_sealed_helmet_high_up_keeps_its_temperature() -> None:
    # Given the smallest helmet on a high pass, hard work and no air,
    suit = with_air(DIPPER, helmet_volume="2 L", suit_volume="2 L", leak="0.1 L/min")
    station = DEMO.station.model_copy(update={"altitude": exactly("6000 m", "length")})
    spell = one_spell(metabolic_rate="700 W", air="none", **{"for": "20 min"})
    trace = simulate(replace(outing_of(spell, suit=suit), station=station)).trace
    # then its air swings between nothing but skin, breath and weather.
    assert trace["helmet_temperature"].min() > 10.0
    assert trace["helmet_temperature"].max() < 45.0
    assert np.abs(np.diff(trace["helmet_temperature"])[5:]).max() < 1.0


def test_gas_exchange_ends_with_the_oxygen() -> None:
    # Given a helmet that leaks next to nothing and an hour without air,
    suit = with_air(DIPPER, helmet_volume="2 L", leak="0.1 L/min")
    trace = simulate(outing_of(one_spell(air="none", **{"for": "1 h"}), suit=suit)).trace
    # then nobody gives off more carbon dioxide than they took up oxygen.
    assert trace["inspired_o2"].min() >= 0.0
    assert trace["helmet_co2"].max() < 0.25 * 101_325.0


def test_water_freezes_at_nought() -> None:
    # Given a pack left in hard frost through thin walls, first water alone, then with ice,
    station = with_place(DEMO.station, "bay", air_temperature="-20 degC")
    thin = {"wall_conductance": exactly("5 W/K", "conductance")}
    for ice in ("0 kg", "1.2 kg"):
        held = DIPPER.reservoir.model_copy(update={**thin, "ice": exactly(ice, "mass")})
        suit = DIPPER.model_copy(update={"reservoir": revalidated(held)})
        stay = one_spell("stand", place="bay", air="pack", **{"for": "30 min"})
        trace = simulate(outing_of(stay, suit=suit, station=station)).trace
        # then ice forms instead of water colder than ice.
        assert trace["ice_mass"][-1] > exactly(ice, "mass").nominal
        assert trace["reservoir_temperature"].min() > -1.0


@pytest.mark.parametrize("temperature", ["-40 degC", "60 degC"])
@pytest.mark.parametrize("humidity", ["0 %", "100 %"])
def test_any_weather_gives_a_plan(temperature: str, humidity: str) -> None:
    station = with_place(
        DEMO.station, "yard", air_temperature=temperature, relative_humidity=humidity
    )
    for helmet in ("on", "off"):
        trace = simulate(replace(worked(helmet=helmet), station=station)).trace
        assert all(np.isfinite(values).all() for values in trace.values())


def least_wall(name: str) -> Suit:
    """The demo suit with one region's wall as light as the schema takes."""
    region = getattr(DIPPER.wall, name)
    rule = type(region).model_fields["heat_capacity"].metadata[0]
    lightest = of_value(rule.bounds[0], "heat_capacity")
    region = region.model_copy(update={"heat_capacity": lightest})
    loose = DIPPER.inner.model_copy(
        update={"direct_conductance": exactly("0 W/m2/K", "surface_conductance")}
    )
    wall = DIPPER.wall.model_copy(update={name: region})
    return DIPPER.model_copy(update={"wall": wall, "inner": loose})


@pytest.mark.parametrize("name", ["helmet", "trunk", "arms", "hands", "legs", "feet"])
def test_the_lightest_wall_stays_at_rest(name: str) -> None:
    trace = simulate(worked(least_wall(name))).trace
    assert np.isfinite(trace["suit_air_temperature"]).all()
    assert trace["suit_air_temperature"].min() > 10.0
    assert trace["suit_air_temperature"].max() < 40.0


@pytest.mark.parametrize("end", [0, 1])
def test_the_thinnest_and_thickest_air_films(end: int) -> None:
    rule = type(DIPPER.inner).model_fields["air_gap_conductance"].metadata[0]
    film = of_value(rule.bounds[end], "surface_conductance")
    inner = DIPPER.inner.model_copy(update={"air_gap_conductance": film})
    suit = DIPPER.model_copy(update={"inner": inner})
    station = with_place(DEMO.station, "yard", air_temperature="60 degC", relative_humidity="100 %")
    trace = simulate(replace(worked(suit), station=station)).trace
    assert np.abs(np.diff(trace["suit_air_temperature"])[30:]).max() < 1.0
    assert np.abs(np.diff(trace["mean_skin_temperature"])[30:]).max() < 0.2
