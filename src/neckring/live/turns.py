"""Whose turn it is: the next step of each lane, and for whom a lane waits."""

from __future__ import annotations

from neckring.live.run_records import Done, RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import SheetStep
from neckring.procedure.kit_words import PEOPLE


def next_step(state: RunState, sheet: RunSheet, lane: str) -> SheetStep | None:
    """The step at which a lane stands; None when it has none left, or no procedure runs.

    Args:
        state: Now.
        sheet: Of the day.
        lane: A, B or tender.
    """
    procedure, progress = sheet.procedures.get(state.procedure), state.progress.get(state.procedure)
    if procedure is None or progress is None:
        return None
    steps = (procedure.steps[number - 1] for number in progress.order)
    return next(
        (step for step in steps if lane in step.lanes and not progress.of(step.number).past), None
    )


def not_yet(state: RunState, sheet: RunSheet, step: SheetStep) -> str:
    """Why it is not the turn of a step, in words; empty when it is."""
    for lane in step.lanes:
        standing = next_step(state, sheet, lane)
        if standing is not None and standing.number != step.number:
            who = PEOPLE[lane]
            if _to_confirm(state, standing):
                return f"{standing.called} waits for a second person before {who} goes on"
            return f"the next step for {who} is {standing.called}"
    return ""


def _to_confirm(state: RunState, step: SheetStep) -> bool:
    return state.progress[step.procedure].of(step.number).status is Done.TO_CONFIRM


def steps_left(state: RunState, sheet: RunSheet) -> tuple[SheetStep, ...]:
    """The steps of the present procedure that no lane has gone on from, in order."""
    procedure, progress = sheet.procedures.get(state.procedure), state.progress.get(state.procedure)
    if procedure is None or progress is None:
        return ()
    return tuple(
        procedure.steps[number - 1] for number in progress.order if not progress.of(number).past
    )
