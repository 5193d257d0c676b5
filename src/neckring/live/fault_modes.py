"""What may be wrong without anybody having seen it: each fault in all its degrees.

They change the same rows as the failures a plan is held against; how far the water's flow and
pressures change is solved with the suit's own loop.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.outing.breakage import RESISTANCE_BY_COLD
from neckring.outing.loop_flow import water_loop
from neckring.outing.scenario import Scenario
from neckring.suit.water_loop import solve_flow
from neckring.units import Quantity

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SOUND = 0
DEGREES = 9
TEMPERATURES = np.array([2.0, 12.0, 24.0, 36.0])


@dataclass(frozen=True)
class Mode:
    """One fault.

    Attributes:
        code: As in `Suspicion`.
        words: In a sentence.
        first_action: What to look at or do first.
        least: Its slightest degree: area, tubes or speed left, or factor on the work.
        most: Its worst degree.
        shows: Quantities whose readings it moves, the clearest first.
        fault: Argument of `solve_flow`; empty when it leaves the water alone.
        needs: "water" or "air" when only the pack's own can have it.
    """

    code: str
    words: str
    first_action: str
    least: float
    most: float
    shows: tuple[str, ...]
    fault: str = ""
    needs: str = ""


WATER_SIGNS = ("water_flow", "pump_pressure", "garment_pressure", "water_outlet_temperature")
# Degrees are assumed: from what gauges just show to what a plan is held against and beyond.
MODES: tuple[Mode, ...] = (
    Mode("sound", "nothing is wrong", "", 1.0, 1.0, ()),
    Mode(
        "main_kinked",
        "the water hose between pack and garment is kinked",
        "Follow the hose from the pack with your hand and straighten it.",
        0.25,
        0.04,
        WATER_SIGNS,
        "main_kink",
        "water",
    ),
    Mode(
        "branch_kinked",
        "part of the garment's tubes is kinked",
        "Loosen the harness over chest and hips and ask which part of the body is warm.",
        0.75,
        0.25,
        WATER_SIGNS,
        "open_tubes",
        "water",
    ),
    Mode(
        "pump_weak",
        "the pump is weak or draws air",
        "Listen to the pump and look for bubbles in the return hose.",
        0.85,
        0.35,
        WATER_SIGNS,
        "pump_speed",
        "water",
    ),
    Mode(
        "fan_weak",
        "the fans blow less air",
        "Hold a hand to the outlet and look at inlet and filter.",
        0.8,
        0.35,
        ("helmet_co2", "inspired_co2"),
        "",
        "air",
    ),
    Mode(
        "battery_weak",
        "the battery holds less than it should",
        "Read the voltage at the pack and make the spare ready.",
        0.75,
        0.3,
        ("battery_voltage",),
    ),
    Mode(
        "harder_work",
        "the wearer works harder than planned",
        "Ask the wearer; slow the work or rest.",
        1.2,
        1.7,
        ("heart_rate", "helmet_co2", "water_outlet_temperature"),
    ),
)
CODES = tuple(mode.code for mode in MODES)
NUMBER = {code: number for number, code in enumerate(CODES)}


def degree(mode: IntArray, severity: FloatArray) -> FloatArray:
    """What is left (or the factor on the work) of members whose severity is 0, slight, to 1."""
    least = np.array([m.least for m in MODES])[mode]
    most = np.array([m.most for m in MODES])[mode]
    return np.asarray(least + severity * (most - least))


@dataclass(frozen=True)
class LoopTable:
    """Flow and pressures of one valve setting for every fault of the water and every degree.

    Attributes:
        flow: Over the sound loop's, shape (modes, DEGREES, temperatures).
        pump: Pressure at the pump [Pa], same shape.
        garment: Pressure across the garment [Pa], same shape.
        sound: Flow of the sound loop [m3/s], shape (temperatures,).
    """

    flow: FloatArray
    pump: FloatArray
    garment: FloatArray
    sound: FloatArray

    def at(
        self, table: FloatArray, mode: IntArray, severity: FloatArray, temperature: FloatArray
    ) -> FloatArray:
        """One table at members' faults, by straight lines; shape (members,)."""
        along = np.clip(severity, 0.0, 1.0) * (DEGREES - 1)
        low = np.minimum(along.astype(np.int64), DEGREES - 2)
        cold = np.clip(np.searchsorted(TEMPERATURES, temperature) - 1, 0, len(TEMPERATURES) - 2)
        step = TEMPERATURES[cold + 1] - TEMPERATURES[cold]
        warm = np.clip((temperature - TEMPERATURES[cold]) / step, 0.0, 1.0)
        part = along - low
        first = (1.0 - part) * table[mode, low, cold] + part * table[mode, low + 1, cold]
        then = (1.0 - part) * table[mode, low, cold + 1] + part * table[mode, low + 1, cold + 1]
        return np.asarray((1.0 - warm) * first + warm * then)


