"""What entries about procedures and their steps do to a run's state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from neckring.live.bodies import group_in, text_in, whole_in
from neckring.live.call_folds import calls_begun
from neckring.live.entries import Deed, Entry
from neckring.live.entry_reading import with_item
from neckring.live.run_records import ClockNow, Done, Progress, RunState, StepRecord
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import SheetStep, state_with
from neckring.procedure.model import State, holds


def procedure_begun(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A procedure begins; with the first one the symptom calls do."""
    code = text_in(entry.deed.body, "procedure")
    procedure = sheet.procedures.get(code)
    if procedure is None or code in state.progress:
        return state
    order = tuple(step.number for step in procedure.steps)
    progress = Progress(order, entry.stamp.run_time)
    begun = replace(
        state,
        procedure=code,
        progress=with_item(state.progress, code, progress),
        kit=state_with(state.kit, procedure.begins) if procedure.begins else state.kit,
    )
    return begun if state.progress else calls_begun(begun, entry, sheet)


def procedure_ended(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A procedure ends."""
    code = text_in(entry.deed.body, "procedure")
    progress = state.progress.get(code)
    if progress is None or progress.ended is not None:
        return state
    ended = replace(progress, ended=entry.stamp.run_time)
    return replace(
        state,
        procedure="" if state.procedure == code else state.procedure,
        progress=with_item(state.progress, code, ended),
    )


def _step_of(
    state: RunState, entry: Entry, sheet: RunSheet
) -> tuple[SheetStep, Progress, StepRecord] | None:
    """The step an entry names, its procedure's progress and its own record."""
    code = text_in(entry.deed.body, "procedure")
    procedure, progress = sheet.procedures.get(code), state.progress.get(code)
    step = procedure.step(whole_in(entry.deed.body, "step")) if procedure else None
    return (step, progress, progress.of(step.number)) if step and progress else None


def _recorded(state: RunState, step: SheetStep, progress: Progress, record: StepRecord) -> RunState:
    steps = with_item(progress.steps, step.number, record)
    return replace(
        state,
        progress=with_item(state.progress, step.procedure, replace(progress, steps=steps)),
    )


def step_done(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A step is done, and the kit is as the step leaves it."""
    found = _step_of(state, entry, sheet)
    if found is None or found[2].past or found[2].status is Done.TO_CONFIRM:
        return state
    step, progress, record = found
    recorded = replace(
        record,
        status=Done.TO_CONFIRM if step.two_people else Done.DONE,
        by=entry.deed.actor,
        run_time=entry.stamp.run_time,
        measured=measured_words(entry.deed),
    )
    done = _recorded(state, step, progress, recorded)
    return replace(done, kit=state_with(state.kit, step.exact.effects))


def measured_words(deed: Deed) -> str:
    """What was read from an instrument, in words; empty when nothing was."""
    measured = group_in(deed.body, "measured")
    value, unit = measured.get("value"), measured.get("unit")
    if not isinstance(value, str | int | float) or not isinstance(unit, str):
        return ""
    return f"{value} {unit}".strip()[:60]


def step_confirmed(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A second person has checked it as well."""
    found = _step_of(state, entry, sheet)
    if found is None or found[2].status is not Done.TO_CONFIRM:
        return state
    step, progress, record = found
    people = tuple(dict.fromkeys((*record.confirmed_by, entry.deed.actor)))
    enough = len(people) >= sheet.second_person.people
    status = Done.DONE if enough else Done.TO_CONFIRM
    return _recorded(state, step, progress, replace(record, status=status, confirmed_by=people))


def step_failed(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """The expected sign was not there; the step stays the next one."""
    found = _step_of(state, entry, sheet)
    if found is None or found[2].past:
        return state
    step, progress, record = found
    failed = StepRecord(
        Done.FAILED,
        entry.deed.actor,
        entry.stamp.run_time,
        failures=record.failures + 1,
        what=text_in(entry.deed.body, "what"),
    )
    return _recorded(state, step, progress, failed)


def step_left_out(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A step is left out; the kit stays as it was."""
    found = _step_of(state, entry, sheet)
    if found is None or found[2].past:
        return state
    step, progress, record = found
    left_out = replace(
        record,
        status=Done.LEFT_OUT,
        by=entry.deed.actor,
        run_time=entry.stamp.run_time,
        what=text_in(entry.deed.body, "reason"),
    )
    return _recorded(state, step, progress, left_out)


def step_moved(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A step now stands elsewhere."""
    found = _step_of(state, entry, sheet)
    before = whole_in(entry.deed.body, "before")
    if found is None or before not in found[1].order or before == found[0].number:
        return state
    step, progress, _ = found
    order = order_with(progress.order, step.number, before)
    return replace(
        state, progress=with_item(state.progress, step.procedure, replace(progress, order=order))
    )


def order_with(order: tuple[int, ...], number: int, before: int) -> tuple[int, ...]:
    """An order with one step moved to before another."""
    rest = [each for each in order if each != number]
    rest.insert(rest.index(before), number)
    return tuple(rest)


def clocks_after(
    state: RunState, before: State, entry: Entry, sheet: RunSheet
) -> Mapping[tuple[str, str], ClockNow]:
    """Reserve clocks once the kit has changed: what comes to hold starts them or ends them."""
    clocks, at = dict(state.clocks), entry.stamp.run_time
    for clock in sheet.clocks:
        key = clock.code, clock.wearer
        now = clocks.get(key)
        running = now is not None and now.ended is None
        if running and holds(clock.ends, state.kit):
            assert now is not None
            clocks[key] = replace(now, ended=at)
        elif not running and holds(clock.starts, state.kit) and not holds(clock.starts, before):
            clocks[key] = ClockNow(at)
    return clocks
