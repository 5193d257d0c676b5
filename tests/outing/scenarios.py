"""Every scenario that a station's files could describe, for the laws that hold in all of them.

Each quantity of wearer, suit, places and facility is drawn over the whole range its schema accepts,
its ends included; the demo station's own value comes first, so that hypothesis shrinks a failing
scenario to the demo with the few values that matter.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

import neckring.station
from neckring.outing.batch import Batch, Schedule
from neckring.outing.plan import coldest, station_pressure
from neckring.outing.scenario import Scenario
from neckring.outing.spells import leg, legs, schedule
from neckring.outing.wearing import dressed
from neckring.station.loading import load_station
from neckring.station.measured import Measured
from neckring.station.run import ACTIVITIES, Spell
from neckring.station.site import Station
from neckring.station.suit import SEGMENTS, Fan, Pump, Shares, Suit
from neckring.station.wearer import Wearer
from neckring.station.written import Written
from neckring.units import Quantity, parse_quantity

FloatArray = NDArray[np.float64]
Model = TypeVar("Model", bound=Written)

DEMO = load_station(Path(neckring.station.__file__).parent / "demo")
DIPPER = DEMO.suits["dipper"]
WIDE = 50.0
"""Ranges wider than so many times their lower end are drawn by ratio."""

OF_THE_FITTER = ("measures", "fit")
"""Parts that no outing computes with; drawn one by one they would be no body's."""


def exactly(text: str, dimension: str) -> Quantity:
    """A quantity as written in a station's file."""
    return parse_quantity(text, dimension)


def of_value(value: float, dimension: str) -> Quantity:
    """An exact quantity of a value [SI]."""
    return Quantity(value, value, value, "exact", f"{value!r} in SI", dimension)


def measured_rule(model: type[Written], name: str) -> Measured | None:
    """The schema's rule of a quantity field; None for other fields."""
    rules = [rule for rule in model.model_fields[name].metadata if isinstance(rule, Measured)]
    return rules[0] if rules else None


def quantities(rule: Measured, own: Quantity | None = None) -> st.SearchStrategy[Quantity]:
    """Quantities over the rule's whole range, ends included; `own` first."""
    low, high = rule.bounds
    if low > 0.0 and high / low > WIDE:
        inside = st.floats(0.0, 1.0).map(lambda share: low * (high / low) ** share)
    else:
        inside = st.floats(low, high)
    values = st.one_of(inside, st.sampled_from((low, high)))
    drawn = values.map(lambda value: of_value(min(max(value, low), high), rule.dimension))
    return drawn if own is None else st.one_of(st.just(own), drawn)


@st.composite
def varied(draw: st.DrawFn, own: Model) -> Model:
    """The same part of a station with every quantity in it drawn anew."""
    model = type(own)
    changed: dict[str, Any] = {}
    for name in model.model_fields:
        value = getattr(own, name)
        rule = measured_rule(model, name)
        if rule is not None and value is not None:
            changed[name] = draw(quantities(rule, value))
        elif isinstance(value, Shares):
            changed[name] = draw(shares())
        elif isinstance(value, Written) and name not in OF_THE_FITTER:
            changed[name] = draw(varied(value))
    made = own.model_copy(update=changed)
    return made if isinstance(made, Suit | Station) else _agreeing(made)


def _agreeing(made: Model) -> Model:
    """The part mended where two of its values contradict each other, then validated again."""
    if isinstance(made, Pump | Fan):
        least = made.shut_off_pressure.nominal * made.free_flow.nominal / 4.0
        power = of_value(max(made.power.nominal, least), "power")
        made = made.model_copy(update={"power": power})
    if hasattr(made, "cut_off_voltage"):
        highest = 0.95 * made.nominal_voltage.nominal
        cut_off = of_value(min(made.cut_off_voltage.nominal, highest), "voltage")
        made = made.model_copy(update={"cut_off_voltage": cut_off})
    if isinstance(made, Wearer) and made.maximum_heart_rate is not None:
        fastest = max(made.maximum_heart_rate.nominal, made.resting_heart_rate.nominal + 0.2)
        fast = of_value(fastest, "frequency")
        made = made.model_copy(update={"maximum_heart_rate": fast})
    return revalidated(made)


