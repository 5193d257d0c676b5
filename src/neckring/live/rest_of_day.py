"""What is still to be done today, as one exact procedure that begins in the present state."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from neckring.live.run_records import Done, RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import SheetStep
from neckring.live.step_folds import order_with
from neckring.procedure.grounding import TENDER, WEARERS
from neckring.procedure.model import State
from neckring.procedure.slips import Deviation, SlipKind, early_targets, late_targets
from neckring.procedure.steps import Procedure, Step, StepKind

LANES = (*WEARERS, TENDER)
Key = tuple[SlipKind, int, int]


@dataclass(frozen=True, eq=False)
class Rest:
    """The rest of the day.

    Attributes:
        sheet: Of the day.
        steps: What is still to be done, in the order in which it is.
        exact: The same made exact; the number of each step is its place in the day, so that a step
            keeps it whatever is left out or moved.
    """

    sheet: RunSheet
    steps: tuple[SheetStep, ...]
    exact: Procedure

    @cached_property
    def late(self) -> tuple[dict[int, int], ...]:
        """As in `slips`."""
        return late_targets(self.exact)

    @cached_property
    def early(self) -> tuple[dict[int, int], ...]:
        """As in `slips`."""
        return early_targets(self.exact)

    def number(self, position: int) -> int:
        """Place in the day of the step at a position; beyond the last one 0."""
        steps = self.exact.steps
        return steps[position].number if position < len(steps) else 0

    def key(self, deviation: Deviation) -> Key:
        """What makes two deviations the same, in this rest and in one with other steps."""
        position, kind = deviation.position, deviation.kind
        other = deviation.argument
        if kind is SlipKind.LATE:
            other = self.number(self.late[position][deviation.argument])
        elif kind is SlipKind.EARLY:
            other = self.number(self.early[position][deviation.argument])
        return kind, self.number(position), other

    def upto(self, position: int) -> Rest:
        """Only what comes before a position."""
        exact = replace(self.exact, steps=self.exact.steps[:position])
        return Rest(self.sheet, self.steps[:position], exact)


def rest_of_day(
    sheet: RunSheet,
    kit: State,
    numbers: tuple[int, ...],
    procedure: str,
) -> Rest:
    """What is still to be done.

    Args:
        sheet: Of the day.
        kit: How it stands.
        numbers: Printed numbers of the steps of the present procedure that are still to be done.
        procedure: Code of the present one.
    """
    steps = tuple(_steps(sheet, numbers, procedure))
    present = sheet.procedures[procedure].listed.procedure
    variables = tuple(
        replace(variable, start=value)
        for variable, value in zip(present.model.variables, kit, strict=True)
    )
    exact = Procedure(
        replace(present.model, name="rest of the day", variables=variables),
        present.timed,
        LANES,
        tuple(_exact(sheet, step) for step in steps),
        present.failures,
    )
    return Rest(sheet, steps, exact)


def still_to_do(state: RunState, procedure: str) -> tuple[int, ...]:
    """Printed numbers of the steps of a procedure that are still to be done, in order."""
    progress = state.progress[procedure]
    return tuple(
        number
        for number in progress.order
        if progress.of(number).status in (Done.OPEN, Done.FAILED)
    )


def without_step(numbers: tuple[int, ...], step: int, before: int | None) -> tuple[int, ...]:
    """Steps still to be done with one left out, or moved to before another."""
    if before is None:
        return tuple(number for number in numbers if number != step)
    return order_with(numbers, step, before)


def _steps(sheet: RunSheet, numbers: tuple[int, ...], procedure: str) -> Iterator[SheetStep]:
    yield from (sheet.procedures[procedure].steps[number - 1] for number in numbers)
    for code in sheet.order[sheet.order.index(procedure) + 1 :]:
        later = sheet.procedures[code]
        if later.begins:
            # Something is arranged anew there that no step does.
            return
        yield from later.steps


def _exact(sheet: RunSheet, step: SheetStep) -> Step:
    exact = step.exact
    met = exact.kind is StepKind.MEET
    return replace(
        exact,
        number=day_number(sheet, step),
        lane=-1 if met else LANES.index(step.who),
        meets=frozenset(LANES.index(lane) for lane in step.lanes) if met else frozenset(),
    )


def day_number(sheet: RunSheet, step: SheetStep) -> int:
    """Place of a step in the whole day, from 1."""
    before = sheet.order[: sheet.order.index(step.procedure)]
    return sum(len(sheet.procedures[code].steps) for code in before) + step.number
