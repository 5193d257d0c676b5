"""One model, data only: things with states, actions, rules. Everything else is made from it.

A plain-Python search, decision diagrams, the compiled search, the text for a public model checker
and the printed list all read this and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias


@dataclass(frozen=True)
class Among:
    """That a variable has one of some values.

    Attributes:
        variable: Its number.
        values: Numbers of the states meant.
    """

    variable: int
    values: frozenset[int]


@dataclass(frozen=True)
class Not:
    """That a condition does not hold."""

    part: Condition


@dataclass(frozen=True)
class All:
    """That all parts hold; of no parts, always."""

    parts: tuple[Condition, ...] = ()


@dataclass(frozen=True)
class AnyOf:
    """That at least one part holds; of no parts, never."""

    parts: tuple[Condition, ...] = ()


Condition: TypeAlias = Among | Not | All | AnyOf
State: TypeAlias = tuple[int, ...]

ALWAYS = All()
NEVER = AnyOf()


@dataclass(frozen=True)
class Variable:
    """A thing and the states it may be in.

    Attributes:
        name: Of the thing, e.g. "A.helmet".
        states: Names of its states.
        start: Number of the state at the start.
    """

    name: str
    states: tuple[str, ...]
    start: int = 0


@dataclass(frozen=True)
class Duration:
    """How long something takes [s]: at least, most likely, at most."""

    low: float = 0.0
    likely: float = 0.0
    high: float = 0.0


NO_TIME = Duration()


@dataclass(frozen=True)
class Action:
    """What may happen.

    Attributes:
        name: Unique in its model.
        guard: When it may.
        effects: Variables and the values they then have, each variable once.
        duration: How long it takes.
    """

    name: str
    guard: Condition
    effects: tuple[tuple[int, int], ...]
    duration: Duration = NO_TIME


@dataclass(frozen=True)
class Rule:
    """What must never hold.

    Attributes:
        name: Unique in its model.
        bad: The condition.
    """

    name: str
    bad: Condition


@dataclass(frozen=True)
class Model:
    """Variables, actions and rules.

    Attributes:
        name: For messages and generated text.
        variables: At least one.
        actions: In a fixed order; a tie between shortest traces is broken by it.
        rules: What must never hold.
    """

    name: str
    variables: tuple[Variable, ...]
    actions: tuple[Action, ...]
    rules: tuple[Rule, ...] = ()

    @property
    def start(self) -> State:
        """State at the start."""
        return tuple(variable.start for variable in self.variables)

    @cached_property
    def numbers(self) -> dict[str, int]:
        """Number of each variable by its name."""
        return {variable.name: number for number, variable in enumerate(self.variables)}

    def among(self, name: str, *states: str) -> Among:
        """That a variable, by name, is in one of some states, by name."""
        number = self.numbers[name]
        known = self.variables[number].states
        return Among(number, frozenset(known.index(state) for state in states))


def holds(condition: Condition, state: Sequence[int]) -> bool:
    """Whether a condition holds in a state."""
    match condition:
        case Among(variable, values):
            return state[variable] in values
        case Not(part):
            return not holds(part, state)
        case All(parts):
            return all(holds(part, state) for part in parts)
        case AnyOf(parts):
            return any(holds(part, state) for part in parts)


def after(action: Action, state: State) -> State:
    """The state that an action leads to."""
    changed = list(state)
    for variable, value in action.effects:
        changed[variable] = value
    return tuple(changed)


def variables_of(condition: Condition) -> frozenset[int]:
    """Numbers of the variables a condition speaks of."""
    match condition:
        case Among(variable, _):
            return frozenset((variable,))
        case Not(part):
            return variables_of(part)
        case All(parts) | AnyOf(parts):
            return frozenset().union(*(variables_of(part) for part in parts))


def mapped(condition: Condition, leaf: Callable[[Among], Condition]) -> Condition:
    """The same condition with each leaf replaced."""
    match condition:
        case Among():
            return leaf(condition)
        case Not(part):
            return Not(mapped(part, leaf))
        case All(parts):
            return All(tuple(mapped(part, leaf) for part in parts))
        case AnyOf(parts):
            return AnyOf(tuple(mapped(part, leaf) for part in parts))


def in_words(model: Model, condition: Condition) -> str:
    """A condition in the words of the expression language."""
    return _worded(model, condition, inside="")


def _worded(model: Model, condition: Condition, inside: str) -> str:
    match condition:
        case Among(number, values):
            variable = model.variables[number]
            names = "|".join(s for n, s in enumerate(variable.states) if n in values)
            return f"{variable.name} is {names}" if names else "never"
        case Not(Among(number, values)):
            variable = model.variables[number]
            names = "|".join(s for n, s in enumerate(variable.states) if n in values)
            return f"{variable.name} is not {names}" if names else "always"
        case Not(part):
            return f"not {_worded(model, part, 'not')}"
        case All(parts) | AnyOf(parts):
            word = "and" if isinstance(condition, All) else "or"
            if not parts:
                return "always" if word == "and" else "never"
            if len(parts) == 1:
                return _worded(model, parts[0], inside)
            joined = f" {word} ".join(_worded(model, part, word) for part in parts)
            return f"({joined})" if inside and inside != word else joined
