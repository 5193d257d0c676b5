"""Invented plans to draw and test with: plausible curves, made by simple lumped equations.

Nothing here is a result of the model, nor a published value; it only has the right shapes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np

from neckring.outing.findings import (
    Advice,
    Assumption,
    LimitFinding,
    LoadFinding,
    Plan,
    Remaining,
    Residuals,
    SpellFinding,
)

STEP = 10.0

# activity, place, minutes, watts, cooling, air, helmet on, valve
SPELLS = (
    ("dress", "bay", 9, 150, "facility", "none", False, 0.5),
    ("stand", "bay", 4, 125, "facility", "facility", True, 0.6),
    ("stand", "bay", 3, 125, "pack", "pack", True, 1.0),
    ("walk", "yard", 5, 330, "pack", "pack", True, 0.7),
    ("walk", "floor", 9, 345, "pack", "pack", True, 0.7),
    ("kneel and sample", "floor", 8, 240, "pack", "pack", True, 0.7),
    ("walk", "bench", 6, 470, "pack", "pack", True, 1.0),
    ("hammer", "bench", 8, 400, "pack", "pack", True, 1.0),
    ("carry", "floor", 6, 380, "pack", "pack", True, 1.0),
    ("walk", "yard", 7, 345, "pack", "pack", True, 1.0),
    ("stand", "bay", 3, 130, "facility", "facility", True, 0.6),
    ("undress", "bay", 7, 160, "facility", "none", False, 0.5),
)

LIMITS = (
    # quantity, direction, value, sustained, action, source, verified
    ("core_temperature", "above", 38.5, 0, "stop now", "ISO 9886:2004, 8.1 (from memory)", False),
    ("core_temperature", "above", 38.0, 0, "turn back", "ISO 9886:2004, 8.1 (from memory)", False),
    ("core_rise", "above", 1.0, 0, "caution", "Station medic's judgement", True),
    ("heart_rate", "above", 152 / 60, 60, "turn back", "185 - 0.65 age, ISO 9886 (mem)", False),
    ("heart_rate", "above", 168 / 60, 60, "stop now", "Station safety board, minute 4", True),
    ("lowest_skin_temperature", "below", 15.0, 0, "turn back", "ISO 9886:2004 (mem)", False),
    ("heat_storage", "above", 5700.0, 0, "turn back", "ISO 7933 duration limit (mem)", False),
    ("body_water_loss", "above", 0.02, 0, "caution", "Station medic's judgement", True),
    ("inspired_co2", "above", 1500.0, 60, "caution", "Station safety board, minute 4", True),
    ("inspired_co2", "above", 2600.0, 60, "turn back", "Station safety board, minute 4", True),
    ("helmet_co2", "above", 3000.0, 60, "stop now", "Station safety board, minute 4", True),
    ("inspired_o2", "below", 18000.0, 0, "stop now", "Station safety board, minute 4", True),
    ("fog_margin", "below", 0.0, 120, "caution", "Water condenses at its dew point", True),
    ("battery_charge", "below", 0.25, 0, "turn back", "A quarter kept, minute 4", True),
    ("water_flow", "below", 0.5 / 6e4, 30, "caution", "Maker's sheet of the garment", True),
)


@dataclass(frozen=True)
class Recipe:
    """What makes one invented run differ from another."""

    work: float = 1.0
    air: float = 1.0
    ice: float = 1.2
    conductance: float = 8.0


def invented_plan(recipe: Recipe = Recipe(), **changes: Any) -> Plan:
    """Make the invented run that crosses one limit: the heart rate, in the way back."""
    trace, spells = _trace(recipe), _spells(recipe)
    limits = tuple(_finding(trace, *row) for row in LIMITS)
    crossed = sorted((f for f in limits if f.reached is not None), key=lambda f: f.reached or 0)
    decisive = [f for f in crossed if f.action != "caution"]
    duration = float(trace["time"][-1])
    longest = min([f.reached or 0.0 for f in decisive], default=duration)
    plan = Plan(
        station="Tarn Quarry",
        invented=True,
        run="bench-survey",
        title="Bench survey, hammer samples and carry them down",
        wearer="W3",
        suit="Dipper",
        starts=datetime(2026, 5, 14, 9, 30),
        duration=duration,
        verdict="shorten" if decisive else "go",
        sentence="",
        binding_limit=decisive[0] if decisive else _nearest(trace, limits),
        longest=longest,
        limits=limits,
        spells=spells,
        trace=trace,
        residuals=Residuals(energy=3.1e-13, water=-8.4e-15, co2=1.2e-12, o2=-2.0e-13),
        remaining=_remaining(trace),
        advice=_advice(trace),
        load=LOAD,
        assumptions=ASSUMPTIONS,
        cautions=CAUTIONS,
    )
    sentence = (
        f"Turn for the bay so that the helmet is off by minute {int(longest // 60)}: after that "
        "the heart rate stays above the signed limit."
        if decisive
        else "The run can go as written; no limit that turns the wearer back is reached."
    )
    return replace(replace(plan, sentence=sentence), **changes)


def go_plan() -> Plan:
    """Make the easy run: the same spells at lighter work, all limits kept."""
    return invented_plan(
        Recipe(work=0.72, conductance=5.0),
        run="floor-walk",
        title="Walk round the level quarry floor",
        wearer="W1",
    )


def no_go_plan() -> Plan:
    """Make the run that must not start: a throttled fan and no ice."""
    plan = invented_plan(
        Recipe(work=1.15, air=0.42, ice=0.0), run="throttled-fan", title="Fan on half its speed"
    )
    return replace(
        plan,
        verdict="no-go",
        sentence="Do not start: inspired carbon dioxide passes the signed limit on the way out.",
    )


def _edges(recipe: Recipe) -> list[tuple[float, float]]:
    ends = np.cumsum([row[2] * 60.0 for row in SPELLS])
    return [(float(end - row[2] * 60), float(end)) for end, row in zip(ends, SPELLS, strict=True)]


def _spells(recipe: Recipe) -> tuple[SpellFinding, ...]:
    return tuple(
        SpellFinding(
            activity=row[0], place=row[1], begins=begins, ends=ends,
            metabolic_rate=row[3] * recipe.work,
            metabolic_rate_low=row[3] * recipe.work * 0.86,
            metabolic_rate_high=row[3] * recipe.work * 1.17,
            cooling=row[4], air=row[5], helmet_on=row[6], valve=row[7],
        )
        for row, (begins, ends) in zip(SPELLS, _edges(recipe), strict=True)
    )  # fmt: skip


def _lag(target: np.ndarray, first: float, constant: float) -> np.ndarray:
    values, now = np.empty_like(target), first
    for i, wanted in enumerate(target):
        values[i] = now
        now += (wanted - now) * (1 - np.exp(-STEP / constant))
    return values


def _trace(recipe: Recipe) -> dict[str, np.ndarray]:
    time = np.arange(0.0, sum(row[2] for row in SPELLS) * 60 + STEP / 2, STEP)
    ends = np.array([end for _, end in _edges(recipe)])
    index = np.minimum(np.searchsorted(ends, time, side="right"), len(SPELLS) - 1)

    def column(position: int) -> np.ndarray:
        return np.array([SPELLS[i][position] for i in index])

    work = column(3).astype(float) * recipe.work
    pack, helmet = column(4) == "pack", column(6).astype(bool)
    rate = _lag(work, 110.0, 60.0)
    flow = (0.35 + 1.15 * column(7).astype(float)) / 6e4
    trace = {"time": time, "metabolic_rate": work, "water_flow": flow}
    trace |= _body_and_water(rate, flow, pack, recipe)
    trace |= _helmet(rate, helmet, column(5), recipe)
    trace |= _battery(pack, flow)
    return trace


def _body_and_water(
    rate: np.ndarray, flow: np.ndarray, pack: np.ndarray, recipe: Recipe
) -> dict[str, np.ndarray]:
    count = len(rate)
    names = ("reservoir_temperature", "water_inlet_temperature", "water_outlet_temperature",
             "garment_heat", "ice_mass", "heat_storage", "mean_skin_temperature",
             "lowest_skin_temperature", "core_temperature", "core_rise", "sweat_rate",
             "body_water_loss", "skin_wettedness", "evaporation", "heart_rate")  # fmt: skip
    out = {name: np.empty(count) for name in names}
    core, skin, store, tank, ice, lost = 36.92, 33.4, 0.0, 3.0, recipe.ice, 0.0
    for i in range(count):
        inlet = (tank if pack[i] else 14.0) + 0.6
        capacity = flow[i] * 1000 * 4186
        heat = capacity * (1 - np.exp(-recipe.conductance / capacity)) * (skin - inlet) * 0.72
        sweat = max(0.3, 1.2 * (core - 36.95) + 0.10 * (skin - 33.6)) * 9.0 / 6e4
        evaporation = 18 + min(70.0, sweat * 2.43e6 * 0.3)
        net = rate[i] * 0.93 - heat - evaporation - 30
        values = (tank, inlet, inlet + heat / capacity, heat, ice, store, skin,
                  skin - 4.2 - heat / 90, core, core - 36.92, sweat, lost / 78.0,
                  min(1.0, 0.06 + sweat * 6e4 / 16), evaporation,
                  (64 + 0.25 * (rate[i] - 100) + 30 * (core - 36.92)) / 60)  # fmt: skip
        for name, value in zip(names, values, strict=True):
            out[name][i] = value
        store += net * STEP / 78.0
        core += (36.92 + store / 5200 - core) * STEP / 420
        skin += (33.0 + net / 160 - heat / 300 + store / 9000 - skin) * STEP / 240
        lost += (sweat + 1.3e-5) * STEP
        gain = (heat + 22 if pack[i] else 12) * STEP
        melted = min(ice, gain / 333_550)
        ice -= melted
        tank += (gain - melted * 333_550) / ((6.4 - ice) * 4186)
    return out


def _helmet(
    rate: np.ndarray, helmet: np.ndarray, source: np.ndarray, recipe: Recipe
) -> dict[str, np.ndarray]:
    pack_flow = 170.0 * recipe.air
    litres = np.where(source == "pack", pack_flow, np.where(source == "facility", 230.0, 0.0))
    produced = rate / 20_900 * 0.87  # litres of CO2 a second
    washed = np.maximum(litres, 60.0) / 60
    helmet_co2 = _lag(np.where(helmet, 42 + 101_325 * produced / washed * 1.25, 42), 42.0, 25.0)
    inspired = _lag(np.where(helmet, helmet_co2 * 1.12 + 230, 42), 42.0, 20.0)
    humidity = _lag(np.where(helmet, 0.50 + rate / 2300, 0.45), 0.45, 150.0)
    return {
        "helmet_co2": helmet_co2,
        "inspired_co2": inspired,
        "inspired_o2": 20_800 - inspired * 1.1,
        "helmet_humidity": humidity,
        "helmet_temperature": 20 + _lag(np.where(helmet, 4 + rate / 90, 0), 0.0, 200.0),
        "suit_air_temperature": 24 + _lag(rate / 70, 1.0, 300.0),
        "fog_margin": 9.0 - 35.0 * (humidity - 0.45),
        "air_flow": litres / 6e4,
    }


def _battery(pack: np.ndarray, flow: np.ndarray) -> dict[str, np.ndarray]:
    draw = np.where(pack, 14 + flow * 6e4 * 6, 0.0)
    charge = 1 - np.cumsum(draw * STEP) / (42.0 * 3600) * 0.95
    charge = np.concatenate([[1.0], charge[:-1]])
    voltage = 10.9 + 1.55 * charge + 0.15 * np.exp(-(1 - charge) * 25) - draw * 0.008
    return {"battery_charge": charge, "battery_voltage": voltage}


def _finding(
    trace: dict[str, np.ndarray],
    quantity: str,
    direction: Any,
    value: float,
    sustained: float,
    action: Any,
    source: str,
    verified: bool,
) -> LimitFinding:
    values = trace[quantity]
    beyond = values > value if direction == "above" else values < value
    reached, since = None, None
    for time, is_beyond in zip(trace["time"], beyond, strict=True):
        since = (time if since is None else since) if is_beyond else None
        if since is not None and time - since >= sustained:
            reached = float(since)
            break
    worst = float(values.max() if direction == "above" else values.min())
    return LimitFinding(
        quantity, direction, value, float(sustained), action, reached, worst, source, verified,
        "M1, medic" if "medic" in source else "B2, safety board", "2026-05-02",
    )  # fmt: skip


def _nearest(trace: dict[str, np.ndarray], limits: tuple[LimitFinding, ...]) -> LimitFinding:
    def room(limit: LimitFinding) -> float:
        first = float(trace[limit.quantity][0])
        return abs(limit.value - limit.worst) / abs(limit.value - first)

    return min((limit for limit in limits if limit.action != "caution"), key=room)


def _remaining(trace: dict[str, np.ndarray]) -> Remaining:
    ice = trace["ice_mass"]
    gone = np.flatnonzero(ice <= 1e-9)
    return Remaining(
        ice=None if ice[0] == 0 else float(ice[-1] / ice[0]),
        water_heat=0.61 if ice[0] else 0.18,
        battery=float(trace["battery_charge"][-1]),
        ice_gone=float(trace["time"][gone[0]]) if len(gone) and ice[0] else None,
        battery_dead=None,
    )


def _advice(trace: dict[str, np.ndarray]) -> Advice:
    loss = float(trace["body_water_loss"][-1]) * 78
    return Advice(
        body_water_loss=loss,
        drink_before=0.4,
        drink_after=1.5 * loss,
        expected_mass_change=-loss,
        sentences=(
            f"Drink 0.4 L in the two hours before dressing and {1.5 * loss:.1f} L over the hours "
            "after the run.",
            f"Weigh nude and dry before and after; expect {loss:.1f} kg less if nothing is drunk.",
        ),
    )


LOAD = LoadFinding(
    carried_mass=31.5, fraction=0.404, centre_of_gravity_shift=0.071,
    strap_pressure_low=9_000.0, strap_pressure_high=21_000.0,
    remark="Above the third of body mass at which most load guides ask for care; rest often.",
)  # fmt: skip

ASSUMPTIONS = tuple(
    Assumption(*row)  # type: ignore[arg-type]
    for row in (
        ("body", "17 segments, scaled to 1.79 m and 78 kg", "Takahashi 2021, table 1", "published"),
        ("body", "Heart rate rises 33 /min for each kelvin", "as quoted", "from memory"),
        ("work", "Walking with load, level and slope", "Looney 2022, equation 1", "published"),
        ("work", "Stiffness raises the metabolic rate by 12 %", "assumed", "assumed"),
        ("cooling garment", "Conductance 22 W/K, spread 10 to 35", "station file", "station"),
        ("cooling garment", "Share of water that bypasses the skin 0", "assumed", "assumed"),
        ("water loop", "Friction through transition", "Churchill 1977, equation 18", "published"),
        ("water loop", "Quick disconnect, Kv 0.9 m3/h", "Bench test, 2026-03-11", "measured"),
        ("reservoir", "Latent heat of ice 333.55 kJ/kg", "CRC Handbook", "from memory"),
        ("reservoir", "Contact of ice and water 40 W/K per kg", "assumed", "assumed"),
        ("helmet air", "Share of air that reaches the face 0.72", "assumed", "assumed"),
        ("helmet air", "Leak past the neck seal 3 L/min", "station file", "station"),
        ("battery", "Capacity at 10 °C is 0.95 of the rated", "Planning factor", "from memory"),
        ("battery", "Internal resistance 0.11 ohm", "Bench test, 2026-03-11", "measured"),
        ("load", "Strap contact area 0.008 to 0.014 m2", "assumed", "assumed"),
    )
)

CAUTIONS = (
    "neckring estimates; it does not clear anyone to enter a suit.",
    "A medical professional and the local safety and ethics bodies set and sign the limits; local "
    "codes stand above this page.",
    "Any symptom stops the run, whatever the numbers say.",
    "Heart rate, not core temperature, ended most published heavy-suit trials.",
    "Training suits can hurt: heat illness, carbon dioxide, falls, cold water, batteries.",
)
