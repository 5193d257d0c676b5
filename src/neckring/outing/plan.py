"""Planning one run: simulate it, hold it against the signed limits, say what follows."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.constants import ICE_LATENT_HEAT, WATER_SPECIFIC_HEAT
from neckring.outing.advice import drink_and_weigh, load_on
from neckring.outing.assumptions import assumptions
from neckring.outing.balance import contents, residuals
from neckring.outing.batch import Batch, Schedule, advance, row
from neckring.outing.cautions import CAUTIONS
from neckring.outing.findings import (
    LimitFinding,
    Plan,
    Remaining,
    Residuals,
    SpellFinding,
    Verdict,
)
from neckring.outing.limits import SEVERITY, binding, hold, verdict
from neckring.outing.scenario import Scenario
from neckring.outing.spells import STEP, Leg, carried_mass, legs, schedule
from neckring.outing.trace import columns, recorded
from neckring.outing.wearing import dressed
from neckring.station.limits import LimitSheet
from neckring.suit.moist_air import pressure_at_altitude

FloatArray = NDArray[np.float64]

# Skin temperature to which the reservoir's heat is counted [degC]; assumed, comfortable skin.
SKIN_REFERENCE = 33.0
# The ice counts as gone when this share of it is left.
ICE_GONE = 0.01


@dataclass(frozen=True)
class Simulated:
    """One member's run as computed.

    Attributes:
        batch: At the end of the run.
        trace: Column name to values, shape (samples,).
        alive: Whether the battery gave power, 1 or 0, shape (samples,).
        closure: How well the balances close.
        ice: At the start [kg].
        ready: The spells as computed.
    """

    batch: Batch
    trace: dict[str, FloatArray]
    alive: FloatArray
    closure: Residuals
    ice: float
    ready: list[Leg]


def station_pressure(scenario: Scenario) -> FloatArray:
    """Air pressure at the station [Pa], shape (members,)."""
    pressure = pressure_at_altitude(scenario.of(scenario.station.altitude))
    return np.asarray(pressure) * np.ones(scenario.members)


def coldest(ready: list[Leg]) -> FloatArray:
    """Lowest air temperature among the spells [degC], shape (members,)."""
    return np.asarray(np.min([leg.around.air for leg in ready], axis=0))


def simulate(scenario: Scenario, step: float = STEP) -> Simulated:
    """Compute a run for one member.

    Args:
        scenario: With one member.
        step: Longest step [s].
    """
    pressure = station_pressure(scenario)
    ready = legs(scenario)
    batch = dressed(scenario, pressure, coldest(ready))
    plan_schedule: Schedule = schedule(scenario, ready, pressure, step)
    before = contents(batch)
    records = advance(batch, plan_schedule, every=1)
    mass = scenario.of(scenario.wearer.mass)
    table = columns(
        records,
        mass,
        pressure,
        row(batch.whole, "CORE_BASELINE", scenario.members),
        carried_mass(scenario) / mass,
    )
    trace = {name: values[:, 0] for name, values in table.items()}
    trace["metabolic_rate"] = metabolic_column(ready, trace["time"])
    return Simulated(
        batch,
        trace,
        recorded(records, "ALIVE")[:, 0],
        residuals(before, contents(batch)),
        float(scenario.of(scenario.suit.reservoir.ice)[0]),
        ready,
    )


def metabolic_column(ready: list[Leg], time: FloatArray) -> FloatArray:
    """Planned metabolic rate [W] at each sample."""
    ends = np.cumsum([leg.duration for leg in ready])
    rates = np.array([float(np.asarray(leg.rate.likely)[0]) for leg in ready])
    place = np.searchsorted(ends, time - 1e-6)
    return np.asarray(rates[np.minimum(place, len(rates) - 1)])


def spell_findings(ready: list[Leg]) -> tuple[SpellFinding, ...]:
    """The spells as computed, with their times and the spread of their work."""
    found = []
    begins = 0.0
    for leg in ready:
        spell = leg.spell
        low, likely, high = (
            float(np.asarray(value).reshape(-1)[0])
            for value in (leg.rate.low, leg.rate.likely, leg.rate.high)
        )
        found.append(
            SpellFinding(
                activity=spell.spell,
                place=spell.ends_at,
                begins=begins,
                ends=begins + leg.duration,
                metabolic_rate=likely,
                metabolic_rate_low=low,
                metabolic_rate_high=high,
                cooling=spell.cooling,
                air=spell.air,
                helmet_on=spell.helmet_on,
                valve=spell.valve.nominal if spell.valve else 1.0,
            )
        )
        begins += leg.duration
    return tuple(found)


def reservoir_heat(water: float, temperature: float, ice: float) -> float:
    """Heat a reservoir can still take up to comfortable skin [J]."""
    warming = WATER_SPECIFIC_HEAT * max(SKIN_REFERENCE - temperature, 0.0) * water
    melting = ice * (ICE_LATENT_HEAT + WATER_SPECIFIC_HEAT * SKIN_REFERENCE)
    return warming + melting


def remaining(scenario: Scenario, done: Simulated) -> Remaining:
    """What is left of ice, cold and charge at the end."""
    reservoir = scenario.suit.reservoir
    trace, batch = done.trace, done.batch
    at_start = reservoir_heat(
        reservoir.water.nominal, reservoir.start_temperature.nominal, done.ice
    )
    water, warm, ice = (
        float(row(batch.whole, name, 1)[0]) for name in ("RESERVOIR_WATER", "RESERVOIR", "ICE")
    )
    gone = np.flatnonzero((trace["ice_mass"] <= ICE_GONE * done.ice) & (done.ice > 0.0))
    dead = np.flatnonzero(done.alive < 0.5)
    return Remaining(
        ice=ice / done.ice if done.ice > 0.0 else None,
        water_heat=reservoir_heat(water, warm, ice) / at_start if at_start > 0.0 else 0.0,
        battery=float(trace["battery_charge"][-1]),
        ice_gone=float(trace["time"][gone[0]]) if len(gone) else None,
        battery_dead=float(trace["time"][dead[0]]) if len(dead) else None,
    )


def outing_begins(ready: list[Leg]) -> float:
    """When the wearer first leaves the place of dressing [s]; the run's end when never."""
    begins = 0.0
    for leg in ready:
        if leg.spell.ends_at != ready[0].spell.starts_at:
            return begins
        begins += leg.duration
    return begins


