"""Small random models, from a seed or from hypothesis, built by one and the same hand."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import TypeAlias

from hypothesis import strategies as st

from neckring.procedure.model import (
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
)

# A whole number between two, both included.
Draw: TypeAlias = Callable[[int, int], int]


def random_model(seed: int) -> Model:
    """The model of a seed: 4 to 8 variables, 5 to 12 actions, 1 to 3 rules."""
    return built(random.Random(seed).randint, f"random {seed}")


@st.composite
def models(draw: st.DrawFn) -> Model:
    """Models as hypothesis draws and shrinks them."""
    return built(lambda low, high: draw(st.integers(low, high)), "random")


def built(draw: Draw, name: str) -> Model:
    """A model all of whose choices are drawn."""
    sizes = [(2, 2, 2, 3, 3, 4)[draw(0, 5)] for _ in range(draw(4, 8))]
    variables = tuple(
        Variable(f"thing{n}", tuple(f"s{value}" for value in range(size)), draw(0, size - 1))
        for n, size in enumerate(sizes)
    )
    actions = tuple(drawn_action(draw, variables, n) for n in range(draw(5, 12)))
    rules = tuple(Rule(f"rule {n}", drawn_rule(draw, sizes)) for n in range(draw(1, 3)))
    return Model(name, variables, actions, rules)


def drawn_action(draw: Draw, variables: tuple[Variable, ...], number: int) -> Action:
    """An action that moves one thing on in its turn, and up to two more anyhow.

    Taking the things in turn lets most of them leave their start and come back to it.
    """
    sizes = [len(variable.states) for variable in variables]
    turn, first = divmod(number, len(variables))
    changed = {draw(0, len(sizes) - 1) for _ in range(draw(0, 2))} - {first}
    effects = [(variable, draw(0, sizes[variable] - 1)) for variable in sorted(changed)]
    effects.append((first, (variables[first].start + 1 + turn) % sizes[first]))
    seconds = float(draw(1, 9))
    guard = drawn_guard(draw, sizes)
    return Action(
        f"action {number}", guard, tuple(effects), Duration(seconds, seconds, seconds + 0.5)
    )


def drawn_guard(draw: Draw, sizes: list[int]) -> Condition:
    """Leaves joined in each of the ways that conditions can be joined."""
    leaves = tuple(drawn_leaf(draw, sizes) for _ in range(draw(0, 2)))
    match draw(0, 5):
        case 0:
            return AnyOf((drawn_leaf(draw, sizes), *leaves))
        case 1:
            return Not(All((drawn_leaf(draw, sizes), *leaves)))
        case 2:
            return All((drawn_leaf(draw, sizes), AnyOf((*leaves, Not(drawn_leaf(draw, sizes))))))
        case 3:
            return AnyOf(leaves)
        case _:
            return All(leaves)


def drawn_leaf(draw: Draw, sizes: list[int]) -> Among:
    """That a variable has one of some of its values; now and then of none, or of all."""
    variable = draw(0, len(sizes) - 1)
    size = sizes[variable]
    chosen = {draw(0, size - 1) for _ in range((2, 1, 3, 2, 4, 3, 2, 3, 2, 0)[draw(0, 9)])}
    return Among(variable, frozenset(chosen))


def drawn_rule(draw: Draw, sizes: list[int]) -> Condition:
    """A rule that few states break: several variables each at one value."""
    picked = {draw(0, len(sizes) - 1) for _ in range(draw(4, len(sizes) + 2))}
    parts = tuple(Among(v, frozenset((draw(0, sizes[v] - 1),))) for v in sorted(picked))
    return All(parts)
