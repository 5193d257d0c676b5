"""The water loop of a scenario: its parts with their quantities drawn, and the flow they give.

Many spells share a valve setting and the flow is costly to solve, so each is solved once a
scenario and forgotten with it.
"""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from neckring.constants import WATER_DENSITY
from neckring.outing.scenario import Scenario
from neckring.suit.water_loop import WaterLoop, flow_cubic
from neckring.units import Quantity

FloatArray = NDArray[np.float64]

_SOLVED: WeakKeyDictionary[Scenario, dict[tuple[object, ...], FloatArray]] = WeakKeyDictionary()


def water_loop(scenario: Scenario) -> WaterLoop:
    """The suit's water loop with its quantities drawn."""
    loop, tubes, of = scenario.suit.water_loop, scenario.suit.garment.tubes, scenario.of
    return WaterLoop(
        pump_kind=loop.pump.kind,
        pump_shut_off_pressure=of(loop.pump.shut_off_pressure),
        pump_free_flow=of(loop.pump.free_flow),
        pump_power=of(loop.pump.power),
        main_bore=of(loop.main.bore),
        main_length=of(loop.main.length),
        fittings=loop.fittings,
        disconnect_count=loop.disconnects.count,
        disconnect_kv=of(loop.disconnects.kv),
        valve_kv=of(loop.valve.kv),
        valve_law=loop.valve.law,
        valve_rangeability=loop.valve.rangeability,
        ambient_conductance=of(loop.ambient_conductance),
        tube_count=tubes.count,
        tube_length=of(tubes.length),
        tube_bore=of(tubes.bore),
    )


def flow_rows(scenario: Scenario, valve: Quantity | None, **fault: float) -> dict[str, FloatArray]:
    """Spell rows of the garment flow from the pack, each shape (members,).

    Args:
        scenario: With its suit.
        valve: Opening; fully open when None.
        **fault: As in `neckring.suit.water_loop.solve_flow`.
    """
    solved = _SOLVED.setdefault(scenario, {})
    key = (valve, *sorted(fault.items()))
    if key not in solved:
        cubic = flow_cubic(water_loop(scenario), scenario.of(valve, 1.0), **fault)
        solved[key] = cubic * WATER_DENSITY * np.ones(scenario.members)
    return {f"FLOW_{power}": values for power, values in enumerate(solved[key])}