def make_plan(scenario: Scenario, sheet: LimitSheet) -> Plan:
    """Plan one run.

    Args:
        scenario: Who, in what, where, doing what; one member.
        sheet: The signed limits.

    Returns:
        All that a safety board asks about it.
    """
    done = simulate(scenario)
    age = scenario.wearer.age.nominal
    found = tuple(hold(limit, age, done.trace) for limit in sheet.limits)
    duration = float(sum(leg.duration for leg in done.ready))
    decided = verdict(found, outing_begins(done.ready))
    binds = binding(found, done.trace)
    ending = [f.reached for f in found if f.reached is not None and SEVERITY[f.action] > 0]
    mass = scenario.wearer.mass.nominal
    loss = float(done.trace["body_water_loss"][-1]) * mass
    left = float(row(done.batch.whole, "DRIPPED", 1)[0])
    left += float(row(done.batch.state[:, :17], "LIQUID", 1).sum())
    run = scenario.run
    return Plan(
        station=scenario.station.name,
        invented=bool(scenario.station.invented),
        run=run.code,
        title=run.title,
        wearer=scenario.wearer.code,
        suit=scenario.suit.name,
        starts=run.begins,
        duration=duration,
        verdict=decided,
        sentence=sentence(decided, binds, cautions_met(found), duration),
        binding_limit=binds,
        longest=min(ending, default=duration),
        limits=found,
        spells=spell_findings(done.ready),
        trace=done.trace,
        residuals=done.closure,
        remaining=remaining(scenario, done),
        advice=drink_and_weigh(scenario, loss, left),
        load=load_on(scenario),
        assumptions=assumptions(scenario, done.ready),
        cautions=CAUTIONS,
    )


def cautions_met(found: tuple[LimitFinding, ...]) -> int:
    """How many cautions are crossed."""
    return sum(f.reached is not None and SEVERITY[f.action] == 0 for f in found)


def sentence(decided: Verdict, binds: LimitFinding | None, cautions: int, duration: float) -> str:
    """The verdict in one plain sentence."""
    whole = f"the whole {int(duration // 60.0)} min"
    if binds is None:
        return f"No limit is set for {whole}."
    if binds.reached is None:
        noted = f" {cautions} caution{'s are' if cautions > 1 else ' is'} met." if cautions else ""
        return (
            f"If nothing fails, nothing that ends the run is reached in {whole}; nearest comes "
            f"{in_words(binds)}.{noted}"
        )
    # Whole minutes are cut, not rounded: a limit is never said to come later than it does.
    when = f"{int(binds.reached // 60.0)} min after first dressing"
    if decided == "no-go":
        return f"{sentence_start(in_words(binds))} is reached {when}, before the outing begins."
    spare = math.ceil((duration - binds.reached) / 60.0)
    return (
        f"{sentence_start(in_words(binds))} is reached {when}, {spare} min before the planned "
        "end: shorten the run so that the wearer is out of the suit before then."
    )


def in_words(limit: LimitFinding) -> str:
    """A limit's quantity and action in words."""
    words = limit.quantity.replace("_", " ").replace("co2", "CO2").replace("o2", "O2")
    return f"the limit for {words} ({limit.action})"


def sentence_start(words: str) -> str:
    """The words with a capital at their start, the rest as it is."""
    return words[:1].upper() + words[1:]
