"""The compiled search: equal to the oracle in every figure and trace; bounds; wide states."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))

from known_problems import farmer, hanoi, jugs, philosophers
from random_models import models, random_model

from neckring.procedure import explicit, reference
from neckring.procedure.explicit_kernel import evaluate
from neckring.procedure.findings import Bounds, Verdict
from neckring.procedure.model import (
    ALWAYS,
    NEVER,
    Action,
    All,
    Among,
    AnyOf,
    Model,
    Not,
    Rule,
    Variable,
    holds,
)
from neckring.procedure.packed_tables import tables
from neckring.procedure.packing import layout


def widened(model: Model, copies: int) -> Model:
    """The same model, its variables spread over two words by idle ones that could change.

    Their actions are last and never possible, so every figure and trace stays the same.
    """
    idle = tuple(Variable(f"idle {n}", tuple("abcdefgh")) for n in range(copies))
    # Fuller fields are placed first, so the idle ones push the others up.
    first = len(model.variables)
    actions = tuple(
        Action(f"idle {n} to {value}", NEVER, ((first + n, value),))
        for n in range(copies)
        for value in range(1, 8)
    )
    return replace(model, variables=(*model.variables, *idle), actions=(*model.actions, *actions))


@given(model=models())
def test_the_compiled_search_says_all_that_the_oracle_says(model):
    # given any model / when both prove it / then every figure and trace is equal
    assert explicit.prove(model) == reference.prove(model)


@given(model=models())
def test_states_of_two_words_are_searched_alike(model):
    # given any model, pushed into the second word by idle variables
    wide = widened(model, 22)
    assert layout(wide).words == 2

    # when both prove it / then every figure and trace is equal
    assert explicit.prove(wide) == reference.prove(model)


@given(model=models(), states=st.integers(1, 40), layers=st.integers(0, 6))
def test_bounds_are_hit_where_the_oracle_hits_them(model, states, layers):
    # given any model and tight bounds / when both prove it / then they say the same
    bounds = Bounds(states, layers)
    assert explicit.prove(model, bounds) == reference.prove(model, bounds)


@pytest.mark.parametrize(
    "model", [farmer(), hanoi(6), jugs(), philosophers(5)], ids=lambda model: model.name
)
def test_known_problems(model):
    # given a problem whose states are counted in `known_problems` / when both prove it / then equal
    assert explicit.prove(model) == reference.prove(model)


@pytest.mark.parametrize("seed", range(12))
def test_mutants_get_the_same_verdict(seed):
    # given a model, one guard of which is removed, for each of its actions
    model = random_model(seed)
    for number, action in enumerate(model.actions):
        open_to_all = replace(action, guard=ALWAYS)
        actions = (*model.actions[:number], open_to_all, *model.actions[number + 1 :])
        mutant = replace(model, actions=actions)

        # when both prove it / then every figure and trace is equal
        assert explicit.prove(mutant) == reference.prove(mutant)


def test_a_state_that_does_not_fit_is_not_decided():
    # given more than two words of things that change
    things = tuple(Variable(f"thing {n}", ("off", "on")) for n in range(200))
    actions = tuple(Action(f"act {n}", ALWAYS, ((n, 1),)) for n in range(200))

    # when it is proved / then it is not decided, and says why
    proof = explicit.prove(Model("wide", things, actions))
    assert proof.verdict is Verdict.NOT_DECIDED
    assert "200 bits" in proof.bound


def test_many_states_make_the_set_and_the_queue_grow():
    # given seventeen switches, each on or off at will, and one more that stays
    things = tuple(Variable(f"thing {n}", ("off", "on")) for n in range(18))
    actions = tuple(
        Action(f"thing {n} to {value}", Among(n, frozenset((1 - value,))), ((n, value),))
        for n in range(17)
        for value in (0, 1)
    )

    # when it is searched / then there are 2^17 states, 17 ways on from each, the farthest 17 away
    proof = explicit.prove(Model("switches", things, actions))
    assert (proof.states, proof.transitions, proof.depth) == (2**17, 17 * 2**17, 17)
    assert proof.verdict is Verdict.PROVED


def test_more_than_a_word_of_actions_and_of_rules():
    # given a counter with a step for each of its values, and a rule for each, only the last broken
    most = 150
    thing = Variable("counter", tuple(map(str, range(most + 1))))
    actions = tuple(
        Action(f"from {n}", Among(0, frozenset((n,))), ((0, n + 1),)) for n in range(most)
    )
    never = tuple(Rule(f"never {n}", NEVER) for n in range(most))
    model = Model("counter", (thing,), actions, (*never, Rule("end", Among(0, frozenset((most,))))))

    # when it is proved / then the last rule breaks after all actions in their order
    proof = explicit.prove(model)
    assert proof.broken is not None
    assert (proof.broken.rule, proof.broken.trace) == (most, tuple(range(most)))


def test_a_disjunction_of_many_conjunctions_does_not_explode():
    # given a guard that would be 3^20 conjunctions if it were multiplied out
    things = tuple(Variable(f"thing {n}", tuple("abcd")) for n in range(60))
    changes = tuple(
        Action(f"thing {n} to {v}", NEVER, ((n, v),)) for n in range(60) for v in range(1, 4)
    )
    clauses = tuple(
        AnyOf(tuple(Among(n + 20 * k, frozenset((0,))) for k in range(3))) for n in range(20)
    )
    start = Action("all", All(clauses), ((0, 1),))

    # when it is packed / then a bit for each part is enough
    model = Model("clauses", things, (start, *changes))
    packed = tables(model, layout(model), [All(clauses)])
    assert packed.members.shape[0] <= 20
    assert packed.rows.shape[1] <= 2
    assert explicit.prove(model).states == 2


@given(model=models(), data=st.data())
def test_packed_conditions_hold_in_the_states_in_which_conditions_hold(model, data):
    # given a model's guards, some of them nested deeper
    guards = [action.guard for action in model.actions]
    nested = [
        *guards,
        Not(All((guards[0], AnyOf((Not(guards[1]), guards[2]))))),
        AnyOf((All((guards[3], Not(guards[4]))), All((guards[1], guards[2])))),
    ]
    place = layout(model)
    state = tuple(data.draw(st.sampled_from(part.values)) for part in place.fields)

    # when a state is packed and unpacked / then it is the same
    first, second = place.packed(state)
    assert place.unpacked(first, second) == state

    # and each bit says what its condition says
    packed = tables(model, place, nested)
    bits = np.zeros((64, packed.rows.shape[1]), np.uint64)
    queue = np.array([first, second][: place.words], np.uint64)
    evaluate(
        queue,
        place.words,
        0,
        1,
        packed.first_groups,
        packed.shift,
        packed.mask,
        packed.base,
        packed.rows,
        packed.members,
        packed.kept,
        bits,
    )
    for number, condition in enumerate(nested):
        assert bool(int(bits[0, number // 64]) >> (number % 64) & 1) == holds(condition, state)
