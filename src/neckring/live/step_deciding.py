"""Whether a deed about a procedure or a step may be taken now, and why not."""

from __future__ import annotations

from collections.abc import Iterator

from neckring.live.bodies import group_in, text_in, whole_in
from neckring.live.entries import Deed, Role, Stamp
from neckring.live.rest_of_day import still_to_do, without_step
from neckring.live.run_records import Done, RunState, StepRecord
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import SheetStep, state_with
from neckring.live.turns import not_yet, steps_left
from neckring.procedure.model import All, Among, Condition, Not, State, holds, variables_of
from neckring.procedure.steps import StepKind
from neckring.station.fault import listed
from neckring.units import QuantityError

MOST_NAMED = 3


def accepted(deed: Deed) -> bool:
    """Whether the lead says explicitly, and why, that it counts all the same."""
    return (
        deed.role is Role.LEAD
        and deed.body.get("accepts") is True
        and bool(text_in(deed.body, "reason").strip())
    )


HOW_TO_ACCEPT = "Only the lead can accept it all the same, with a reason."


def why_not_begun(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    """A procedure begins: the next one, from where it was proved."""
    code = text_in(deed.body, "procedure")
    if code not in sheet.procedures:
        return f"{code} is no procedure of today: {listed(sheet.order)}"
    if code in state.progress:
        return f"{code} has begun already"
    if state.procedure:
        return f"{state.procedure} still runs"
    if held := _held_words(state):
        return held
    left = [each for each in sheet.order if each not in state.progress]
    if code != left[0]:
        return f"the next procedure is {left[0]}"
    procedure = sheet.procedures[code]
    begins = state_with(state.kit, procedure.begins)
    unlike = list(_unlike(sheet, procedure.listed.procedure.model.start, begins))
    if unlike and not accepted(deed):
        return (
            f"{code} was proved from another state. As the steps recorded have it, "
            f"{'; '.join(unlike[:MOST_NAMED])}. {HOW_TO_ACCEPT}"
        )
    return ""


def _unlike(sheet: RunSheet, proved: State, now: State) -> Iterator[str]:
    for number, (right, is_now) in enumerate(zip(proved, now, strict=True)):
        if right != is_now:
            thing = sheet.words.thing(number)
            states = sheet.words.state(number, is_now), sheet.words.state(number, right)
            yield f"{thing} is {states[0]}, not {states[1]}"


def why_not_ended(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    """A procedure ends: all of it done, and the kit as it says."""
    code = text_in(deed.body, "procedure")
    if code != state.procedure:
        return f"{code} does not run now"
    left = steps_left(state, sheet)
    if left and not accepted(deed):
        count = "1 step is" if len(left) == 1 else f"{len(left)} steps are"
        return f"{count} still to be done, first {left[0].called}. {HOW_TO_ACCEPT}"
    ends = sheet.procedures[code].ends
    if not holds(ends, state.kit) and not accepted(deed):
        return f"it does not end as it says: {_in_the_way(sheet, ends, state.kit)}. {HOW_TO_ACCEPT}"
    return ""


def _held_words(state: RunState) -> str:
    if state.stops:
        return f"the run is stopped by {state.stops[0].by}; the lead has to resume it first"
    if state.hold:
        return f"the run is held by {state.hold.by}; the lead has to resume it first"
    return ""


def _step_of(
    state: RunState, sheet: RunSheet, deed: Deed, key: str = "step"
) -> tuple[SheetStep, StepRecord] | str:
    """The step that is meant and what is known of it; or why there is none."""
    code, number = text_in(deed.body, "procedure"), whole_in(deed.body, key)
    if code not in sheet.procedures:
        return f"{code} is no procedure of today: {listed(sheet.order)}"
    if code != state.procedure:
        over = code in state.progress
        return f"{code} {'is over' if over else 'has not begun'}"
    step = sheet.procedures[code].step(number)
    if step is None:
        return f"{code} has no step {number}"
    return step, state.progress[code].of(number)


def why_not_done(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    """A step is done: in its turn, as far as the run goes on, with what it measures."""
    found = _step_of(state, sheet, deed)
    if isinstance(found, str):
        return found
    step, record = found
    return (
        _past(step, record)
        or _stopped(state, step)
        or not_yet(state, sheet, step)
        or _measured(step, deed)
        or _against_the_kit(state, sheet, step, deed)
    )


def _past(step: SheetStep, record: StepRecord) -> str:
    if record.status is Done.TO_CONFIRM:
        return f"{step.called} is done already, by {record.by}, and waits for a second person"
    if record.past:
        return f"{step.called} is {record.status.value} already, by {record.by}"
    return ""


def _stopped(state: RunState, step: SheetStep) -> str:
    """After a stop only what brings relief or changes nothing; in a hold no step at all."""
    people = {step.who, step.on, *step.lanes}
    if state.stopped & people and not step.when_stopped:
        return f"{_held_words(state)}. A step that brings relief, cards, calls and notes go on"
    if state.hold and not state.stops:
        return f"{_held_words(state)}. Cards, calls and notes go on"
    return ""


def _measured(step: SheetStep, deed: Deed) -> str:
    measured = deed.body.get("measured")
    if step.reads is None:
        return "" if measured is None else f"{step.called} reads no instrument"
    if measured is None:
        return f"what was read is missing, value and unit; it must be {step.reads.text}"
    value = _value(step, deed)
    return value if isinstance(value, str) else ""


def failed_reading(state: RunState, sheet: RunSheet, deed: Deed) -> str:
    """What an instrument showed that it must not, in words; empty when it may be shown."""
    found = _step_of(state, sheet, deed)
    if isinstance(found, str) or found[0].reads is None or "measured" not in deed.body:
        return ""
    step = found[0]
    value = _value(step, deed)
    return value if isinstance(value, str) and _is_figure(step, deed) else ""


def _is_figure(step: SheetStep, deed: Deed) -> bool:
    assert step.reads is not None
    try:
        step.reads.read(*_shown(deed))
    except QuantityError:
        return False
    return True


def _shown(deed: Deed) -> tuple[float | int | str, str]:
    measured = group_in(deed.body, "measured")
    value = measured.get("value")
    figure = value if isinstance(value, int | float | str) else ""
    return figure, text_in(measured, "unit")


def _value(step: SheetStep, deed: Deed) -> float | str:
    """What was read [SI]; or why it is none, or does not pass."""
    assert step.reads is not None
    figure, unit = _shown(deed)
    try:
        value = step.reads.read(figure, unit)
    except QuantityError as refused:
        hint = f"; {refused.hint}" if refused.hint else ""
        return f'"{figure} {unit}" is not {step.reads.text}, nor in its unit{hint}'
    if step.reads.passes(value):
        return value
    then = f" {step.if_not}" if step.if_not else ""
    return f"{figure} {unit} is not {step.reads.text}: {step.called} has failed.{then}"


def _against_the_kit(state: RunState, sheet: RunSheet, step: SheetStep, deed: Deed) -> str:
    """What the steps recorded so far do not allow, unless the lead accepts it."""
    if accepted(deed):
        return ""
    guard = step.exact.guard
    if step.kind in (StepKind.MOVE, StepKind.CHECK) and not holds(guard, state.kit):
        way = _in_the_way(sheet, guard, state.kit)
        return f"as the steps recorded have it, {step.called} cannot be: {way}. {HOW_TO_ACCEPT}"
    after = state_with(state.kit, step.exact.effects)
    for rule in sheet.procedures[step.procedure].listed.procedure.model.rules:
        if holds(rule.bad, after) and not holds(rule.bad, state.kit):
            return f"a rule would break: {sheet.words.rule(rule.name)}. {HOW_TO_ACCEPT}"
    return ""


def _in_the_way(sheet: RunSheet, condition: Condition, kit: State) -> str:
    """What stands otherwise than a condition wants it, in words."""
    named = dict.fromkeys(_failing(condition, kit))
    words = [f"{sheet.words.thing(n)} is {sheet.words.state(n, kit[n])}" for n in named]
    return "; ".join(words[:MOST_NAMED]) or "the kit does not stand so"


def _failing(condition: Condition, kit: State) -> Iterator[int]:
    match condition:
        case Among(variable, _) if not holds(condition, kit):
            yield variable
        case Not(Among(variable, _)) if not holds(condition, kit):
            yield variable
        case All(parts):
            for part in parts:
                yield from _failing(part, kit)
        case _:
            for variable in sorted(variables_of(condition)) if not holds(condition, kit) else ():
                yield variable


def why_not_confirmed(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    """A second person has looked: another one than who did it."""
    found = _step_of(state, sheet, deed)
    if isinstance(found, str):
        return found
    step, record = found
    roles = sheet.second_person.roles
    if not step.two_people:
        return f"{step.called} needs no second person"
    if record.status is not Done.TO_CONFIRM:
        done = "is done already" if record.past else "is not done yet"
        return f"{step.called} {done}"
    if deed.role.value not in roles:
        return f"the second person is {listed(roles)}, not {deed.role.value}"
    if deed.actor == record.by:
        return f"{deed.actor} recorded it as done; the second look is another person's"
    if deed.actor in record.confirmed_by:
        return f"{deed.actor} has looked already; another person is needed"
    if state.hold and not state.stops:
        return _held_words(state)
    return ""


def why_not_failed(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    """The sign was not there: of the step whose turn it is, or that a second person looks at."""
    found = _step_of(state, sheet, deed)
    if isinstance(found, str):
        return found
    step, record = found
    if record.status is Done.TO_CONFIRM:
        return ""
    return _past(step, record) or not_yet(state, sheet, step)


def why_not_left_out(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    """A step is left out: by the lead, who has seen what becomes possible."""
    found = _step_of(state, sheet, deed)
    if isinstance(found, str):
        return found
    return _past(*found) or _unseen(state, sheet, deed, found[0], None)


def why_not_moved(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    """A step is moved: by the lead, who has seen what becomes possible."""
    found, before = _step_of(state, sheet, deed), _step_of(state, sheet, deed, "before")
    if isinstance(found, str):
        return found
    if isinstance(before, str):
        return before
    if past := _past(*found) or _past(*before):
        return past
    numbers = still_to_do(state, state.procedure)
    step, other = found[0].number, before[0].number
    if step == other or without_step(numbers, step, other) == numbers:
        return f"{found[0].called} stands before {before[0].called} already"
    return _unseen(state, sheet, deed, found[0], other)


def _unseen(
    state: RunState, sheet: RunSheet, deed: Deed, step: SheetStep, before: int | None
) -> str:
    """Why it was not seen what becomes possible, or is not accepted; empty when all is well."""
    from neckring.live.deviation import what_becomes_possible

    possible = what_becomes_possible(sheet, state, step.number, before)
    if text_in(deed.body, "shown") != possible.shown:
        return f"what becomes possible has changed since it was shown: {possible.shown}"
    if possible.grave and not accepted(deed):
        return f"{possible.shown} {HOW_TO_ACCEPT}"
    return ""
