"""Reserve clocks: what has started to run down, how much is left, and since when it is over."""

from __future__ import annotations

from dataclasses import dataclass

from neckring.live.bodies import group_in, number_in
from neckring.live.entries import Deed, Kind, Role
from neckring.live.run_records import ClockNow, RunState
from neckring.live.run_sheet import RunSheet, SheetClock
from neckring.station.console import TURN_BACK

CAUSE = "reserve-clock"
RANK = 3


@dataclass(frozen=True)
class ClockValue:
    """One reserve clock that runs.

    Attributes:
        code: As in station.yaml.
        wearer: A or B.
        words: What it counts.
        started: Run time [s].
        left: Until it is over [s], negative once it is; None when nobody knows how long it lasts.
        stands_on: What says how long: "station.yaml", "live estimate", "plan"; empty for nothing.
    """

    code: str
    wearer: str
    words: str
    started: float
    left: float | None
    stands_on: str

    @property
    def over(self) -> bool:
        """Whether it has run out."""
        return self.left is not None and self.left <= 0.0

    @property
    def alarm(self) -> str:
        """Key of the alarm when it is over: of the clock and of this start of it."""
        return f"{CAUSE}:{self.code}:{self.wearer}:{self.started:.3f}"


def clock_values(state: RunState, sheet: RunSheet, run_time: float) -> tuple[ClockValue, ...]:
    """Every reserve clock that runs, in the order of station.yaml.

    Args:
        state: Now.
        sheet: Of the day.
        run_time: Now [s].
    """
    found = []
    for clock in sheet.clocks:
        now = state.clocks.get((clock.code, clock.wearer))
        if now is not None and now.ended is None:
            ends, stands_on = _ends(clock, now, state, sheet)
            left = None if ends is None else ends - run_time
            found.append(
                ClockValue(clock.code, clock.wearer, clock.words, now.started, left, stands_on)
            )
    return tuple(found)


def _ends(
    clock: SheetClock, now: ClockNow, state: RunState, sheet: RunSheet
) -> tuple[float | None, str]:
    """Run time at which a clock is over [s], and what says so."""
    if clock.lasts.seconds is not None:
        return now.started + clock.lasts.seconds, "station.yaml"
    planned = sheet.planned.get(clock.wearer)
    if clock.lasts.text == TURN_BACK:
        estimated = _estimated_turn_back(state, clock.wearer)
        if estimated is not None:
            return estimated, "live estimate"
        if planned is None or planned.turn_back is None:
            return None, ""
        return _first_dressing(state, sheet) + planned.turn_back, "plan"
    if planned is None or planned.battery is None:
        return None, ""
    return now.started + planned.battery, "plan"


def _estimated_turn_back(state: RunState, wearer: str) -> float | None:
    """The cautious end of the live estimate's turn-back time [s]; None when there is none."""
    estimate = state.estimates.get(wearer)
    return None if estimate is None else number_in(group_in(estimate.body, "turn_back"), "low")


def _first_dressing(state: RunState, sheet: RunSheet) -> float:
    """Run time of the first dressing, from which a plan counts [s]."""
    first = state.progress.get(sheet.order[0])
    return first.begun if first is not None else 0.0


def clock_alarms(state: RunState, sheet: RunSheet, run_time: float) -> tuple[Deed, ...]:
    """What the desk records of clocks: an alarm when one is over, its end when it does not run."""
    over = {value.alarm: value for value in clock_values(state, sheet, run_time) if value.over}
    raised = tuple(
        _raised(value, state.number) for key, value in over.items() if key not in state.alarms
    )
    ended = tuple(
        _deed(Kind.ALARM_ENDED, f"desk:{key}:ended:{state.number}", {"alarm": key})
        for key, alarm in state.alarms.items()
        if alarm.cause == CAUSE and key not in over
    )
    return (*raised, *ended)


def _raised(value: ClockValue, number: int) -> Deed:
    body: dict[str, str | int] = {
        "alarm": value.alarm,
        "rank": RANK,
        "cause": CAUSE,
        "wearer": value.wearer,
        "words": f"Wearer {value.wearer}: the time is over for: {value.words}",
        "first_action": f"Bring wearer {value.wearer} to relief now",
    }
    return _deed(Kind.ALARM_RAISED, f"desk:{value.alarm}:raised:{number}", body)


def _deed(kind: Kind, key: str, body: dict[str, str | int]) -> Deed:
    return Deed(key, kind, "desk", Role.DESK, "desk", dict(body))
