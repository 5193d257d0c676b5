"""One sequence in plain Python: the oracle of the compiled search, and the teller of each story.

What it all means is written in `neckring.procedure.slips`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from neckring.procedure.model import Condition, State, holds
from neckring.procedure.slips import (
    Deviation,
    Outcome,
    SlipKind,
    early_targets,
    late_targets,
)
from neckring.procedure.steps import Procedure, StepKind


@dataclass(frozen=True)
class Sequence:
    """How a sequence ends.

    Attributes:
        outcome: Harmless, caught, blocked, latent or harm.
        step: Position of the step at which it ends so; None at the end of the procedure.
        rule: Number of the rule that breaks: first the model's rules, then the timed ones.
        spare: Caught or blocked: how long until harm, had nobody noticed [s]; infinite if none.
        happened: How many of its deviations had happened when it ended.
        end: State in which it ends.
    """

    outcome: Outcome
    step: int | None
    rule: int | None
    happened: int
    end: State
    spare: float = math.inf


@dataclass(frozen=True)
class Act:
    """Something done: what `Walk.do` needs to know."""

    step: int
    kind: StepKind
    guard: Condition
    effects: tuple[tuple[int, int], ...]
    high: float
    likely: float
    name: str


class _VoidError(Exception):
    """A deviation cannot happen where it was chosen."""


class _OverError(Exception):
    """A rule is broken, and nothing after that matters."""


class Walk:
    """A procedure gone through, position by position."""

    def __init__(self, procedure: Procedure, deviations: Iterable[Deviation]) -> None:
        self.procedure = procedure
        chosen = tuple(deviations)
        self.slips = {d.position: d for d in chosen if d.kind is not SlipKind.FAILURE}
        self.failures = {d.position: d for d in chosen if d.kind is SlipKind.FAILURE}
        if len(self.slips) + len(self.failures) != len(chosen) or len(self.failures) > 1:
            raise ValueError("one slip at a position, and one failure, is the most there may be")
        self.late, self.early = late_targets(procedure), early_targets(procedure)
        self.state = procedure.model.start
        self.clocks = [0.0] * len(procedure.timed)
        self.due: dict[int, int] = {}
        self.done: set[int] = set()
        self.happened = 0
        # Once noticed, the walk goes on only to tell how long until harm.
        self.noticed: Sequence | None = None
        self.elapsed = 0.0

    def through(self) -> Sequence | None:
        """The whole way; None when a deviation is void."""
        try:
            for position in range(len(self.procedure.steps)):
                self.do_due(position)
                self.do_failure(position)
                self.do_position(position)
            self.do_due(len(self.procedure.steps))
        except _OverError:
            return self.noticed
        except _VoidError:
            return None
        return self.at_the_end()

    def at_the_end(self) -> Sequence:
        """Nothing broke; the outcome is latent until it is held against the nominal end."""
        if self.noticed is None:
            return self.ending(Outcome.LATENT, None, None)
        left = [
            rule.longest - clock
            for rule, clock in zip(self.procedure.timed, self.clocks, strict=True)
            if holds(rule.bad, self.state)
        ]
        return replace(self.noticed, spare=self.elapsed + min(left, default=math.inf))

    def ending(self, outcome: Outcome, step: int | None, rule: int | None) -> Sequence:
        """An ending here and now."""
        return Sequence(outcome, step, rule, self.happened, self.state)

    def do_due(self, position: int) -> None:
        """What is late and due before a position."""
        for step in sorted(step for step, due in self.due.items() if due == position):
            self.do(self.step_act(step))

    def do_failure(self, position: int) -> None:
        """A failure of the kit just before a position."""
        if position not in self.failures:
            return
        action = self.procedure.failures[self.failures[position].argument]
        if not holds(action.guard, self.state):
            self.void()
            return
        self.count()
        self.change(action.effects)
        self.hold_rules(position)

    def do_position(self, position: int) -> None:
        """The step that stands there, with its slip."""
        slip = self.slips.get(position)
        if position in self.done:
            if slip is not None:
                self.void()
            return
        if slip is None:
            self.do(self.step_act(position))
            return
        self.slip(slip)

    def slip(self, slip: Deviation) -> None:
        """A step with its slip."""
        position, argument = slip.position, slip.argument
        act = self.step_act(position)
        early = self.early[position].get(argument) if slip.kind is SlipKind.EARLY else None
        if early in self.done:
            self.void()
            self.do(act)
            return
        self.count()
        match slip.kind:
            case SlipKind.REPEAT:
                self.do(act)
                self.do(act)
            case SlipKind.LATE:
                self.due[position] = self.late[position][argument]
            case SlipKind.EARLY:
                assert early is not None
                self.done.add(early)
                self.do(self.step_act(early))
                self.do(act)
            case SlipKind.OTHER:
                self.do(self.other_act(position, argument))
            case SlipKind.HALF:
                half = self.procedure.steps[position].half
                assert half is not None
                self.do(replace(act, effects=half, name=f"{act.name}, half done"))

    def step_act(self, position: int) -> Act:
        """A step as written."""
        step = self.procedure.steps[position]
        time = step.duration
        return Act(position, step.kind, step.guard, step.effects, time.high, time.likely, step.name)

    def other_act(self, position: int, number: int) -> Act:
        """What is done in its place by mistake."""
        step = self.procedure.steps[position]
        other = step.others[number]
        time = other.duration
        return Act(
            position, step.kind, other.guard, other.effects, time.high, time.likely, other.name
        )

    def do(self, act: Act) -> None:
        """Time passes, then what is done meets its guard, its effects and the rules."""
        self.pass_time(act.step, act.high if self.noticed is None else act.likely)
        if act.kind in (StepKind.MOVE, StepKind.CHECK) and not holds(act.guard, self.state):
            self.notice(Outcome.BLOCKED if act.kind is StepKind.MOVE else Outcome.CAUGHT, act.step)
            return
        if act.kind is StepKind.MOVE:
            self.change(act.effects)
            self.hold_rules(act.step)

    def pass_time(self, step: int, seconds: float) -> None:
        """Clocks of the timed rules."""
        harm_after = math.inf
        for number, rule in enumerate(self.procedure.timed):
            before = self.clocks[number] if holds(rule.bad, self.state) else None
            self.clocks[number] = 0.0 if before is None else before + seconds
            if before is not None and self.clocks[number] > rule.longest:
                if self.noticed is None:
                    self.harm(step, len(self.procedure.model.rules) + number)
                harm_after = min(harm_after, max(rule.longest - before, 0.0))
        if harm_after < math.inf:
            self.elapsed += harm_after
            self.harm(step, None)
        if self.noticed is not None:
            self.elapsed += seconds

    def change(self, effects: tuple[tuple[int, int], ...]) -> None:
        """Effects."""
        changed = list(self.state)
        for variable, value in effects:
            changed[variable] = value
        self.state = tuple(changed)

    def hold_rules(self, step: int) -> None:
        """The rules that must never be broken."""
        for number, rule in enumerate(self.procedure.model.rules):
            if holds(rule.bad, self.state):
                self.harm(step, number)

    def harm(self, step: int, rule: int | None) -> None:
        """A rule breaks: the end, or the end of what nobody noticed."""
        if self.noticed is None:
            self.noticed = self.ending(Outcome.HARM, step, rule)
        else:
            self.noticed = replace(self.noticed, spare=self.elapsed)
        raise _OverError

    def notice(self, outcome: Outcome, step: int) -> None:
        """Somebody notices; from here on the walk only asks how long there would have been."""
        if self.noticed is None:
            self.noticed = self.ending(outcome, step, None)

    def void(self) -> None:
        """A deviation that cannot happen; after somebody noticed it does not matter."""
        if self.noticed is None:
            raise _VoidError

    def count(self) -> None:
        """A deviation happened."""
        if self.noticed is None:
            self.happened += 1


def nominal(procedure: Procedure) -> Sequence:
    """The procedure as written; harmless if it runs to its end."""
    found = Walk(procedure, ()).through()
    assert found is not None
    return judged(found, found.end)


def sequence(procedure: Procedure, deviations: Iterable[Deviation]) -> Sequence | None:
    """A procedure with some deviations; None when one of them is void.

    Raises:
        ValueError: when two slips fall on one position, or there are two failures.
    """
    found = Walk(procedure, deviations).through()
    return None if found is None else judged(found, nominal(procedure).end)


def judged(found: Sequence, nominal_end: State) -> Sequence:
    """The same, harmless rather than latent if it ends as it does when nothing slips."""
    if found.outcome is Outcome.LATENT and found.end == nominal_end:
        return replace(found, outcome=Outcome.HARMLESS)
    return found
