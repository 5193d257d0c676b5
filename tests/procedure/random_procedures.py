"""Random procedures that run as written, from a source of random numbers that hypothesis may be."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import strategies as st

from neckring.procedure.model import (
    ALWAYS,
    Action,
    All,
    Among,
    AnyOf,
    Condition,
    Duration,
    Model,
    Not,
    Rule,
    Variable,
    holds,
)
from neckring.procedure.steps import Procedure, Step, StepKind, TimedRule

SHORT = 12


@st.composite
def procedures(draw: st.DrawFn) -> Procedure:
    """Procedures of a few steps; most of them run as written."""
    return random_procedure(draw(st.randoms(use_true_random=False)), draw(st.integers(1, SHORT)))


class Writer:
    """Writes a procedure step by step, knowing the state it comes to."""

    def __init__(self, source: random.Random, variables: int) -> None:
        self.source = source
        self.sizes = [source.choice((2, 2, 3)) for _ in range(variables)]
        self.state = [0] * variables
        self.states = [tuple(self.state)]

    def variable(self) -> int:
        return self.source.randrange(len(self.sizes))

    def true_leaf(self) -> Among:
        """A leaf that holds now."""
        variable = self.variable()
        values = {self.state[variable]}
        if self.source.random() < 0.3:
            values.add(self.source.randrange(self.sizes[variable]))
        return Among(variable, frozenset(values))

    def guard(self, variable: int) -> Condition:
        """A guard that holds now."""
        before = Among(variable, frozenset((self.state[variable],)))
        return self.source.choice(
            (
                ALWAYS,
                before,
                All((before, self.true_leaf())),
                AnyOf((self.true_leaf(), Not(self.true_leaf()))),
            )
        )

    def duration(self) -> Duration:
        seconds = self.source.randint(0, 9)
        return Duration(seconds, seconds + 1, seconds + 3)

    def other(self, name: str) -> Action:
        """Something done by mistake."""
        variable = self.variable()
        effects = ((variable, self.source.randrange(self.sizes[variable])),)
        guard = self.source.choice((ALWAYS, self.true_leaf()))
        return Action(name, guard, effects, self.duration())

    def step(self, number: int) -> Step:
        """One step of any kind that can be done now."""
        lane, kind = self.source.randrange(2), self.source.random()
        if kind < 0.05:
            return Step(number, lane, StepKind.SAY, "say", duration=self.duration())
        if kind < 0.1:
            return Step(number, -1, StepKind.MEET, "meet", meets=frozenset((0, 1)))
        if kind < 0.4:
            look = self.true_leaf()
            others = (Action("other look", self.true_leaf(), (), self.duration()),)
            chosen = others[: self.source.randrange(2)]
            check, time = StepKind.CHECK, self.duration()
            return Step(number, lane, check, "look", look, others=chosen, duration=time)
        variable = self.variable()
        value = (self.state[variable] + 1) % self.sizes[variable]
        move = Step(number, lane, StepKind.MOVE, "do", self.guard(variable), ((variable, value),))
        half = ((variable, self.state[variable]),) if self.source.random() < 0.2 else None
        others = tuple(self.other(f"other {n}") for n in range(self.source.randrange(3)))
        self.state[variable] = value
        self.states.append(tuple(self.state))
        return replace(move, half=half, others=others, duration=self.duration())


def random_procedure(source: random.Random, length: int, variables: int = 6) -> Procedure:
    """A procedure of so many steps; only a timed rule can keep it from running as written."""
    writer = Writer(source, variables)
    steps = tuple(writer.step(number) for number in range(1, length + 1))
    rules = tuple(
        Rule(f"rule {n}", All(tuple(writer.true_leaf() for _ in range(2)))) for n in range(2)
    ) + tuple(Rule(f"rare {n}", rare(writer)) for n in range(3))
    kept = tuple(r for r in rules if not any(holds(r.bad, state) for state in writer.states))
    timed = TimedRule(
        "timed", Among(writer.variable(), frozenset((1,))), float(source.choice((20, 60, 400)))
    )
    failure = Action("fails", writer.true_leaf(), ((writer.variable(), 0),))
    things = tuple(Variable(f"v{n}", tuple("abc"[:size])) for n, size in enumerate(writer.sizes))
    model = Model("random", things, (), kept)
    return Procedure(model, (timed,), ("A", "B"), steps, (failure,))


def rare(writer: Writer) -> Condition:
    """A condition on three things."""
    chosen = writer.source.sample(range(len(writer.sizes)), 3)
    return All(
        tuple(Among(v, frozenset((writer.source.randrange(writer.sizes[v]),))) for v in chosen)
    )