def loop_table(scenario: Scenario, valve: Quantity | None) -> LoopTable:
    """The table of a suit, as written, at one valve setting.

    Args:
        scenario: One member.
        valve: Opening; fully open when None.
    """
    loop = water_loop(scenario)
    opening = float(scenario.of(valve, 1.0)[0])
    tubes = scenario.suit.garment.tubes.count
    shape = (len(MODES), DEGREES, len(TEMPERATURES))
    flow, pump, garment = (np.empty(shape) for _ in range(3))
    severity = np.linspace(0.0, 1.0, DEGREES)
    for number, mode in enumerate(MODES):
        left = degree(np.full(DEGREES, number), severity)
        fault = {}
        if mode.fault:
            fault[mode.fault] = (left * (tubes if mode.fault == "open_tubes" else 1.0))[:, None]
        found = solve_flow(loop, TEMPERATURES, opening, **fault)
        flow[number], pump[number], garment[number] = (
            np.broadcast_to(np.asarray(part), shape[1:])
            for part in (found.flow, found.pump_pressure, found.garment_pressure)
        )
    sound = flow[SOUND, 0].copy()
    ratio = np.where(sound > 0.0, flow / np.maximum(sound, 1e-12), 1.0)
    return LoopTable(ratio, pump, garment, sound)


def rows_under(
    rows: dict[str, FloatArray],
    own: dict[str, FloatArray],
    work: FloatArray,
    mode: IntArray,
    severity: FloatArray,
    flow_share: FloatArray,
) -> dict[str, FloatArray]:
    """Spell rows of members with what each carries: work, hidden values, fault.

    Args:
        rows: Of the spell, shape (members,) each.
        own: Factors of pump and fan on their data sheet.
        work: Logarithm of the work factor.
        mode: Which fault.
        severity: 0, slight, to 1.
        flow_share: Water flow left by the fault.
    """
    left = degree(mode, severity)
    harder = np.where(mode == NUMBER["harder_work"], left, 1.0)
    fans = np.where(mode == NUMBER["fan_weak"], left, 1.0) * own["air_flow_factor"]
    resisting = np.where(mode == NUMBER["battery_weak"], RESISTANCE_BY_COLD, 1.0)
    own_water = rows["WATER_FROM_PACK"] * rows["WATER_ON"]
    water = np.where(own_water > 0.0, own["water_flow_factor"] * flow_share, 1.0)
    own_air = rows.get("AIR_NEEDS_BATTERY", np.zeros(1))
    air = np.where(own_air > 0.0, fans, 1.0)
    changed = {
        "METABOLIC_RATE": rows["METABOLIC_RATE"] * np.exp(work) * harder,
        "BATTERY_RESISTANCE": rows["BATTERY_RESISTANCE"] * resisting,
        "AIR_HELMET": rows["AIR_HELMET"] * air,
        "AIR_SUIT": rows["AIR_SUIT"] * air,
    }
    flows = [name for name in rows if name in ("FLOW_0", "FLOW_1", "FLOW_2", "FLOW_3")]
    return rows | changed | {name: rows[name] * water for name in flows}


def charge_left(mode: IntArray, severity: FloatArray) -> FloatArray:
    """Factor of a weak battery on its capacity."""
    return np.where(mode == NUMBER["battery_weak"], degree(mode, severity), 1.0)
