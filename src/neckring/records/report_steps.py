"""Steps against the kit's times, who was late at meetings, who waited closed in. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from neckring.live.entries import Entry, Kind
from neckring.live.run_records import Done, Progress, RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import SheetProcedure, SheetStep
from neckring.procedure.model import variables_of
from neckring.procedure.steps import StepKind
from neckring.records.report_course_records import Stretch
from neckring.records.report_step_records import MeetingFact, ProcedureFact, StepFact, WaitFact
from neckring.records.report_walk import KitAt, KitReader, stretches, total, within, without


def held_stretches(entries: Iterable[Entry], until: float) -> tuple[Stretch, ...]:
    """When the run was held or stopped.

    Args:
        entries: All of the log book.
        until: End of the run [s].
    """
    found, since = [], None
    for entry in entries:
        at = entry.stamp.run_time
        if entry.deed.kind in (Kind.HOLD, Kind.STOP) and since is None:
            since = at
        elif entry.deed.kind is Kind.RESUME and since is not None:
            found.append(Stretch(since, at))
            since = None
    if since is not None:
        found.append(Stretch(since, until))
    return tuple(found)


def procedure_facts(
    state: RunState, sheet: RunSheet, held: Sequence[Stretch]
) -> tuple[ProcedureFact, ...]:
    """Every procedure of the day with its steps.

    Args:
        state: Of the run at its end.
        sheet: Of the day.
        held: When the run was held or stopped.
    """
    return tuple(
        _procedure(procedure, state.progress.get(code), held, state.run_time)
        for code, procedure in sheet.procedures.items()
    )


def _procedure(
    procedure: SheetProcedure, progress: Progress | None, held: Sequence[Stretch], until: float
) -> ProcedureFact:
    if progress is None:
        steps = tuple(_not_done(step, Done.OPEN.value) for step in procedure.steps)
        return ProcedureFact(procedure.code, procedure.title, None, None, 0.0, steps)
    ended = until if progress.ended is None else progress.ended
    return ProcedureFact(
        procedure.code,
        procedure.title,
        progress.begun,
        progress.ended,
        total(within(held, [Stretch(progress.begun, ended)])),
        _steps(procedure, progress, held),
    )


def _steps(
    procedure: SheetProcedure, progress: Progress, held: Sequence[Stretch]
) -> tuple[StepFact, ...]:
    """Steps in the order written.

    Each begins when its people had done what came before, and the kit stood as the step needs it.
    """
    free = dict.fromkeys(procedure.lanes, progress.begun)
    changed: dict[int, float] = {}
    found: dict[int, StepFact] = {}
    for step in sorted(procedure.steps, key=lambda one: progress.of(one.number).run_time):
        record = progress.of(step.number)
        if record.status not in (Done.DONE, Done.TO_CONFIRM):
            found[step.number] = _not_done(step, record.status.value, record.failures, record.by)
            continue
        waits_for = [free.get(lane, progress.begun) for lane in step.lanes]
        waits_for += [changed.get(each, progress.begun) for each in variables_of(step.exact.guard)]
        begun = max(waits_for, default=progress.begun)
        done = record.run_time
        free |= dict.fromkeys(step.lanes, done)
        changed |= {variable: done for variable, _ in step.exact.effects}
        found[step.number] = _fact(
            step,
            status=record.status.value,
            begun=begun,
            done=done,
            took=total(without([Stretch(begun, done)], held)),
            by=record.by,
            confirmed_by=record.confirmed_by,
            measured=record.measured,
            failures=record.failures,
        )
    return tuple(found[step.number] for step in procedure.steps)


def _not_done(step: SheetStep, status: str, failures: int = 0, by: str = "") -> StepFact:
    return _fact(step, status=status, failures=failures, by=by)


def _fact(
    step: SheetStep,
    *,
    status: str,
    begun: float | None = None,
    done: float | None = None,
    took: float | None = None,
    by: str = "",
    confirmed_by: tuple[str, ...] = (),
    measured: str = "",
    failures: int = 0,
) -> StepFact:
    lasts = step.exact.duration
    return StepFact(
        step.procedure,
        step.number,
        step.words,
        step.lanes,
        step.on,
        step.kind is StepKind.MEET,
        status,
        begun,
        done,
        took,
        lasts.low,
        lasts.likely,
        lasts.high,
        by,
        confirmed_by,
        measured,
        failures,
    )


def meeting_facts(procedures: Iterable[ProcedureFact]) -> tuple[MeetingFact, ...]:
    """Who came when to each meeting, in order of time."""
    found = [meeting for procedure in procedures for meeting in _meetings(procedure)]
    return tuple(sorted(found, key=lambda one: one.at))


def _meetings(procedure: ProcedureFact) -> Iterator[MeetingFact]:
    free: dict[str, float] = {}
    begun = procedure.begun or 0.0
    for step in _in_time(procedure.steps):
        assert step.done is not None
        if step.meeting:
            arrived = {lane: free.get(lane, begun) for lane in step.lanes}
            last = max(arrived, key=lambda lane: arrived[lane])
            yield MeetingFact(step.procedure, step.number, step.done, arrived, last)
        free |= dict.fromkeys(step.lanes, step.done)


def _in_time(steps: Iterable[StepFact]) -> list[StepFact]:
    return sorted((each for each in steps if each.done is not None), key=lambda one: one.done or 0)


def wait_facts(
    procedures: Sequence[ProcedureFact],
    walk: Sequence[KitAt],
    reader: KitReader,
    letters: Iterable[str],
    until: float,
    held: Sequence[Stretch],
) -> tuple[WaitFact, ...]:
    """How long each wearer waited in procedures while no step was theirs.

    Args:
        procedures: Of the day.
        walk: The kit through the run.
        reader: Of its states.
        letters: Of the wearers.
        until: End of the run [s].
        held: When the run was held or stopped; that is no waiting.
    """
    return tuple(
        _waited(
            letter,
            procedures,
            stretches(walk, until, lambda state, who=letter: reader.of(state, who).closed),  # type: ignore[misc]
            until,
            held,
        )
        for letter in letters
    )


def _waited(
    letter: str,
    procedures: Sequence[ProcedureFact],
    closed: Sequence[Stretch],
    until: float,
    held: Sequence[Stretch],
) -> WaitFact:
    inside = [
        Stretch(each.begun, until if each.ended is None else each.ended)
        for each in procedures
        if each.begun is not None
    ]
    own = [
        Stretch(step.begun, step.done)
        for procedure in procedures
        for step in procedure.steps
        if not step.meeting and letter in (*step.lanes, step.on)
        if step.begun is not None and step.done is not None
    ]
    waited = without(without(inside, own), held)
    shut = within(waited, closed)
    return WaitFact(letter, total(waited), total(shut), shut)


def late_steps(procedures: Iterable[ProcedureFact]) -> tuple[StepFact, ...]:
    """Steps that took longer than the most of the kit, the latest first."""
    late = [step for procedure in procedures for step in procedure.steps if step.late > 0.0]
    return tuple(sorted(late, key=lambda step: -step.late))


def late_people(procedures: Iterable[ProcedureFact]) -> Mapping[str, float]:
    """Person to how much longer than the most of the kit their steps took together [s]."""
    found: dict[str, float] = {}
    for step in late_steps(procedures):
        for lane in step.lanes:
            found[lane] = found.get(lane, 0.0) + step.late
    return found