def revalidated(made: Model) -> Model:
    """The same model, held against its own rules again."""
    fields = {name: getattr(made, name) for name in type(made).model_fields}
    aliases = {name: field.alias or name for name, field in type(made).model_fields.items()}
    return type(made).model_validate({aliases[name]: value for name, value in fields.items()})


@st.composite
def shares(draw: st.DrawFn) -> Shares:
    """Shares of a garment over any segments; they add up to the whole."""
    covered = draw(st.lists(st.sampled_from(SEGMENTS), min_size=1, unique=True))
    parts = [draw(st.floats(0.05, 1.0)) for _ in covered]
    named = zip(covered, parts, strict=True)
    return Shares(**{name: of_value(part / sum(parts), "fraction") for name, part in named})


@st.composite
def circuits(draw: st.DrawFn, covered: Sequence[str]) -> str | tuple[tuple[str, ...], ...]:
    """Parallel, or the covered segments in any chains."""
    if draw(st.booleans()):
        return "parallel"
    ordered = draw(st.permutations(list(covered)))
    cuts = sorted(draw(st.sets(st.integers(1, max(1, len(ordered) - 1)))))
    ends = [0, *(cut for cut in cuts if cut < len(ordered)), len(ordered)]
    return tuple(tuple(ordered[a:b]) for a, b in itertools.pairwise(ends))


@st.composite
def suits(draw: st.DrawFn) -> Suit:
    """Any suit the schema accepts."""
    suit = draw(varied(draw(st.sampled_from(list(DEMO.suits.values())))))
    covered = [name for name in SEGMENTS if getattr(suit.garment.shares, name) is not None]
    garment = suit.garment.model_copy(update={"circuits": draw(circuits(covered))})
    reservoir = suit.reservoir
    if draw(st.booleans()):
        reservoir = reservoir.model_copy(update={"ice": exactly("0 kg", "mass")})
    return suit.model_copy(
        update={
            "garment": revalidated(garment),
            "reservoir": reservoir,
            "battery": revalidated(
                suit.battery.model_copy(
                    update={"chemistry": draw(st.sampled_from(("lithium_ion", "lead_acid")))}
                )
            ),
        }
    )


@st.composite
def wearers(draw: st.DrawFn) -> Wearer:
    """Any wearer the schema accepts."""
    wearer = draw(varied(draw(st.sampled_from(list(DEMO.wearers.values())))))
    return wearer.model_copy(update={"acclimatised": draw(st.booleans())})


@st.composite
def stations(draw: st.DrawFn) -> Station:
    """The demo station's places and facility in any weather, at any altitude."""
    own = DEMO.station
    places = {code: draw(varied(place)) for code, place in own.places.items()}
    rule = measured_rule(Station, "altitude")
    assert rule is not None
    assert own.facility is not None
    return own.model_copy(
        update={
            "places": places,
            "altitude": draw(quantities(rule, own.altitude)),
            "facility": draw(varied(own.facility)),
        }
    )


DURATIONS = st.sampled_from((600.0, 60.0, 1.0, 7.0, 3600.0)) | st.floats(1.0, 5400.0)


