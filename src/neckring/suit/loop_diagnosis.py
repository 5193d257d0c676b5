"""Which fault of the water loop shows which signs in flow and pressures."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from neckring.suit.water_loop import LoopFlow, WaterLoop, solve_flow
from neckring.values import Values

SHOWS = 0.03
"""[1], change that a field flow meter or gauge shows (assumed)."""

BYPASS_SHARE = 0.2
"""[1], flow coefficient of the example bypass over the open valve's (assumed)."""

NOTHING_SHOWS = "changes nothing that a gauge would show"


@dataclass(frozen=True)
class LoopSigns:
    """One fault and what the gauges say of it.

    Attributes:
        fault: In words.
        flow: Garment flow over the sound loop's [1].
        pump_flow: Pump flow over the sound loop's [1].
        pump_pressure: Pressure at the pump over the sound loop's [1].
        garment_pressure: Pressure across the garment over the sound loop's [1].
        remark: What to bear in mind.
    """

    fault: str
    flow: float
    pump_flow: float
    pump_pressure: float
    garment_pressure: float
    remark: str

    @property
    def signs(self) -> tuple[int, int, int]:
        """Signs (-1 falls, 0 does not show, 1 rises) of flow, pump and garment pressure."""
        return (sign(self.flow), sign(self.pump_pressure), sign(self.garment_pressure))


def sign(ratio: float) -> int:
    """Whether a ratio to the sound value has visibly fallen (-1), risen (1) or neither (0)."""
    return (ratio > 1.0 + SHOWS) - (ratio < 1.0 - SHOWS)


def diagnose(
    loop: WaterLoop, temperature: float, valve_opening: float = 1.0
) -> tuple[LoopSigns, ...]:
    """Table of faults of this loop and what each does to flow and pressures.

    Args:
        loop: With plain numbers.
        temperature: Of the water [degC].
        valve_opening: Travel of the valve [1], above 0.

    Returns:
        One row a fault, the sound loop first.
    """
    sound = solve_flow(loop, temperature, valve_opening)
    rows = []
    for fault, change, remark in _faults(loop):
        case = solve_flow(loop, temperature, valve_opening, **change)
        rows.append(_compare(fault, case, sound, remark))
    return tuple(rows)


def faults_that_fit(table: Iterable[LoopSigns], signs: tuple[int, int, int]) -> tuple[str, ...]:
    """Name the faults of a table whose signs are those observed.

    Args:
        table: From `diagnose`.
        signs: Observed signs of flow, pump pressure, garment pressure; see `LoopSigns.signs`.

    Returns:
        Faults in the table's order; several can look alike.
    """
    return tuple(row.fault for row in table if row.signs == signs)


def _compare(fault: str, case: LoopFlow, sound: LoopFlow, remark: str) -> LoopSigns:
    row = LoopSigns(
        fault,
        float(case.flow / sound.flow),
        float(case.pump_flow / sound.pump_flow),
        float(case.pump_pressure / sound.pump_pressure),
        float(case.garment_pressure / sound.garment_pressure),
        remark,
    )
    if fault != SOUND and row.signs == (0, 0, 0):
        hidden = f"flow changes by only {100.0 * (row.flow - 1.0):.1f} %, look at the hose itself"
        return replace(row, remark=f"{NOTHING_SHOWS}: {hidden}")
    return row


SOUND = "sound loop"


def _faults(loop: WaterLoop) -> tuple[tuple[str, dict[str, Values], str], ...]:
    tubes = loop.tube_count
    throttled = "flow falls while the pump works harder; the garment sees less pressure"
    shut = "flow hardly falls, garment pressure rises; one zone of the body goes warm"
    return (
        (SOUND, {}, "the reference"),
        ("main kinked to half its area", {"main_kink": 0.5}, throttled),
        ("main kinked to a fifth of its area", {"main_kink": 0.2}, throttled),
        ("main kinked to a tenth of its area", {"main_kink": 0.1}, throttled),
        ("a quarter of the garment tubes shut", {"open_tubes": 0.75 * tubes}, shut),
        ("half of the garment tubes shut", {"open_tubes": 0.5 * tubes}, shut),
        ("pump weak or drawing air", {"pump_speed": 0.7}, "flow and both pressures fall together"),
        (
            "bypass between supply and return",
            {"bypass_kv": BYPASS_SHARE * loop.valve_kv},
            "the pump moves more, the garment gets less",
        ),
    )
