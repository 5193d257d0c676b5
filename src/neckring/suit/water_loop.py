"""The water loop: a pump's curve against lines, disconnects, a valve and the garment's tubes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from neckring.suit import water
from neckring.suit.fittings import ValveLaw, kink_loss, valve_kv, valve_pressure
from neckring.suit.pipes import hydraulic_power, line_pressure, minor_loss
from neckring.values import FloatArray, Values, plain, root_of_falling

PumpKind = Literal["centrifugal", "diaphragm"]

TUBE_ENDS = 1.5
"""[1], sharp entrance 0.5 and exit 1.0 of each garment tube (Crane TP-410, from memory)."""

FREEZING = 0.0


@dataclass(frozen=True)
class WaterLoop:
    """What drives and what resists the cooling water; every number may be an array of members.

    Attributes:
        pump_kind: Shape of the pump's curve.
        pump_shut_off_pressure: At no flow [Pa].
        pump_free_flow: At no pressure [m3/s].
        pump_power: Electrical [W].
        main_bore: Bore of supply and return [m].
        main_length: Of supply and return together [m].
        fittings: Sum of the loss coefficients in the mains [1].
        disconnect_count: Quick disconnects in the way [1].
        disconnect_kv: Each one's flow coefficient, flow at one bar [m3/s].
        valve_kv: Flow coefficient of the open valve [m3/s].
        valve_law: How the valve's flow coefficient follows its travel.
        valve_rangeability: Of an equal-percentage valve [1].
        ambient_conductance: From mains and manifolds to the air [W/K].
        tube_count: Garment tubes side by side [1].
        tube_length: Of one tube [m].
        tube_bore: [m]
    """

    pump_kind: PumpKind
    pump_shut_off_pressure: Values
    pump_free_flow: Values
    pump_power: Values
    main_bore: Values
    main_length: Values
    fittings: Values
    disconnect_count: Values
    disconnect_kv: Values
    valve_kv: Values
    valve_law: ValveLaw
    valve_rangeability: Values
    ambient_conductance: Values
    tube_count: Values
    tube_length: Values
    tube_bore: Values


class LoopFlow(NamedTuple):
    """Where pump and loop agree.

    Attributes:
        flow: Through the garment [m3/s].
        pump_flow: Through the pump, more than `flow` by what a bypass takes [m3/s].
        pump_pressure: Rise across the pump [Pa].
        garment_pressure: Drop across the garment's tubes [Pa].
        main_pressure: Drop in lines, fittings, kink and disconnects [Pa].
        valve_pressure: Drop in the valve [Pa].
        hydraulic_power: That the pump gives to the water [W].
    """

    flow: Values
    pump_flow: Values
    pump_pressure: Values
    garment_pressure: Values
    main_pressure: Values
    valve_pressure: Values
    hydraulic_power: Values


def pump_pressure(
    kind: PumpKind,
    shut_off_pressure: Values,
    free_flow: Values,
    flow: Values,
    speed: Values = 1.0,
) -> Values:
    """Pressure rise of a pump.

    Args:
        kind: "centrifugal" (falls with the square of flow) or "diaphragm" (falls in a line).
        shut_off_pressure: At no flow and full speed [Pa].
        free_flow: At no pressure and full speed [m3/s].
        flow: [m3/s]
        speed: Share of full speed [1], above 0.

    Returns:
        [Pa], negative beyond the free flow.

    Raises:
        ValueError: Unknown kind.

    Source: centrifugal, quadratic curve with the affinity laws (Crane TP-410, example 7-33);
        diaphragm, straight line to the stall pressure (assumed).
    """
    if kind == "centrifugal":
        return shut_off_pressure * (speed**2 - (flow / free_flow) ** 2)
    if kind == "diaphragm":
        return shut_off_pressure * (1.0 - flow / (speed * free_flow))
    raise ValueError(f"pump kind is {kind!r}; accepted: 'centrifugal', 'diaphragm'")


def solve_flow(
    loop: WaterLoop,
    temperature: Values,
    valve_opening: Values = 1.0,
    main_kink: Values = 1.0,
    open_tubes: Values | None = None,
    pump_speed: Values = 1.0,
    bypass_kv: Values = 0.0,
) -> LoopFlow:
    """Find the flow at which the pump's rise is what the loop needs.

    Args:
        loop: Fields of any shapes that broadcast together with the other arguments.
        temperature: Of the water [degC]; taken as 0 when below.
        valve_opening: Travel of the valve [1], 0 shut.
        main_kink: Open area of a kinked main over its full area [1].
        open_tubes: Garment tubes that carry water; all of them when None.
        pump_speed: Share of the pump's full speed [1]; a weak or airy pump is below 1.
        bypass_kv: Flow coefficient of a leak from supply to return at the pump [m3/s].

    Returns:
        The operating point. A valve that is shut, a main that is closed or a pump that stands
        gives a garment flow of exactly 0.

    Raises:
        ValueError: Opening or kink outside 0 to 1, or water above 100 degC.
    """
    tubes = loop.tube_count if open_tubes is None else open_tubes
    runs = (np.asarray(valve_opening) > 0) & (np.asarray(main_kink) > 0)
    runs = runs & (np.asarray(tubes) > 0) & (np.asarray(pump_speed) > 0)
    case = _Case(
        loop,
        np.maximum(temperature, FREEZING),
        np.where(runs, valve_opening, 1.0),
        np.where(runs, main_kink, 1.0),
        np.where(runs, tubes, loop.tube_count),
        np.where(np.asarray(pump_speed) > 0, pump_speed, 1.0),
        bypass_kv,
    )
    flow = root_of_falling(case.excess, 0.0, loop.pump_free_flow * case.speed)
    return _operating_point(case, flow, runs, np.asarray(pump_speed) > 0)


class _Case(NamedTuple):
    loop: WaterLoop
    temperature: Values
    opening: Values
    kink: Values
    tubes: Values
    speed: Values
    bypass_kv: Values

    def excess(self, flow: FloatArray) -> FloatArray:
        """What the pump gives more than the loop needs at a garment flow; falls with flow."""
        needed = self.main(flow) + self.garment(flow) + self.valve(flow)
        return np.asarray(self.pump(flow + self.bypass(needed)) - needed, dtype=np.float64)

    def pump(self, flow: Values) -> Values:
        loop = self.loop
        return pump_pressure(
            loop.pump_kind, loop.pump_shut_off_pressure, loop.pump_free_flow, flow, self.speed
        )

    def bypass(self, pressure: Values) -> Values:
        flow: Values = self.bypass_kv * np.sqrt(
            np.maximum(pressure, 0.0) / valve_pressure(1.0, 1.0)
        )
        return flow

    def main(self, flow: Values) -> Values:
        loop, density = self.loop, water.density(self.temperature)
        lines = line_pressure(
            flow, loop.main_length, loop.main_bore, self.temperature, loop.fittings
        )
        kink = minor_loss(flow, loop.main_bore, density, kink_loss(self.kink).likely)
        disconnects = valve_pressure(flow, loop.disconnect_kv, density)
        return lines + kink + loop.disconnect_count * disconnects

    def garment(self, flow: Values) -> Values:
        loop = self.loop
        return line_pressure(
            flow / self.tubes, loop.tube_length, loop.tube_bore, self.temperature, TUBE_ENDS
        )

    def valve(self, flow: Values) -> Values:
        loop = self.loop
        kv = valve_kv(self.opening, loop.valve_kv, loop.valve_law, loop.valve_rangeability)
        return valve_pressure(flow, kv, water.density(self.temperature))


def _operating_point(
    case: _Case, flow: FloatArray, runs: NDArray[np.bool_], pump_turns: NDArray[np.bool_]
) -> LoopFlow:
    # Without flow through the garment a turning pump still feeds a bypass: its pressure is found
    # from the pump's curve against the bypass alone.
    flow = np.where(runs, flow, 0.0)
    main, garment = case.main(flow), case.garment(flow)
    open_pressure = main + garment + case.valve(flow)
    rise = np.where(pump_turns, np.where(runs, open_pressure, _dead_end_pressure(case)), 0.0)
    pump_flow = flow + case.bypass(rise)
    parts = (
        flow,
        pump_flow,
        rise,
        garment,
        main,
        rise - main - garment,
        hydraulic_power(rise, pump_flow),
    )
    return LoopFlow(*(plain(np.asarray(part)) for part in parts))


def _dead_end_pressure(case: _Case) -> FloatArray:
    stall = case.pump(0.0)
    return root_of_falling(
        lambda pressure: np.asarray(case.pump(case.bypass(pressure)) - pressure), 0.0, stall
    )


def flow_table(
    loop: WaterLoop, valve_opening: Values, temperatures: FloatArray, **faults: Values
) -> FloatArray:
    """Garment flow at several water temperatures, for interpolation.

    Args:
        loop: Fields of shape (), or (members,).
        valve_opening: [1], shape () or (members,).
        temperatures: Of the water [degC], shape (k,).
        **faults: `main_kink`, `open_tubes`, `pump_speed`, `bypass_kv` of `solve_flow`.

    Returns:
        [m3/s], shape (k,) or (members, k).
    """
    column = np.asarray(temperatures, dtype=np.float64)
    members = np.broadcast_shapes(
        *(np.shape(value) for value in (*vars(loop).values(), valve_opening, *faults.values()))
    )
    column = column.reshape(-1, *(1 for _ in members))
    solved = solve_flow(loop, column, valve_opening, **faults)
    return np.moveaxis(np.asarray(solved.flow), 0, -1)


def flow_cubic(
    loop: WaterLoop,
    valve_opening: Values,
    coldest: float = 0.0,
    hottest: float = 40.0,
    **faults: Values,
) -> FloatArray:
    """Cubic in the water's temperature that stands for the garment flow in the kernel.

    Args:
        loop: Fields of shape () or (members,).
        valve_opening: [1], shape () or (members,).
        coldest: Lower end of the fit [degC].
        hottest: Upper end of the fit [degC].
        **faults: As in `flow_table`.

    Returns:
        Coefficients of 1, T, T2, T3 with T in degC, giving [m3/s]; shape (4,) or (4, members).
        At Chebyshev's points, so that the error is spread evenly (below 1 % for laminar tubes).
    """
    angle = np.pi * (np.arange(12) + 0.5) / 12
    temperatures = 0.5 * (coldest + hottest) + 0.5 * (hottest - coldest) * np.cos(angle)
    flows = flow_table(loop, valve_opening, temperatures, **faults)
    # Least squares by the pseudo-inverse, added point by point: a library's matrix product may
    # round a member's answer differently when it has neighbours.
    fit = np.linalg.pinv(np.polynomial.polynomial.polyvander(temperatures, 3))
    parts = [np.multiply.outer(fit[:, point], flows[..., point]) for point in range(len(angle))]
    return np.asarray(sum(parts[1:], parts[0]))