@st.composite
def spells(draw: st.DrawFn, station: Station) -> Spell:
    """One spell of any activity, with any supplies and valve, helmet on or off."""
    activity = draw(st.sampled_from(ACTIVITIES))
    keys: dict[str, Any] = {
        "spell": activity,
        "cooling": draw(st.sampled_from(("none", "facility", "pack"))),
        "air": draw(st.sampled_from(("none", "facility", "pack"))),
        "helmet": draw(st.sampled_from(("on", "off"))),
        "valve": draw(st.none() | st.sampled_from((0.0, 0.5, 1.0)).map(_valve)),
    }
    if activity == "work" or draw(st.integers(0, 3)) == 0:
        keys["metabolic_rate"] = of_value(draw(st.floats(50.0, 1800.0)), "power")
    if activity == "carry" or draw(st.integers(0, 3)) == 0:
        keys["load"] = of_value(draw(st.floats(0.0, 40.0)), "mass")
    if activity in ("walk", "carry", "ride") and (activity == "ride" or draw(st.booleans())):
        way = draw(st.sampled_from(station.paths))
        ends = draw(st.permutations((way.from_place, way.to_place)))
        speed = of_value(draw(st.floats(0.2, 1.5)), "speed")
        return Spell(**keys, **{"from": ends[0], "to": ends[1]}, speed=speed)
    keys["place"] = draw(st.sampled_from(list(station.places)))
    keys["for"] = of_value(draw(DURATIONS), "time")
    if activity in ("walk", "carry"):
        fastest, steepest = (3.0, 0.4) if "metabolic_rate" in keys else (1.5, 0.1)
        keys["speed"] = of_value(draw(st.floats(0.05, fastest)), "speed")
        keys["grade"] = of_value(draw(st.floats(-steepest, steepest)), "fraction")
    return Spell(**keys)


def _valve(opening: float) -> Quantity:
    return of_value(opening, "fraction")


@st.composite
def scenarios(draw: st.DrawFn) -> Scenario:
    """Any scenario: who, in what, where, doing what."""
    station = draw(stations())
    outing = draw(st.lists(spells(station), min_size=1, max_size=5))
    run = DEMO.runs["yard-walk"].model_copy(update={"outing": tuple(outing)})
    return within_schema(Scenario(station, draw(suits()), draw(wearers()), run))


def within_schema(scenario: Scenario) -> Scenario:
    """The scenario with work that nobody can do held to the most the schema takes, 1800 W."""
    eased = [
        spell.model_copy(update={"metabolic_rate": of_value(1800.0, "power")})
        if float(np.max(leg(scenario, spell).rate.likely)) > 1800.0
        else spell
        for spell in scenario.run.outing
    ]
    run = scenario.run.model_copy(update={"outing": tuple(eased)})
    return replace(scenario, run=run)


def scenario_of(code: str) -> Scenario:
    """One of the demo's runs."""
    run = DEMO.runs[code]
    return Scenario(DEMO.station, DEMO.suits[run.suit], DEMO.wearers[run.wearer], run)


def one_spell(activity: str = "work", **keys: Any) -> Spell:
    """A spell of 4 h in the yard unless said otherwise; keys as text, as in a file."""
    written = {"place": "yard", "for": "4 h", "helmet": "on", **keys}
    if activity == "work":
        written.setdefault("metabolic_rate", "300 W")
    return Spell.model_validate({"spell": activity, **written})


def outing_of(*outing: Spell, code: str = "floor-survey", **parts: Any) -> Scenario:
    """A demo run's people and suit on another outing; `parts` replaces parts of the scenario."""
    own = scenario_of(code)
    run = own.run.model_copy(update={"outing": outing})
    return replace(own, run=run, **parts)


def with_place(station: Station, code: str, **texts: str) -> Station:
    """The station with some readings of one place written anew."""
    dimensions = {
        "air_temperature": "temperature",
        "radiant_temperature": "temperature",
        "relative_humidity": "fraction",
        "wind": "speed",
        "sun": "irradiance",
    }
    read = {name: exactly(text, dimensions[name]) for name, text in texts.items()}
    place = station.places[code].model_copy(update=read)
    return station.model_copy(update={"places": {**station.places, code: place}})


def made_ready(scenario: Scenario, step: float = 10.0) -> tuple[Batch, Schedule]:
    """The batch at first dressing and the whole schedule."""
    pressure = station_pressure(scenario)
    ready = legs(scenario)
    batch = dressed(scenario, pressure, coldest(ready))
    return batch, schedule(scenario, ready, pressure, step)


def varying(scenario: Scenario, quantity: Quantity, values: FloatArray) -> Scenario:
    """One member for each value of one quantity, all else as written."""

    def draw(asked: Quantity) -> FloatArray:
        if asked is quantity:
            return values
        return np.full(len(values), asked.nominal)

    return replace(scenario, members=len(values), draw=draw)
