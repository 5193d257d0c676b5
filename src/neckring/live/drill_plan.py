"""What a drill is compared with: the plan's help clock, and the kit's fresh air through the run."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from neckring.live.drill import Fresh, HelpTime
from neckring.live.entries import Entry
from neckring.live.kit_says import kit_says
from neckring.live.run_sheet import RunSheet
from neckring.live.run_state import first_state, fold
from neckring.outing.failures import FAILURES
from neckring.outing.help_clock import Spot, help_clock, noticing
from neckring.outing.scenario import Scenario
from neckring.outing.watching import AIR, HEAT

STANDS_FOR = {
    "main_kinked": "main-kinked",
    "branch_kinked": "branch-kinked",
    "pump_weak": "weak-pump",
    "fan_weak": "weak-fans",
    "battery_weak": "cold-battery",
    "no-answer": "down-unheard",
}
"""Fault to the plan's failure whose help it needs."""


def help_time(scenario: Scenario, fault: str, number: int, share: float) -> HelpTime | None:
    """What the help clock says of a fault.

    Args:
        scenario: Of the wearer, as written.
        fault: Code in the catalogue.
        number: Of the spell in which it began.
        share: How much of that spell was done, 0..1.

    Returns:
        None for what no plan knows.
    """
    code = STANDS_FOR.get(fault, fault)
    failure = next((one for one in FAILURES if one.code == code), None)
    if failure is None:
        return None
    clocks = help_clock(scenario, failure, Spot(scenario.run.outing[number], share))
    times = scenario.suit.help_times
    longest = times.notice_air if failure.stops_air else times.notice
    more = float(noticing(scenario, failure)[0]) - longest.nominal
    return HelpTime(code, longest.high + more, _finite(clocks[AIR]), _finite(clocks[HEAT]))


def _finite(clock: np.typing.NDArray[np.float64]) -> float | None:
    value = float(clock[0])
    return value if np.isfinite(value) else None


def fresh_air(entries: Iterable[Entry], sheet: RunSheet) -> tuple[Fresh, ...]:
    """How each wearer's face stood through a run: where it changes, in order.

    Air that only the pack's fans give does not count: a stopped fan would take it away.

    Args:
        entries: All of the log book.
        sheet: Of the day.
    """
    state, last, found = first_state(sheet), dict[str, bool](), list[Fresh]()
    for entry in entries:
        before, state = state.kit, fold(state, entry, sheet)
        if state.kit is before and last:
            continue
        for letter in sheet.letters:
            says = kit_says(sheet.ground, state.kit, letter)
            free = says.without_fans or not says.inside
            if last.get(letter) != free:
                last[letter] = free
                found.append(Fresh(letter, entry.stamp.run_time, entry.number, free))
    return tuple(found)


def suits_of(scenarios: Mapping[str, Scenario]) -> dict[str, str]:
    """Wearer to the code of the suit."""
    return {letter: scenario.suit.code for letter, scenario in scenarios.items()}
