"""Before a step is left out or moved: what becomes possible then, asked of the prover.

Two rests of the day are held against each other, as written and as it would be: whether it still
runs, which single slips and breakdowns then do harm or stay unnoticed, and whether every way out
is still there. All from how the kit stands now, as the steps recorded have it.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from neckring.live.consequences import Consequences
from neckring.live.rest_of_day import Rest, rest_of_day, still_to_do, without_step
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.ways_left import lost_way, ways_ready
from neckring.procedure import explicit
from neckring.procedure.findings import Bounds, Verdict
from neckring.procedure.interleaving import STUCK, every_order
from neckring.procedure.listing import states_as_written
from neckring.procedure.model import State
from neckring.procedure.slip_endings import Found, NotRunningError
from neckring.procedure.slip_oracle import Sequence, nominal
from neckring.procedure.slip_search import all_singles
from neckring.procedure.slips import Deviation, Outcome, SlipKind
from neckring.procedure.steps import StepKind

MOST_REMEMBERED = 64
ORDERS = Bounds(states=300_000)
# Decision diagrams are not made for several threads.
_ONE_AT_A_TIME = threading.Lock()


def what_becomes_possible(
    sheet: RunSheet, state: RunState, step: int, before: int | None = None
) -> Consequences:
    """Ask the prover what becomes possible.

    Args:
        sheet: Of the day.
        state: Now; a procedure runs.
        step: Printed number of a step of it that is still to be done.
        before: Number of the step it would precede; None when it would be left out.
    """
    numbers = still_to_do(state, state.procedure)
    with _ONE_AT_A_TIME:
        return _asked(sheet, state.kit, numbers, state.procedure, step, before)


def make_ready(sheet: RunSheet) -> None:
    """Do beforehand what the first question would wait for."""
    with _ONE_AT_A_TIME:
        ways_ready(sheet)
        first = sheet.order[0]
        numbers = tuple(step.number for step in sheet.procedures[first].steps)
        _judged(sheet, sheet.start, numbers, first)


@lru_cache(maxsize=MOST_REMEMBERED)
def _asked(
    sheet: RunSheet,
    kit: State,
    numbers: tuple[int, ...],
    procedure: str,
    step: int,
    before: int | None,
) -> Consequences:
    written = _judged(sheet, kit, numbers, procedure)
    otherwise = _judged(sheet, kit, without_step(numbers, step, before), procedure)
    return _compared(written, otherwise)


@dataclass(frozen=True, eq=False)
class _Judged:
    """A rest of the day and what its slips do.

    Attributes:
        rest: The whole of it.
        ending: How it ends when nobody slips.
        runs: The part of it that runs.
        orders: What some order of the lanes of the present procedure leads to; empty for nothing.
        found: Every slip and breakdown in that part that does harm or stays unnoticed.
        states: After each step of that part, by the step's place in the day.
    """

    rest: Rest
    ending: Sequence
    runs: Rest
    orders: str
    found: Mapping[tuple[SlipKind, int, int], Found]
    states: Mapping[int, State]


@lru_cache(maxsize=8)
def _judged(sheet: RunSheet, kit: State, numbers: tuple[int, ...], procedure: str) -> _Judged:
    rest = rest_of_day(sheet, kit, numbers, procedure)
    ending = nominal(rest.exact)
    runs = rest if ending.step is None else rest.upto(ending.step)
    try:
        singles = all_singles(runs.exact)
    except NotRunningError:
        singles = ()
    found = {
        runs.key(each.deviation): each
        for each in singles
        if each.outcome in (Outcome.HARM, Outcome.LATENT)
    }
    after = states_as_written(runs.exact)[1:]
    states = {step.number: state for step, state in zip(runs.exact.steps, after, strict=True)}
    orders = _in_some_order(rest.upto(len(numbers))) if ending.step is None else ""
    return _Judged(rest, ending, runs, orders, found, states)


def _in_some_order(rest: Rest) -> str:
    """A rule that some order of the lanes breaks, or where it gets stuck; empty for neither."""
    model = every_order(rest.exact)
    proof = explicit.prove(model, ORDERS)
    if proof.verdict is Verdict.NOT_DECIDED:
        return f"not decided, {proof.bound}."
    if proof.broken is None:
        return ""
    rule = model.rules[proof.broken.rule].name
    words = STUCK if rule == STUCK else rest.sheet.words.rule(rule)
    return f"{words}, after {len(proof.broken.trace)} acts."


def _compared(written: _Judged, otherwise: _Judged) -> Consequences:
    worse = [
        each
        for key, each in otherwise.found.items()
        if each.outcome is Outcome.HARM and not _is(written, key, Outcome.HARM)
    ]
    breaks, stops = _endings(written, otherwise)
    # Cut short, much is unlike the end of the whole day.
    whole = written.ending.step is None and otherwise.ending.step is None
    latent = sum(
        each.deviation.kind is not SlipKind.FAILURE
        and each.outcome is Outcome.LATENT
        and not _is(written, key, Outcome.HARM, Outcome.LATENT)
        for key, each in otherwise.found.items()
    )
    soonest = min(worse, key=_how_soon) if worse else None
    unsure = "" if whole else "What slips do beyond where the rest stops was not asked."
    return Consequences(
        breaks,
        otherwise.orders if otherwise.orders != written.orders else "",
        stops,
        len(worse),
        latent if whole else 0,
        _slip_words(otherwise.runs, soonest) if soonest else "",
        lost_way(written.rest.sheet, written.states, otherwise.states, otherwise.rest),
        unsure,
    )


def _is(judged: _Judged, key: tuple[SlipKind, int, int], *outcomes: Outcome) -> bool:
    return key in judged.found and judged.found[key].outcome in outcomes


def _how_soon(found: Found) -> tuple[int, int]:
    step = found.step if found.step is not None else found.deviation.position
    return step - found.deviation.position, found.deviation.position


def _endings(written: _Judged, otherwise: _Judged) -> tuple[str, str]:
    """What breaks, and where it stops, when nobody slips."""
    ending, rest = otherwise.ending, otherwise.rest
    if ending.step is None:
        return "", ""
    step = rest.steps[ending.step]
    where = f"step {step.number} of {step.procedure} ({step.words})"
    if ending.outcome is Outcome.HARM:
        assert ending.rule is not None
        rule = rest.sheet.words.rule(rest.exact.rule_names[ending.rule])
        return f"at {where}: {rule}.", ""
    done = "cannot be done" if step.kind is StepKind.MOVE else "does not find its sign"
    already = written.ending.step is not None
    same = already and written.rest.number(written.ending.step or 0) == rest.number(ending.step)
    said = f"{where[:1].upper()}{where[1:]} then {done}."
    return "", f"As things stand already, {where} {done}." if same else said


def _slip_words(rest: Rest, found: Found) -> str:
    """A slip and the harm it does, in the kit's words."""
    assert found.rule is not None
    assert found.step is not None
    slip = _done_wrongly(rest, found.deviation)
    at = rest.steps[found.step]
    rule = rest.sheet.words.rule(rest.exact.rule_names[found.rule])
    return f"{slip}; then, at step {at.number} of {at.procedure} ({at.words}): {rule}."


def _done_wrongly(rest: Rest, deviation: Deviation) -> str:
    position, argument = deviation.position, deviation.argument
    step, exact = rest.steps[position], rest.exact.steps[position]
    named = f"step {step.number} of {step.procedure} ({step.words})"
    words = rest.sheet.words
    match deviation.kind:
        case SlipKind.OMIT:
            return f"{named} left out"
        case SlipKind.REPEAT:
            return f"{named} done twice"
        case SlipKind.LATE:
            due = rest.late[position][argument]
            later = rest.steps[due - 1]
            return f"{named} done only after step {later.number} of {later.procedure}"
        case SlipKind.EARLY:
            early = rest.steps[rest.early[position][argument]]
            return f"{early.called} of {early.procedure} done before {named}"
        case SlipKind.OTHER:
            return f"in place of {named}: {words.act(exact.others[argument].name)}"
        case SlipKind.HALF:
            return f"{named} only half done"
        case SlipKind.FAILURE:
            return f"just before {named}: {words.act(rest.exact.failures[argument].name)}"
