"""What a model says to its author: moves that nothing allows, rules and checks that mean nothing.

None of this is unsafe by itself; each is a place where what was written is probably not what was
meant.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from neckring.procedure.diagrams import Diagrams, StateSet
from neckring.procedure.grounding import GroundKit, ground
from neckring.procedure.listing import Listed
from neckring.procedure.model import (
    Action,
    All,
    Among,
    Condition,
    Not,
    State,
    after,
    holds,
    variables_of,
)
from neckring.procedure.steps import StepKind
from neckring.station.conditions import ConditionText

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class AuthoringFinding:
    """One thing that was probably not meant.

    Attributes:
        in_kit: Whether it stands in the kit's file, not in the procedure's.
        path: Keys and positions in that file.
        words: What is the matter.
        hint: Where to look.
    """

    in_kit: bool
    path: Path
    words: str
    hint: str = ""


def kit_findings(ground: GroundKit, diagrams: Diagrams | None = None) -> Iterator[AuthoringFinding]:
    """What can never be done, broken or seen with a kit, whatever people do.

    Args:
        ground: The kit.
        diagrams: Of its model without discipline; made when it is not given.
    """
    raw = ground.model(disciplined=False)
    diagrams = diagrams or Diagrams(raw)
    actions = (*raw.actions, *ground.halves(), *ground.breakdowns())
    every = diagrams.reached(diagrams.initial, actions)
    yield from _impossible_moves(ground, raw.actions, diagrams, every)
    for code, rule in ground.kit.rules.items():
        if _never(diagrams, every, ground, rule.never):
            yield AuthoringFinding(True, ("rules", code), "this rule can never break")
    for code, sign in ground.kit.signs.items():
        conditions = [ground.condition(sign.when, on) for on in ground.wearers]
        if all(every & diagrams.encode(Not(part)) == diagrams.empty for part in conditions):
            words = "this sign is always there: a check of it cannot fail"
            yield AuthoringFinding(True, ("signs", code), words)
        elif all(every & diagrams.encode(part) == diagrams.empty for part in conditions):
            words = "this sign is never there: a check of it always fails"
            yield AuthoringFinding(True, ("signs", code), words)
    for code, breakdown in ground.kit.breakdowns.items():
        if _never(diagrams, every, ground, breakdown.needs):
            yield AuthoringFinding(True, ("breakdowns", code), "this can never happen")


def _never(diagrams: Diagrams, every: StateSet, ground: GroundKit, text: ConditionText) -> bool:
    conditions = (ground.condition(text, on) for on in ground.wearers)
    return all(every & diagrams.encode(part) == diagrams.empty for part in conditions)


def _impossible_moves(
    ground: GroundKit, actions: tuple[Action, ...], diagrams: Diagrams, every: StateSet
) -> Iterator[AuthoringFinding]:
    possible = set()
    impossible: dict[str, Action] = {}
    for doing, action in zip(ground.doings(), actions, strict=True):
        if every & diagrams.encode(action.guard) != diagrams.empty:
            possible.add(doing.move)
        else:
            impossible.setdefault(doing.move, action)
    for code, action in impossible.items():
        if code not in possible:
            path = ("moves", code, "needs")
            hint = _circle(ground, code, action, impossible)
            yield AuthoringFinding(
                True, path, "no state that can be reached allows this move", hint
            )


def _circle(ground: GroundKit, code: str, action: Action, impossible: dict[str, Action]) -> str:
    """Moves that wait for one another: each must have been done before the other."""
    way, seen = [code], action
    while True:
        nexts = [
            other
            for other, candidate in impossible.items()
            if any(_gives(effect, seen.guard) for effect in candidate.effects)
        ]
        if not nexts:
            return ""
        if nexts[0] in way:
            circle = [*way[way.index(nexts[0]) :], nexts[0]]
            return f"each must be done before the other: {' needs '.join(circle)}"
        way.append(nexts[0])
        seen = impossible[nexts[0]]


def _gives(effect: tuple[int, int], guard: Condition) -> bool:
    """Whether an effect is something that a guard waits for."""
    variable, value = effect
    return any(number == variable and value in values for number, values in _wanted(guard))


def _wanted(guard: Condition) -> Iterator[tuple[int, frozenset[int]]]:
    parts = guard.parts if isinstance(guard, All) else (guard,)
    for part in parts:
        if isinstance(part, Among):
            yield part.variable, part.values


def step_findings(listed: Listed) -> Iterator[AuthoringFinding]:
    """Steps that change nothing or are never reached, and checks that say nothing new."""
    procedure = listed.procedure
    state, checked = procedure.model.start, dict[str, State]()
    for place, step in enumerate(procedure.steps):
        path: Path = ("steps", place)
        if not holds(step.guard, state):
            what = "cannot be done" if step.kind is StepKind.MOVE else "fails"
            words = f"as written, this step {what} here, so that no later step is reached"
            yield AuthoringFinding(False, path, words, unmet_words(listed, step.guard, state))
            return
        if step.kind is StepKind.MOVE:
            there = after(Action(step.name, step.guard, step.effects), state)
            if there == state:
                yield AuthoringFinding(False, path, "this step changes nothing")
            state = there
        elif step.kind is StepKind.CHECK:
            if _same_for(checked.get(step.name), state, step.guard):
                words = "nothing has changed since this was last checked"
                yield AuthoringFinding(False, path, words)
            checked[step.name] = state
    if not holds(procedure.ends, state):
        words = "the procedure does not end as `ends` says"
        yield AuthoringFinding(False, ("ends",), words, unmet_words(listed, procedure.ends, state))


def _same_for(before: State | None, now: State, condition: Condition) -> bool:
    return before is not None and all(before[v] == now[v] for v in variables_of(condition))


def unmet_words(listed: Listed, condition: Condition, state: State) -> str:
    """How the things that a condition speaks of stand."""
    variables = listed.procedure.model.variables
    parts = condition.parts if isinstance(condition, All) else (condition,)
    spoken = sorted({v for part in parts if not holds(part, state) for v in variables_of(part)})
    return "; ".join(f"{variables[v].name} is {variables[v].states[state[v]]}" for v in spoken)


def findings(listed: Listed) -> tuple[AuthoringFinding, ...]:
    """Everything that the author of a procedure should look at."""
    return (*kit_findings(ground(listed.ground.kit)), *step_findings(listed))
