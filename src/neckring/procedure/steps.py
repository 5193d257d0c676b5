"""A procedure made exact: its steps in the order written, on the model of its kit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from neckring.procedure.model import ALWAYS, NO_TIME, Action, Condition, Duration, Model


class StepKind(StrEnum):
    """What a step is."""

    MOVE = "move"
    CHECK = "check"
    MEET = "meet"
    SAY = "say"


class CheckKind(StrEnum):
    """How a check is made, which says how often it is made in vain."""

    MEASURED = "measured"
    OWN_SAFETY = "own safety"
    WITH_LIST = "with list"
    WITHOUT_LIST = "without list"
    SECOND_PERSON = "second person"


@dataclass(frozen=True)
class Step:
    """One step.

    Attributes:
        number: As printed, from 1.
        lane: Number of the lane whose person does it; -1 for a meeting of several.
        kind: What it is.
        name: Of the action, the sign looked for, or the words.
        guard: A move: what must physically hold. A check: what must be seen. Else always.
        effects: Variables and the values they then have; none unless it is a move.
        half: What a move not fully done leaves; None where it cannot be half done.
        others: What may be done in its place by mistake: moves, or checks without effects, of the
            same kind on another object.
        duration: How long it takes.
        check: How a check is made.
        meets: Lanes that wait for one another here.
    """

    number: int
    lane: int
    kind: StepKind
    name: str
    guard: Condition = ALWAYS
    effects: tuple[tuple[int, int], ...] = ()
    half: tuple[tuple[int, int], ...] | None = None
    others: tuple[Action, ...] = ()
    duration: Duration = NO_TIME
    check: CheckKind = CheckKind.WITH_LIST
    meets: frozenset[int] = frozenset()


@dataclass(frozen=True)
class TimedRule:
    """What must not hold for longer than some time on end.

    Attributes:
        name: Unique among all rules.
        bad: The condition.
        longest: How long it may hold [s].
    """

    name: str
    bad: Condition
    longest: float


@dataclass(frozen=True)
class Procedure:
    """A procedure on its kit.

    Attributes:
        model: The kit: variables (with the state in which this procedure starts), every action
            that anybody may do, and the rules that must never be broken.
        timed: Rules with a time.
        lanes: Who acts, by lane.
        steps: In the order written.
        failures: What the kit may do by itself, each at most once.
        ends: What must hold at the end.
    """

    model: Model
    timed: tuple[TimedRule, ...]
    lanes: tuple[str, ...]
    steps: tuple[Step, ...]
    failures: tuple[Action, ...] = ()
    ends: Condition = ALWAYS

    @cached_property
    def rule_names(self) -> tuple[str, ...]:
        """Names of all rules: those of the model, then those with a time."""
        return (*(r.name for r in self.model.rules), *(r.name for r in self.timed))

    @cached_property
    def following(self) -> tuple[tuple[int, ...], ...]:
        """For each position the moves and checks of its lane that come after it."""
        lanes: dict[int, list[int]] = {}
        found: list[tuple[int, ...]] = [()] * len(self.steps)
        for position in range(len(self.steps) - 1, -1, -1):
            step = self.steps[position]
            if step.kind in (StepKind.MOVE, StepKind.CHECK):
                later = lanes.setdefault(step.lane, [])
                found[position] = tuple(later)
                later.insert(0, position)
        return tuple(found)
