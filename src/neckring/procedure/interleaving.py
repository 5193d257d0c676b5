"""A procedure in every order that its lanes allow, as one model of its own.

Each lane's place in its list is a variable beside the things of the kit; a meeting moves several
lanes at once. Slips are further actions that use up a budget: to leave out, to repeat, to take the
wrong object, to do half, and to hold a step back until later in the same lane. Every engine that
proves a kit so proves a procedure in all its orders.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from neckring.procedure.grounding import simplified
from neckring.procedure.model import (
    Action,
    All,
    Among,
    AnyOf,
    Condition,
    Model,
    Not,
    Rule,
    Variable,
    mapped,
)
from neckring.procedure.steps import Procedure, Step, StepKind

Effects = tuple[tuple[int, int], ...]
STUCK = "nobody can go on"


def every_order(procedure: Procedure, slips: int = 0, breakdowns: int = 0) -> Model:
    """The procedure in every order that its lanes and meetings allow.

    Args:
        procedure: Steps of one lane keep their order; a meeting waits for its lanes.
        slips: How many slips are made at most.
        breakdowns: How often the kit fails at most.

    Returns:
        The model of the kit with lanes and budgets. Without slips and breakdowns it has one rule
        more: somebody can always go on until all lanes are at their ends.
    """
    return _Orders(procedure, slips, breakdowns).model()


@dataclass(frozen=True)
class _Orders:
    procedure: Procedure
    slips: int
    breakdowns: int

    @property
    def first(self) -> int:
        """Number of the first lane's variable."""
        return len(self.procedure.model.variables)

    def lists(self) -> list[list[Step]]:
        """What each lane does, meetings among it; what is only told decides nothing."""
        acting = [step for step in self.procedure.steps if step.kind is not StepKind.SAY]
        return [
            [step for step in acting if step.lane == lane or lane in step.meets]
            for lane in range(len(self.procedure.lanes))
        ]

    def model(self) -> Model:
        kit, lists = self.procedure.model, self.lists()
        actions = tuple(self._actions(lists))
        rules = kit.rules
        if not self.slips and not self.breakdowns:
            rules = (*rules, self._stuck(lists, actions))
        name = f"{kit.name}, every order, {self.slips} slips, {self.breakdowns} breakdowns"
        variables = (*kit.variables, *self._variables(lists))
        return Model(name, variables, actions, rules)

    def _variables(self, lists: list[list[Step]]) -> Iterator[Variable]:
        for lane, steps in zip(self.procedure.lanes, lists, strict=True):
            places = (*(f"before_{step.number}" for step in steps), "done")
            yield Variable(f"place_of_{lane}", places)
        if self.slips:
            for lane, steps in zip(self.procedure.lanes, lists, strict=True):
                held = tuple(f"holds_{s.number}" for s in steps if s.kind is not StepKind.MEET)
                yield Variable(f"held_back_by_{lane}", ("nothing", *held))
            yield _budget("slips_made", self.slips)
        if self.breakdowns:
            yield _budget("breakdowns_seen", self.breakdowns)

    def _actions(self, lists: list[list[Step]]) -> Iterator[Action]:
        met = set()
        for lane, steps in enumerate(lists):
            for place, step in enumerate(steps):
                if step.kind is not StepKind.MEET:
                    yield from self._step(lane, place, step)
                elif step.number not in met:
                    met.add(step.number)
                    yield self._meeting(step, lists)
        yield from self._held_back(lists)
        if self.breakdowns:
            number = self.first + len(lists) * (2 if self.slips else 1) + bool(self.slips)
            for spent in range(self.breakdowns):
                for action in self.procedure.failures:
                    yield _spending(action, number, spent)

    def _step(self, lane: int, place: int, step: Step) -> Iterator[Action]:
        cursor = self.first + lane
        here = Among(cursor, frozenset((place,)))
        on = ((cursor, place + 1),)
        right = Action(f"{step.number}: {step.name}", step.guard, step.effects, step.duration)
        yield _at(right, here, on)
        if not self.slips:
            return
        lanes = len(self.procedure.lanes)
        budget = self.first + 2 * lanes
        for spent in range(self.slips):
            for slip in _slips(step):
                yield _spending(_at(slip, here, on), budget, spent)
            if step.kind is not StepKind.MEET:
                yield _spending(self._hold_back(lane, step, here, on), budget, spent)

    def _hold_back(self, lane: int, step: Step, here: Condition, on: Effects) -> Action:
        held = self.first + len(self.procedure.lanes) + lane
        empty = Among(held, frozenset((0,)))
        number = self._held_number(lane, step)
        return Action(f"{step.number} held back", All((here, empty)), (*on, (held, number)))

    def _held_number(self, lane: int, step: Step) -> int:
        steps = [s for s in self.lists()[lane] if s.kind is not StepKind.MEET]
        return 1 + steps.index(step)

    def _held_back(self, lists: list[list[Step]]) -> Iterator[Action]:
        """Doing at last what was held back."""
        if not self.slips:
            return
        for lane, steps in enumerate(lists):
            held = self.first + len(lists) + lane
            for step in steps:
                if step.kind is not StepKind.MEET:
                    mine = Among(held, frozenset((self._held_number(lane, step),)))
                    guard = simplified(All((mine, step.guard)))
                    yield Action(
                        f"{step.number} at last", guard, (*step.effects, (held, 0)), step.duration
                    )

    def _meeting(self, step: Step, lists: list[list[Step]]) -> Action:
        places = {lane: lists[lane].index(step) for lane in sorted(step.meets)}
        guard = All(tuple(Among(self.first + n, frozenset((p,))) for n, p in places.items()))
        effects = tuple((self.first + n, p + 1) for n, p in places.items())
        return Action(f"{step.number}: meet", guard, effects)

    def _stuck(self, lists: list[list[Step]], actions: tuple[Action, ...]) -> Rule:
        ends = All(tuple(Among(self.first + n, frozenset((len(s),))) for n, s in enumerate(lists)))
        can = AnyOf(tuple(action.guard for action in actions))
        return Rule(STUCK, simplified(All((Not(ends), Not(can)))))


def _budget(name: str, most: int) -> Variable:
    return Variable(name, tuple(str(spent) for spent in range(most + 1)))


def _at(action: Action, here: Condition, on: Effects) -> Action:
    guard = simplified(All((here, action.guard)))
    return replace(action, guard=guard, effects=(*action.effects, *on))


def _spending(action: Action, number: int, spent: int) -> Action:
    """The same action, taken from a budget of which so much is spent."""
    left = Among(number, frozenset((spent,)))
    guard = simplified(All((action.guard, left)))
    name = f"{action.name} ({spent + 1})"
    return replace(action, name=name, guard=guard, effects=(*action.effects, (number, spent + 1)))


def _slips(step: Step) -> Iterator[Action]:
    """What may be done in place of a step."""
    yield Action(f"{step.number} left out", All(), ())
    if step.kind is StepKind.MOVE:
        # Done twice: the second time it must still be possible, else somebody notices.
        again = _guard_after(step)
        yield Action(f"{step.number} repeated", again, step.effects, step.duration)
        if step.half is not None:
            yield Action(f"{step.number} half done", step.guard, step.half, step.duration)
    for other in step.others:
        yield replace(other, name=f"{step.number} wrong: {other.name}")


def _guard_after(step: Step) -> Condition:
    """When a step can be done twice running."""
    values = dict(step.effects)

    def settled(leaf: Among) -> Condition:
        if leaf.variable not in values:
            return leaf
        return All() if values[leaf.variable] in leaf.values else AnyOf()

    return simplified(All((step.guard, mapped(step.guard, settled))))
