"""Symptom calls: whose is due, who has not answered in time, and what the desk records of it."""

from __future__ import annotations

from dataclasses import dataclass

from neckring.live.entries import Deed, Kind, Role
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet


@dataclass(frozen=True)
class CallDue:
    """The present call of one wearer.

    Attributes:
        wearer: A or B.
        number: Of the call.
        left: Until it is due [s]; negative since it is.
        late: Whether it counts as missed.
        missed: How many in a row were missed before it.
        questions: What is asked, word for word.
    """

    wearer: str
    number: int
    left: float
    late: bool
    missed: int
    questions: tuple[str, ...]


def calls_due(state: RunState, sheet: RunSheet, run_time: float) -> tuple[CallDue, ...]:
    """The present call of every wearer who is called; during a hold and a stop as ever.

    Args:
        state: Now.
        sheet: Of the day.
        run_time: Now [s].
    """
    if sheet.calls is None or state.closed is not None:
        return ()
    late_after = sheet.calls.late_after.nominal
    return tuple(
        CallDue(
            letter,
            call.number,
            call.due - run_time,
            run_time >= call.due + late_after,
            call.missed,
            sheet.calls.questions,
        )
        for letter, call in sorted(state.calls.items())
        if letter not in state.released
    )


def missed_calls(state: RunState, sheet: RunSheet, run_time: float) -> tuple[Deed, ...]:
    """What the desk records of calls that nobody answered in time.

    The key names wearer and call, so that a call is missed once however often it is asked for.
    """
    return tuple(
        Deed(
            f"desk:call:{due.wearer}:{due.number}",
            Kind.CALL_MISSED,
            "desk",
            Role.DESK,
            "desk",
            {"wearer": due.wearer, "call": due.number},
        )
        for due in calls_due(state, sheet, run_time)
        if due.late
    )
